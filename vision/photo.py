"""A photograph as it comes from the camera, read into upright sRGB pixels; or refused, with why."""

from __future__ import annotations

import hashlib
import io
import struct
import warnings
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from vision.colour_profile import ProfileUnreadable, adobe_to_srgb, to_srgb
from vision.errors import PhotoUnreadable
from vision.flags import PhotoFlag
from vision.jpeg_file import ends_early, is_cut_short
from vision.photo_header import PhotoHeader, read_header
from vision.settings import VisionSettings

WORKING_MEGAPIXELS = 30.0
"""Larger pictures are halved until they fit: finer than any measure here needs, and memory."""

PILLOW_FAULTS = (OSError, SyntaxError, ValueError, EOFError, struct.error, MemoryError)
"""What Pillow raises on files that are cut short or damaged."""


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

    def __post_init__(self) -> None:
        self.rgb.setflags(write=False)


def read_photo(path: Path, *, settings: VisionSettings, least_long_px: int | None = None) -> Photo:
    """Return a photograph: JPEG, PNG, TIFF or WebP, 8 or 16 bits, in colour.

    The camera's turn (EXIF orientation) is applied once. A colour profile other than sRGB is
    converted (relative colorimetric); one that cannot be read is flagged and sRGB assumed.

    Parameters
    ----------
    path : Path
    settings : VisionSettings
        For the largest picture that is opened.
    least_long_px : int or None
        A JPEG is halved on opening, which is soon done, while its long side stays this long. None
        opens it as it is, up to the working size.

    Raises
    ------
    PhotoUnreadable
        If the file is missing, empty, cut short, damaged, of another kind, too large, too small,
        grey, in ink colours, or partly transparent.
    """
    data = _file_bytes(path)
    with warnings.catch_warnings():
        # Pillow warns of faults in headers that are either harmless or refused here in words.
        warnings.simplefilter("ignore")
        header = read_header(data, settings=settings)
        rgb = _pixels(data, header, least_long_px or max(header.upright_size))
    height, width = rgb.shape[:2]
    if header.kind == "JPEG":
        width, height = header.upright_size
    rgb, reduction = _reduced(rgb, width)
    flags: tuple[PhotoFlag, ...] = ()
    if header.profile is not None:
        try:
            rgb = to_srgb(rgb, header.profile)
        except ProfileUnreadable:
            flags = (PhotoFlag.PROFILE_UNREADABLE,)
    elif header.is_adobe_rgb:
        rgb = adobe_to_srgb(rgb)
    return Photo(
        rgb=np.ascontiguousarray(rgb),
        file=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        full_width_px=width,
        full_height_px=height,
        reduction=reduction,
        taken_at=header.taken_at,
        focal_35mm=header.focal_35mm,
        flags=flags,
        original=data,
    )


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


def _pixels(data: bytes, header: PhotoHeader, least_long_px: int) -> NDArray[np.uint8]:
    """Return upright pixels in the colours of the file; JPEG already reduced if it is large."""
    if header.kind == "JPEG":
        return _turn(_jpeg_pixels(data, header, least_long_px), header.orientation)
    try:
        opened = Image.open(io.BytesIO(data), formats=[header.kind])
        opened.load()
        picture = ImageOps.exif_transpose(opened)
    except PILLOW_FAULTS as error:
        raise _damaged() from error
    if "A" in picture.getbands() or "transparency" in picture.info:
        _refuse_transparent(picture)
    rgb = np.array(picture.convert("RGB"), dtype=np.uint8)
    return _deep_pixels(data, header, shallow=rgb) if header.is_deep else rgb


