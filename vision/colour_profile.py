"""From the colours of a profile (ICC) to sRGB."""

from __future__ import annotations

import io
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

ADOBE_RGB = b"R03"


class ProfileUnreadable(ValueError):
    """The profile is damaged, or not one of RGB colours."""


def to_srgb(rgb: NDArray[np.uint8], profile: bytes) -> NDArray[np.uint8]:
    """Return sRGB levels of levels in the colours of a profile."""
    transform = _transform(profile)
    if transform is None:
        return rgb
    picture = Image.fromarray(rgb)
    ImageCms.applyTransform(picture, transform, inPlace=True)
    return np.array(picture, dtype=np.uint8)


@lru_cache(maxsize=8)
def _transform(profile: bytes) -> ImageCms.ImageCmsTransform | None:
    if profile == ADOBE_RGB:
        raise ProfileUnreadable
    try:
        found = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        transform = ImageCms.buildTransform(
            found,
            ImageCms.createProfile("sRGB"),
            "RGB",
            "RGB",
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError) as error:
        raise ProfileUnreadable(str(error)) from error
    levels = np.array(list(product(range(0, 256, 51), repeat=3)), dtype=np.uint8)
    probe = Image.fromarray(levels[None])
    after = np.asarray(ImageCms.applyTransform(probe, transform), dtype=int)
    return None if np.abs(after - levels).max() <= 1 else transform
