"""Write finished pictures: sRGB said so in a profile, real size when printed, nothing else.

No camera data goes along: a picture is written from its pixels alone, so neither place nor date
nor serial number of a camera can.
"""

from __future__ import annotations

import io
from enum import StrEnum
from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

MM_PER_INCH = 25.4
_PROFILE_DATE = slice(24, 36)
"""Where an ICC header keeps its date and time (ICC.1:2022, 7.2.1)."""


class PictureKind(StrEnum):
    """Kinds of picture file written here."""

    JPEG = "jpeg"
    PNG = "png"
    TIFF = "tiff"


@cache
def srgb_profile() -> bytes:
    """Return an sRGB ICC profile, the same bytes on every day."""
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    profile[_PROFILE_DATE] = b"\x07\xe4\x00\x01\x00\x01\x00\x00\x00\x00\x00\x00"  # 2020-01-01
    return bytes(profile)


def encode_picture(
    rgb: NDArray[np.uint8],
    kind: PictureKind,
    *,
    px_per_mm: float | None = None,
    quality: int = 90,
) -> bytes:
    """Return a picture file.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    kind : PictureKind
        JPEG without colour subsampling, PNG, or TIFF packed without loss.
    px_per_mm : float or None
        Scale, kept as dots per inch so that the picture prints at real size. JPEG holds whole
        dots per inch only, PNG whole dots per metre.
    quality : int
        Of JPEG, 1 to 95.

    Returns
    -------
    bytes
        The file, with an sRGB profile and without EXIF. The same picture gives the same bytes.

    Examples
    --------
    >>> grey = np.full((4, 6, 3), 128, np.uint8)
    >>> encode_picture(grey, PictureKind.PNG)[:4]
    b'\\x89PNG'
    """
    options: dict[str, object] = {"icc_profile": srgb_profile()}
    if px_per_mm is not None:
        dpi = px_per_mm * MM_PER_INCH
        options["dpi"] = (dpi, dpi)
    if kind is PictureKind.JPEG:
        options |= {"quality": quality, "subsampling": 0}
    elif kind is PictureKind.PNG:
        options |= {"compress_level": 1}
    else:
        options |= {"compression": "tiff_lzw"}
    file = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(rgb)).save(file, kind.value, **options)
    return file.getvalue()
