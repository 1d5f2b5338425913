"""Camera raw: the sensor's own light, developed without anyone's taste; by the extra ``raw``.

Level
-----
One number turns the sensor's light into the picture's, the same for every photograph of a camera,
whatever is in it: a cell of green at saturation becomes `LEVEL` of linear light, after the black
level is taken off. No brightening by content, no white point sought in the picture. So a series at
fixed exposure stays comparable, frame to frame. White balance is a ratio to green and does not move
the level of grey.

The stop above `LEVEL` is for colours that outshine green: light wood is half as bright again in red
as in green. What the sensor holds is therefore held in the picture, up to twice the light of green.
Where the sensor itself is saturated the colour is lost; such pixels are written as full white
(255), so that whatever looks for clipped light finds it.
"""

from __future__ import annotations

import io
import struct
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import ImageFileDirectory_v2

from vision.colour_space import linear_to_srgb8
from vision.errors import PhotoUnreadable
from vision.missing_extra import extra_package
from vision.photo_header import ExifWords, PhotoHeader, check_size, exif_words
from vision.photo_pixels import FilePixels, halvings
from vision.settings import VisionSettings

LEVEL = 0.5
"""Linear light of green at the sensor's saturation."""
SATURATED_FROM = 0.99
"""Share of the range from black to white at which a cell counts as saturated."""

RAW_ENDINGS = frozenset(
    {".3fr", ".arw", ".cr2", ".cr3", ".crw", ".dng", ".erf", ".iiq", ".kdc", ".mef", ".mos"}
    | {".mrw", ".nef", ".nrw", ".orf", ".pef", ".raf", ".rw2", ".rwl", ".srw", ".x3f"}
)
_HEADS = (
    (0, b"FUJIFILMCCD-RAW"),
    (4, b"ftypcrx "),
    (0, b"FOVb"),
    (0, b"\0MRM"),
    (0, b"IIRO"),
    (0, b"IIRS"),
    (0, b"MMOR"),
    (0, b"IIU\0"),
    (6, b"HEAPCCDR"),
    (8, b"CR\2\0"),
)
"""First bytes of RAF, CR3, X3F, MRW, ORF (three), RW2, CRW and CR2; the others look like TIFF."""
_TIFF_HEADS = (b"II*\0", b"MM\0*")
_DNG_VERSION = 50706
_REDUCED_COPY = 254
"""NewSubfileType; bit 0 marks a reduced copy (TIFF 6.0), as camera raw files show outwardly."""
_MOSAIC = frozenset({32803, 34892})
"""Photometric interpretations of a colour filter array and of linear raw (TIFF/EP, DNG 1.4)."""


def is_raw(data: bytes, name: str = "") -> bool:
    """Tell from its head whether a file is camera raw.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name: raw files that look like any TIFF are told by their ending.

    Examples
    --------
    >>> is_raw(b"FUJIFILMCCD-RAW 0201"), is_raw(b"\\xff\\xd8\\xff\\xe0")
    (True, False)
    """
    if any(data[at : at + len(head)] == head for at, head in _HEADS):
        return True
    if not data.startswith(_TIFF_HEADS):
        return False
    if Path(name).suffix.lower() in RAW_ENDINGS:
        return True
    try:
        tags = ImageFileDirectory_v2(data[:8])
        stream = io.BytesIO(data)
        stream.seek(tags.next)
        tags.load(stream)
        copy, kind = tags.get(_REDUCED_COPY, 0), tags.get(ExifTags.Base.PhotometricInterpretation)
    except (OSError, SyntaxError, ValueError, KeyError, TypeError, EOFError, struct.error):
        return False
    return _DNG_VERSION in tags or kind in _MOSAIC or (isinstance(copy, int) and bool(copy & 1))


def read_raw(data: bytes, *, settings: VisionSettings, least_long_px: int | None) -> FilePixels:
    """Return a camera raw file developed to sRGB: see the head of this file for its level.

    White balance is the one set in the camera, else the maker's daylight. The camera's turn is
    applied.

    Parameters
    ----------
    data : bytes
        The file.
    settings : VisionSettings
    least_long_px : int or None
        The picture is developed at half size, in a quarter of the time, if its long side then is
        no shorter; None only above the working size.

    Raises
    ------
    PhotoUnreadable
        If the extra package is missing, or the file is damaged, of an unknown camera, too large,
        too small or grey.
    """
    library = extra_package("rawpy", extra="raw", found="camera raw")
    try:
        with library.RawPy() as raw:
            raw.open_buffer(io.BytesIO(data))
            sizes = raw.sizes
            check_size(sizes.width, sizes.height, settings)
            _check_colours(raw)
            raw.unpack()
            long_px = max(sizes.width, sizes.height)
            is_halved = (least_long_px is not None and long_px // 2 >= least_long_px) or bool(
                halvings(sizes.width * sizes.height)
            )
            balance, saturated = _balance(raw), _saturated(library, raw)
            linear = _linear(library, raw, balance=balance, is_halved=is_halved)
    except (library.LibRawError, ValueError, MemoryError, OSError) as error:
        raise _unknown() from error
    # LibRaw's own memory, ten bytes a pixel, is given back before more is asked for.
    rgb = _levels(linear, balance, saturated)
    return FilePixels(_turned(rgb, int(sizes.flip)), _header(data, sizes), is_linear=True)


