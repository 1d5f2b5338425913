"""From the colours of a profile (ICC) to sRGB, relative colorimetric.

Nearly all profiles in photographs are of three primaries and three tone curves. For those the way
to sRGB is a table, a matrix and a table, which is several times faster than the colour engine and
agrees with it to a level. Any other profile goes through the engine.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from vision.colour_space import linear_to_srgb8

STRIP_ROWS = 256
"""Rows converted at a time: floats of a whole picture would take four times its memory."""
SAME_LEVELS = 1
"""A profile that moves no level by more than this is sRGB under another name."""

_SRGB_D50 = np.array(
    [
        [0.4360747, 0.3850649, 0.1430804],
        [0.2225045, 0.7168786, 0.0606169],
        [0.0139322, 0.0971045, 0.7141733],
    ]
)
"""XYZ of linear sRGB, adapted to D50 by Bradford's method, the space in which profiles meet
(matrix as published by B. Lindbloom, brucelindbloom.com)."""
_ADOBE_RGB_D50 = np.array(
    [
        [0.6097559, 0.2052401, 0.1492240],
        [0.3111242, 0.6256560, 0.0632197],
        [0.0194811, 0.0608902, 0.7448387],
    ]
)
"""The same of Adobe RGB (1998)."""
_ADOBE_RGB_GAMMA = 563 / 256

_Convert = Callable[[NDArray[np.uint8]], NDArray[np.uint8]]


class ProfileUnreadable(ValueError):
    """The profile is damaged, or not one of RGB colours."""


@dataclass(frozen=True, slots=True, eq=False)
class _ThreePrimaries:
    """Tone curves, one value a level and channel, and the matrix from linear light to sRGB's."""

    curves: NDArray[np.float32]
    matrix: NDArray[np.float32]

    def __call__(self, rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
        converted = np.empty_like(rgb)
        for start in range(0, len(rgb), STRIP_ROWS):
            strip = slice(start, start + STRIP_ROWS)
            linear = cv2.transform(cv2.LUT(rgb[strip], self.curves), self.matrix)
            converted[strip] = linear_to_srgb8(np.asarray(linear, dtype=np.float32))
        return converted


def to_srgb(rgb: NDArray[np.uint8], profile: bytes) -> NDArray[np.uint8]:
    """Return sRGB levels of levels in the colours of a profile.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        Returned as it is where the profile is that of sRGB, by what it does, not by its name.
    profile : bytes
        An ICC profile.

    Raises
    ------
    ProfileUnreadable
        If the profile is damaged, or not one of RGB colours.
    """
    convert = _converter(profile)
    return rgb if convert is None else convert(rgb)


def adobe_to_srgb(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return sRGB levels of levels in Adobe RGB (1998), for files that name it but hold none."""
    curve = ((np.arange(256) / 255) ** _ADOBE_RGB_GAMMA).astype(np.float32)
    return _three_primaries([curve] * 3, _ADOBE_RGB_D50)(rgb)


@lru_cache(maxsize=16)
def _converter(profile: bytes) -> _Convert | None:
    """Return what converts from a profile; None if it is that of sRGB."""
    engine = _engine(profile)
    levels = np.array(list(product(range(0, 256, 17), repeat=3)), dtype=np.uint8)[None]
    wanted = engine(levels).astype(np.int16)
    if np.abs(wanted - levels).max() <= SAME_LEVELS:
        return None
    direct = _read_primaries(profile)
    # Held against the engine, so that a profile misread here never passes.
    if direct is not None and np.abs(direct(levels) - wanted).max() <= 2 * SAME_LEVELS:
        return direct
    return engine


def _engine(profile: bytes) -> _Convert:
    """Return a conversion by LittleCMS."""
    try:
        transform = ImageCms.buildTransform(
            ImageCms.ImageCmsProfile(io.BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            "RGB",
            "RGB",
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError) as error:
        raise ProfileUnreadable(str(error)) from error

    def convert(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
        picture = Image.fromarray(rgb)
        ImageCms.applyTransform(picture, transform, inPlace=True)
        return np.array(picture, dtype=np.uint8)

    return convert


def _three_primaries(
    curves: list[NDArray[np.float32]], to_d50: NDArray[np.float64]
) -> _ThreePrimaries:
    matrix = np.linalg.inv(_SRGB_D50) @ to_d50
    return _ThreePrimaries(np.stack(curves, axis=-1)[None], matrix.astype(np.float32))


def _read_primaries(profile: bytes) -> _ThreePrimaries | None:
    """Return the conversion by tables of a profile of primaries and curves; None if it is not.

    Layout as in ICC.1:2010: a table of tags after 128 bytes; XYZ numbers in sixteenths of bits.
    """
    try:
        count = struct.unpack_from(">I", profile, 128)[0]
        entries = struct.iter_unpack(">4sII", profile[132 : 132 + 12 * min(count, 200)])
        tags = {name: profile[at : at + size] for name, at, size in entries}
        if b"A2B1" in tags or b"A2B0" in tags:
            return None
        columns = [
            np.array(struct.unpack_from(">3i", tags[name], 8)) / 65536
            for name in (b"rXYZ", b"gXYZ", b"bXYZ")
        ]
        curves = [_curve(tags[name]) for name in (b"rTRC", b"gTRC", b"bTRC")]
    except (struct.error, KeyError, ValueError):
        return None
    return _three_primaries(curves, np.stack(columns, axis=1))


def _curve(tag: bytes) -> NDArray[np.float32]:
    """Return linear light of the 256 levels by a tone curve (types curv and para, 10.5, 10.15)."""
    level = np.arange(256) / 255
    if tag[:4] == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        points = np.array(struct.unpack_from(f">{count}H", tag, 12))
        if count == 0:
            return level.astype(np.float32)
        if count == 1:
            return np.asarray(level ** (float(points[0]) / 256), dtype=np.float32)
        return np.interp(level, np.linspace(0, 1, count), points / 65535).astype(np.float32)
    if tag[:4] != b"para":
        raise ValueError(f"Unknown tone curve {tag[:4]!r}.")
    (kind,) = struct.unpack_from(">H", tag, 8)
    given = np.array(struct.unpack_from(f">{(1, 3, 4, 5, 7)[min(kind, 4)]}i", tag, 12)) / 65536
    g, a, b, c, d, e, f = (float(v) for v in (*given, *(0.0,) * (7 - len(given))))
    if kind == 0:
        return (level**g).astype(np.float32)
    if kind in {1, 2}:
        start, below, above = -b / a, np.full(256, c), c
    else:
        start, below, above = d, c * level + f, e
    power = np.maximum(a * level + b, 0) ** g + above
    return np.where(level >= start, power, below).astype(np.float32)
