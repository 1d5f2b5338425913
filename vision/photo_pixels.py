"""The pixels of a photograph's file, upright; kinds that need no extra package."""

from __future__ import annotations

import io
import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from vision.colour_profile import Levels, rounded
from vision.errors import PhotoUnreadable
from vision.jpeg_file import ends_early, is_cut_short
from vision.photo_header import PhotoHeader

WORKING_MEGAPIXELS = 30.0
"""Larger pictures are halved until they fit: finer than any measure here needs, and memory."""

PILLOW_FAULTS = (OSError, SyntaxError, ValueError, EOFError, struct.error, MemoryError)
"""What Pillow raises on files that are cut short or damaged."""

STRIP_ROWS = 256
"""Rows compared at a time, to spare memory."""


@dataclass(frozen=True, slots=True, eq=False)
class FilePixels:
    """What a file holds, before its colours are brought to sRGB."""

    rgb: Levels
    """Upright, shape (rows, columns, 3)."""
    header: PhotoHeader
    is_linear: bool = False
    """In sRGB already, and in the tone of its curve: true of camera raw."""


def file_pixels(
    data: bytes, header: PhotoHeader, least_long_px: int, *, path: Path | None = None
) -> Levels:
    """Return upright pixels in the colours of the file; JPEG already reduced if it is large.

    Parameters
    ----------
    data : bytes
        The file.
    header : PhotoHeader
        Of a kind that Pillow opens.
    least_long_px : int
        A JPEG is halved while its long side stays this long.
    path : Path or None
        Where the same bytes lie, if they still do: a JPEG is then opened in half the memory.

    Returns
    -------
    ndarray of uint8 or uint16, shape (rows, columns, 3)

    Raises
    ------
    PhotoUnreadable
        If the picture is cut short, damaged, or partly transparent.
    """
    if header.kind == "JPEG":
        return turned(_jpeg_pixels(data, header, least_long_px, path), header.orientation)
    rgb = _shallow_pixels(data, header)
    return _deep_pixels(data, header, shallow=rgb) if header.is_deep else rgb


def _shallow_pixels(data: bytes, header: PhotoHeader) -> NDArray[np.uint8]:
    """Return what Pillow reads, in eight bits, its own copies given back."""
    try:
        opened = Image.open(io.BytesIO(data), formats=[header.kind])
        opened.load()
        ImageOps.exif_transpose(opened, in_place=True)
    except PILLOW_FAULTS as error:
        raise damaged() from error
    if "A" in opened.getbands() or "transparency" in opened.info:
        _refuse_transparent(opened)
    return np.array(opened if opened.mode == "RGB" else opened.convert("RGB"), dtype=np.uint8)


def _jpeg_pixels(
    data: bytes, header: PhotoHeader, least_long_px: int, path: Path | None
) -> NDArray[np.uint8]:
    if is_cut_short(data):
        raise damaged()
    flags = cv2.IMREAD_IGNORE_ORIENTATION
    count = halvings(header.width * header.height)
    while max(header.width, header.height) >> (count + 1) >= least_long_px:
        count += 1
    reduced = (
        cv2.IMREAD_COLOR_RGB,
        cv2.IMREAD_REDUCED_COLOR_2,
        cv2.IMREAD_REDUCED_COLOR_4,
        cv2.IMREAD_REDUCED_COLOR_8,
    )[min(count, 3)]
    rgb = None if count or path is None else _decode_in_place(path, header, flags | reduced)
    if rgb is None:
        rgb = _decode(data, flags | reduced)
    if count:
        cv2.cvtColor(rgb, cv2.COLOR_BGR2RGB, dst=rgb)
    if ends_early(data, rgb):
        raise damaged()
    return np.asarray(rgb, dtype=np.uint8)


def _deep_pixels(data: bytes, header: PhotoHeader, *, shallow: NDArray[np.uint8]) -> Levels:
    """Return a 16-bit picture whole, of which Pillow cuts the lower eight bits off.

    OpenCV turns TIFF upright by itself, asked or not, but no other kind. Its reading is held
    against Pillow's, so that neither this nor its colour order can ever change unseen.
    """
    deep: Levels = _decode(
        data, cv2.IMREAD_ANYDEPTH | cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
    )
    if deep.dtype not in (np.uint8, np.uint16):
        raise damaged()
    cv2.cvtColor(deep, cv2.COLOR_BGR2RGB, dst=deep)
    if header.kind != "TIFF":
        deep = turned(deep, header.orientation)
    if deep.shape != shallow.shape:
        raise damaged()
    for start in range(0, len(deep), STRIP_ROWS):
        strip = slice(start, start + STRIP_ROWS)
        if int(cv2.absdiff(rounded(deep[strip]), shallow[strip]).max()) > 1:
            raise damaged()
    return deep


def _decode_in_place(path: Path, header: PhotoHeader, flags: int) -> Any:
    """Return a file's pixels, laid where they stay; None if that cannot be done.

    What OpenCV reads from memory it hands over as a copy: for a moment there are two pictures.
    """
    place = np.empty((header.height, header.width, 3), np.uint8)
    try:
        return cv2.imread(str(path), dst=place, flags=flags)
    except cv2.error:
        return None


def _decode(data: bytes, flags: int) -> Any:
    try:
        decoded = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    except cv2.error as error:
        raise damaged() from error
    if decoded is None:
        raise damaged()
    return np.asarray(decoded)


_AnyLevels = TypeVar("_AnyLevels", NDArray[np.uint8], NDArray[np.uint16], Levels)


def turned(rgb: _AnyLevels, orientation: int) -> _AnyLevels:
    """Return the picture upright; the eight orientations are those of EXIF 2.3, 4.6.4."""
    picture: Any = rgb
    if orientation in {5, 7}:
        picture = cv2.transpose(picture)
    turns: dict[int, Callable[[Any], Any]] = {
        2: lambda stored: cv2.flip(stored, 1),
        3: lambda stored: cv2.rotate(stored, cv2.ROTATE_180),
        4: lambda stored: cv2.flip(stored, 0),
        6: lambda stored: cv2.rotate(stored, cv2.ROTATE_90_CLOCKWISE),
        7: lambda stored: cv2.rotate(stored, cv2.ROTATE_180),
        8: lambda stored: cv2.rotate(stored, cv2.ROTATE_90_COUNTERCLOCKWISE),
    }
    turn = turns.get(orientation)
    upright: _AnyLevels = picture if turn is None else turn(picture)
    return upright


def halvings(pixels: int) -> int:
    """Return how often a picture is halved until it is of working size."""
    count = 0
    while pixels / 4**count > WORKING_MEGAPIXELS * 1e6:
        count += 1
    return count


def _refuse_transparent(picture: Image.Image) -> None:
    alpha = picture.convert("RGBA").getchannel("A").getextrema()
    if alpha != (255, 255):
        raise cut_out()


def cut_out() -> PhotoUnreadable:
    """Return the refusal of a picture that is not wholly opaque."""
    return PhotoUnreadable(
        "Parts of the picture are transparent: it has been cut out or edited. The whole "
        "photograph, with the board around the leaf, is needed. Use the camera's own file."
    )


def damaged() -> PhotoUnreadable:
    """Return the refusal of a picture that is not all there."""
    return PhotoUnreadable(
        "The picture is cut short or damaged; a whole one is needed. Copy it from the camera "
        "again; if it was damaged there already, photograph the leaf again."
    )
