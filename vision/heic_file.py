"""HEIC pictures, as phones take them (ISO/IEC 23008-12); opened by the extra ``heic``."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from PIL import Image

from vision.colour_profile import Levels
from vision.missing_extra import extra_package
from vision.photo_header import PhotoHeader, check_mode, check_size, coded_colours, exif_words
from vision.photo_pixels import FilePixels, cut_out, damaged
from vision.settings import VisionSettings

_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})
_AVIF_BRANDS = frozenset({b"avif", b"avis"})
_FAULTS = (ValueError, LookupError, EOFError, SyntaxError, RuntimeError, OSError, MemoryError)
"""What the library raises on files that are cut short, damaged or of an unknown coding."""


def is_heic(data: bytes) -> bool:
    """Tell by the brands in its head whether a file is a HEIC picture.

    Examples
    --------
    >>> is_heic(b"\\0\\0\\0\\x18ftypmif1\\0\\0\\0\\0mif1heic")
    True
    >>> is_heic(b"\\0\\0\\0\\x18ftypmif1\\0\\0\\0\\0mif1avif")
    False
    """
    if data[4:8] != b"ftyp":
        return False
    size = min(int.from_bytes(data[:4], "big"), 256)
    brands = {data[8:12], *(data[at : at + 4] for at in range(16, size - 3, 4))}
    return data[8:12] in _BRANDS and not brands & _AVIF_BRANDS


def read_heic(data: bytes, *, settings: VisionSettings) -> FilePixels:
    """Return the picture of a HEIC file in the colours of the file, upright.

    The turn stands in the container and is applied in decoding; that in the EXIF block only tells
    of it and must not be applied again (ISO/IEC 23008-12, A.2.1).

    Raises
    ------
    PhotoUnreadable
        If the extra package is missing, or the picture is damaged, too large, too small, grey,
        partly transparent or of high dynamic range.
    """
    library = extra_package("pillow_heif", extra="heic", found="a HEIC picture")
    try:
        picture = library.open_heif(data, convert_hdr_to_8bit=False, hdr_to_16bit=False)
        check_size(picture.size[0], picture.size[1], settings)
        check_mode(picture.mode.split(";")[0].upper())
        header = _header(picture)
        pixels: Any = np.asarray(picture)
    except _FAULTS as error:
        raise damaged() from error
    most = 2 ** int(picture.info["bit_depth"]) - 1
    if pixels.shape[-1] == 4:
        if int(pixels[..., 3].min()) < most:
            raise cut_out()
        pixels = cv2.cvtColor(pixels, cv2.COLOR_RGBA2RGB)
    return FilePixels(_spread(pixels, most), header)


def _spread(pixels: Levels, most: int) -> Levels:
    """Return levels whose highest is ``most`` spread over the whole of their type."""
    if most == np.iinfo(pixels.dtype).max:
        return pixels
    levels = np.arange(np.iinfo(pixels.dtype).max + 1)
    table = np.rint(np.minimum(levels / most, 1) * 65535).astype(np.uint16)
    return np.asarray(cv2.LUT(pixels, table[None]), dtype=np.uint16)


def _header(picture: Any) -> PhotoHeader:
    info = picture.info
    exif = Image.Exif()

    def loaded() -> Image.Exif:
        exif.load(info.get("exif") or b"")
        return exif

    words = exif_words(loaded)
    profile = info.get("icc_profile")
    coded = info.get("nclx_profile") or {}
    named = coded_colours(
        int(coded.get("color_primaries", 2)), int(coded.get("transfer_characteristics", 2))
    )
    width, height = picture.size
    return PhotoHeader(
        kind="HEIF",
        width=width,
        height=height,
        orientation=1,
        is_deep=int(info["bit_depth"]) > 8,
        profile=profile if isinstance(profile, bytes) and profile else None,
        named=named or words.colours,
        taken_at=words.taken_at,
        focal_35mm=words.focal_35mm,
    )
