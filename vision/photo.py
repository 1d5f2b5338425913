"""A photograph as it comes from the camera, read into upright sRGB pixels; or refused, with why."""

from __future__ import annotations

import hashlib
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_profile import Levels, ProfileUnreadable, named_to_srgb, rounded, to_srgb
from vision.errors import PhotoUnreadable
from vision.flags import PhotoFlag
from vision.heic_file import is_heic, read_heic
from vision.photo_header import read_header
from vision.photo_pixels import FilePixels, file_pixels, halvings
from vision.raw_file import is_raw, read_raw
from vision.settings import VisionSettings


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A photograph, upright and in sRGB.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, the camera's turn applied, locked.
    file : str
        Name of the file, without its folder.
    sha256 : str
        Of the file's bytes, hexadecimal.
    full_width_px, full_height_px : int
        Upright size of the picture in the file.
    reduction : float
        Full pixels to one pixel of ``rgb`` along each axis; 1 if not reduced.
    taken_at : str or None
        Date and time in the EXIF block, ISO 8601 without zone.
    focal_35mm : float or None
        Focal length in mm, as if on 36 mm x 24 mm film, from the EXIF block.
    flags : tuple of PhotoFlag
    original : bytes
        The file.
    is_linear : bool
        The tone is exactly the curve of sRGB over the camera's own light: true of camera raw only,
        where no maker's contrast has been laid on it. Level as in `vision.raw_file`.
    """

    rgb: NDArray[np.uint8]
    file: str
    sha256: str
    full_width_px: int
    full_height_px: int
    reduction: float
    taken_at: str | None
    focal_35mm: float | None
    flags: tuple[PhotoFlag, ...]
    original: bytes
    is_linear: bool = False

    def __post_init__(self) -> None:
        self.rgb.setflags(write=False)


def read_photo(path: Path, *, settings: VisionSettings, least_long_px: int | None = None) -> Photo:
    """Return a photograph: JPEG, PNG, TIFF, WebP, AVIF, HEIC or camera raw, in colour.

    The camera's turn (EXIF orientation) is applied once. A colour profile other than sRGB is
    converted (relative colorimetric); one that cannot be read is flagged and sRGB assumed.

    Parameters
    ----------
    path : Path
    settings : VisionSettings
        For the largest picture that is opened.
    least_long_px : int or None
        A JPEG or camera raw is halved on opening, which is soon done, while its long side stays
        this long. None opens it as it is, up to the working size.

    Raises
    ------
    PhotoUnreadable
        If the file is missing, empty, cut short, damaged, of another kind, too large, too small,
        grey, in ink colours, or partly transparent.
    """
    written = _written(path)
    data = _file_bytes(path)
    same = path if written is not None and written == _written(path) else None
    with warnings.catch_warnings():
        # Pillow warns of faults in headers that are either harmless or refused here in words.
        warnings.simplefilter("ignore")
        opened = _opened(data, path.name, same, settings=settings, least_long_px=least_long_px)
        if written != _written(path):  # overwritten meanwhile: what was read first counts
            opened = _opened(data, path.name, None, settings=settings, least_long_px=least_long_px)
    header = opened.header
    height, width = opened.rgb.shape[:2]
    if header.kind in {"JPEG", "RAW"}:  # may be opened smaller than they are
        width, height = header.upright_size
    rgb, reduction = _reduced(opened.rgb, width)
    flags: tuple[PhotoFlag, ...] = ()
    if header.profile is not None:
        try:
            rgb = to_srgb(rgb, header.profile)
        except ProfileUnreadable:
            flags = (PhotoFlag.PROFILE_UNREADABLE,)
    elif header.named is not None:
        rgb = named_to_srgb(rgb, header.named)
    return Photo(
        rgb=np.ascontiguousarray(rounded(rgb)),
        file=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        full_width_px=width,
        full_height_px=height,
        reduction=reduction,
        taken_at=header.taken_at,
        focal_35mm=header.focal_35mm,
        flags=flags,
        original=data,
        is_linear=opened.is_linear,
    )


def _opened(
    data: bytes,
    name: str,
    path: Path | None,
    *,
    settings: VisionSettings,
    least_long_px: int | None,
) -> FilePixels:
    if is_heic(data):
        return read_heic(data, settings=settings)
    if is_raw(data, name):
        return read_raw(data, settings=settings, least_long_px=least_long_px)
    header = read_header(data, settings=settings)
    least_long_px = least_long_px or max(header.upright_size)
    return FilePixels(file_pixels(data, header, least_long_px, path=path), header)


def _written(path: Path) -> tuple[int, int] | None:
    """Return when a file was last written and how long it is; None if it is not there."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


def _file_bytes(path: Path) -> bytes:
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise PhotoUnreadable(
            f"There is no file {path}. A photograph is needed there. Check name and folder."
        ) from None
    except IsADirectoryError:
        raise PhotoUnreadable(
            f"{path} is a folder; a photograph is needed. Name the file itself."
        ) from None
    except PermissionError:
        raise PhotoUnreadable(
            f"The file {path.name} may not be opened by this user; leave to read it is needed. "
            "Change its permissions, or copy it to a folder of your own."
        ) from None
    except OSError as error:
        raise PhotoUnreadable(
            f"The file {path.name} could not be read from its disk ({error.strerror or error}). "
            "Check that card, disk or share is connected, and copy the file again."
        ) from error
    if not data:
        raise PhotoUnreadable(
            "The file is empty (0 bytes); a whole photograph is needed. Copy it from the camera "
            "again."
        )
    return data


def _reduced(rgb: Levels, full_width: int) -> tuple[Levels, float]:
    """Return the picture at no more than working size, and the reduction."""
    count = halvings(rgb.shape[0] * rgb.shape[1])
    if count:
        rows, columns = (side >> count for side in rgb.shape[:2])
        whole = rgb[: rows << count, : columns << count]
        small: Any = cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA)
        rgb = small
    ratio = full_width / rgb.shape[1]
    return rgb, float(2 ** round(np.log2(ratio)))