def _jpeg_pixels(data: bytes, header: PhotoHeader, least_long_px: int) -> NDArray[np.uint8]:
    if is_cut_short(data):
        raise _damaged()
    flags = cv2.IMREAD_IGNORE_ORIENTATION
    halvings = _halvings(header.width * header.height)
    while max(header.width, header.height) >> (halvings + 1) >= least_long_px:
        halvings += 1
    reduced = (
        cv2.IMREAD_COLOR_RGB,
        cv2.IMREAD_REDUCED_COLOR_2,
        cv2.IMREAD_REDUCED_COLOR_4,
        cv2.IMREAD_REDUCED_COLOR_8,
    )[min(halvings, 3)]
    rgb = _decode(data, flags | reduced)
    if halvings:
        cv2.cvtColor(rgb, cv2.COLOR_BGR2RGB, dst=rgb)
    if ends_early(data, rgb):
        raise _damaged()
    return rgb


def _deep_pixels(
    data: bytes, header: PhotoHeader, *, shallow: NDArray[np.uint8]
) -> NDArray[np.uint8]:
    """Return a 16-bit picture in 8 bits, each value rounded; Pillow cuts the lower eight off.

    OpenCV turns TIFF upright by itself, asked or not, but no other kind. Its reading is held
    against Pillow's, so that neither this nor its colour order can ever change unseen.
    """
    deep = _decode(data, cv2.IMREAD_ANYDEPTH | cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    levels = cv2.convertScaleAbs(deep, alpha=1 / 257 if deep.dtype == np.uint16 else 1.0)
    rgb = np.asarray(cv2.cvtColor(levels, cv2.COLOR_BGR2RGB), dtype=np.uint8)
    if header.kind != "TIFF":
        rgb = _turn(rgb, header.orientation)
    if rgb.shape != shallow.shape or int(cv2.absdiff(rgb, shallow).max()) > 1:
        raise _damaged()
    return rgb


def _decode(data: bytes, flags: int) -> NDArray[np.uint8]:
    try:
        decoded = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    except cv2.error as error:
        raise _damaged() from error
    if decoded is None:
        raise _damaged()
    return np.asarray(decoded)


def _turn(rgb: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Return the picture upright; the eight orientations are those of EXIF 2.3, 4.6.4."""
    if orientation in {5, 7}:
        rgb = np.asarray(cv2.transpose(rgb), dtype=np.uint8)
    turns = {
        2: lambda: cv2.flip(rgb, 1),
        3: lambda: cv2.rotate(rgb, cv2.ROTATE_180),
        4: lambda: cv2.flip(rgb, 0),
        6: lambda: cv2.rotate(rgb, cv2.ROTATE_90_CLOCKWISE),
        7: lambda: cv2.rotate(rgb, cv2.ROTATE_180),
        8: lambda: cv2.rotate(rgb, cv2.ROTATE_90_COUNTERCLOCKWISE),
    }
    turn = turns.get(orientation)
    return rgb if turn is None else np.asarray(turn(), dtype=np.uint8)


def _halvings(pixels: int) -> int:
    count = 0
    while pixels / 4**count > WORKING_MEGAPIXELS * 1e6:
        count += 1
    return count


def _reduced(rgb: NDArray[np.uint8], full_width: int) -> tuple[NDArray[np.uint8], float]:
    """Return the picture at no more than working size, and the reduction."""
    halvings = _halvings(rgb.shape[0] * rgb.shape[1])
    if halvings:
        rows, columns = (side >> halvings for side in rgb.shape[:2])
        whole = rgb[: rows << halvings, : columns << halvings]
        small = cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA)
        rgb = np.asarray(small, dtype=np.uint8)
    ratio = full_width / rgb.shape[1]
    return rgb, float(2 ** round(np.log2(ratio)))


def _refuse_transparent(picture: Image.Image) -> None:
    alpha = picture.convert("RGBA").getchannel("A").getextrema()
    if alpha != (255, 255):
        raise PhotoUnreadable(
            "Parts of the picture are transparent: it has been cut out or edited. The whole "
            "photograph, with the board around the leaf, is needed. Use the camera's own file."
        )


def _damaged() -> PhotoUnreadable:
    return PhotoUnreadable(
        "The picture is cut short or damaged; a whole one is needed. Copy it from the camera "
        "again; if it was damaged there already, photograph the leaf again."
    )