def _check_colours(raw: Any) -> None:
    if int(raw.num_colors) < 3:
        raise PhotoUnreadable(
            "The camera raw file is of a sensor without colours; a photograph in colour is needed. "
            "Use a colour camera."
        )


def _linear(library: Any, raw: Any, *, balance: list[float], is_halved: bool) -> NDArray[np.uint16]:
    """Return linear light in the colours of sRGB, as the sensor lies."""
    linear: NDArray[np.uint16] = raw.postprocess(
        demosaic_algorithm=library.DemosaicAlgorithm.PPG,
        half_size=is_halved,
        user_wb=balance,
        output_color=library.ColorSpace.sRGB,
        output_bps=16,
        gamma=(1, 1),
        no_auto_bright=True,
        # Above nought the brightest cell of each picture would set its white.
        adjust_maximum_thr=0.0,
        highlight_mode=library.HighlightMode.Ignore,
        user_flip=0,
    )
    return linear


def _levels(
    linear: NDArray[np.uint16], balance: list[float], saturated: NDArray[np.uint8] | None
) -> NDArray[np.uint8]:
    """Return levels of sRGB, green's saturation at `LEVEL`, and white where the sensor's was."""
    # LibRaw makes the largest factor of the balance one, so that nothing clips.
    factor = LEVEL * max(balance) / balance[1]
    table = linear_to_srgb8(np.arange(65536) / 65535 * factor)
    rgb = np.asarray(cv2.LUT(linear, table[None]), dtype=np.uint8)
    if saturated is not None:
        if saturated.shape != rgb.shape[:2]:
            saturated = saturated[::2, ::2]
        if saturated.shape == rgb.shape[:2]:  # not so on sensors that LibRaw turns by 45 degrees
            rgb[saturated > 0] = 255
    return rgb


def _balance(raw: Any) -> list[float]:
    """Return the factors of red, green, blue and second green: as set, else daylight, else one."""
    for given in (raw.camera_whitebalance, raw.daylight_whitebalance):
        factors = [float(factor) for factor in given]
        if all(np.isfinite(factor) and factor > 0 for factor in factors[:3]):
            second = factors[3] if len(factors) > 3 and factors[3] > 0 else factors[1]
            return [*factors[:3], second]
    return [1.0, 1.0, 1.0, 1.0]


def _saturated(library: Any, raw: Any) -> NDArray[np.uint8] | None:
    """Return where a cell or its neighbour is saturated; None if the file holds no single cells."""
    if raw.raw_type != library.RawType.Flat:
        return None
    black = max(float(level) for level in raw.black_level_per_channel)
    stated = raw.camera_white_level_per_channel or ()
    white = min([float(raw.white_level), *(float(level) for level in stated if level > black)])
    at_least = black + SATURATED_FROM * (white - black)
    cells = (raw.raw_image_visible >= at_least).view(np.uint8)
    return np.asarray(cv2.dilate(cells, np.ones((3, 3), np.uint8)), dtype=np.uint8)


def _turned(rgb: NDArray[np.uint8], flip: int) -> NDArray[np.uint8]:
    """Return the picture upright; LibRaw's turn: 1 mirrors columns, 2 rows, then 4 swaps them."""
    picture: Any = rgb
    if flip & 3:
        picture = cv2.flip(picture, {1: 1, 2: 0, 3: -1}[flip & 3])
    return np.asarray(cv2.transpose(picture) if flip & 4 else picture, dtype=np.uint8)


def _header(data: bytes, sizes: Any) -> PhotoHeader:
    words = _words(data)
    return PhotoHeader(
        kind="RAW",
        width=int(sizes.width),
        height=int(sizes.height),
        orientation=6 if int(sizes.flip) & 4 else 1,
        is_deep=True,
        profile=None,
        named=None,
        taken_at=words.taken_at,
        focal_35mm=words.focal_35mm,
    )


def _words(data: bytes) -> ExifWords:
    """Return the EXIF words, wherever the maker keeps them."""
    if data.startswith(b"FUJIFILMCCD-RAW"):
        at, size = struct.unpack_from(">2I", data.ljust(92, b"\0"), 84)
        preview = io.BytesIO(data[at : at + size])
        return exif_words(lambda: Image.open(preview, formats=["JPEG"]).getexif())
    block = data
    if data[4:11] == b"ftypcrx":
        at = data.find(b"CMT2", 0, 1 << 16)
        block = data[at + 4 : at + (1 << 16)] if at >= 0 else b""
    elif not data.startswith(_TIFF_HEADS):
        # The makers' own first bytes, then TIFF as any other.
        block = (b"MM\0*" if data.startswith(b"MM") else b"II*\0") + data[4 : 1 << 22]

    def loaded() -> Image.Exif:
        exif = Image.Exif()
        exif.load(block)
        return exif

    return exif_words(loaded)


def _unknown() -> PhotoUnreadable:
    return PhotoUnreadable(
        "The camera raw file is cut short, damaged or of a camera not known here; a whole one is "
        "needed. Copy it from the camera again, or develop it to TIFF or JPEG in sRGB."
    )
