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
from enum import StrEnum
from functools import lru_cache, partial
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from vision.colour_space import linear_to_srgb8, srgb_to_linear

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
_BRADFORD_D65_TO_D50 = np.array(
    [
        [1.0478112, 0.0228866, -0.0501270],
        [0.0295424, 0.9904844, -0.0170491],
        [-0.0092345, 0.0150436, 0.7521316],
    ]
)
"""From the white of D65 to that of D50 (matrix as published by B. Lindbloom)."""
_D65_XY = (0.3127, 0.3290)


class NamedColours(StrEnum):
    """Colours that a file names without holding their profile; white is D65 in all of them."""

    ADOBE_RGB = "Adobe RGB (1998)"
    DISPLAY_P3 = "Display P3"
    BT2020 = "ITU-R BT.2020"


_PRIMARIES = {
    NamedColours.ADOBE_RGB: ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06)),
    NamedColours.DISPLAY_P3: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
    NamedColours.BT2020: ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
}
"""CIE x, y of red, green, blue (Adobe RGB (1998) 4.3.1.1; SMPTE EG 432-1; ITU-R BT.2020-2)."""
_ADOBE_RGB_GAMMA = 563 / 256

Levels = NDArray[np.uint8] | NDArray[np.uint16]
_Convert = Callable[[Levels], NDArray[np.uint8]]
_Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]


class ProfileUnreadable(ValueError):
    """The profile is damaged, or not one of RGB colours."""


@dataclass(frozen=True, slots=True, eq=False)
class _ThreePrimaries:
    """Tone curves of the three channels, and the matrix from linear light to sRGB's."""

    curves: tuple[_Curve, _Curve, _Curve]
    matrix: NDArray[np.float32]

    def __call__(self, rgb: Levels) -> NDArray[np.uint8]:
        most = int(np.iinfo(rgb.dtype).max)
        level = np.arange(most + 1) / most
        with np.errstate(all="ignore"):  # senseless curves fail against the engine
            light = np.stack([curve(level) for curve in self.curves], axis=-1)
        table = light.astype(np.float32)[None]
        converted = np.empty(rgb.shape, dtype=np.uint8)
        for start in range(0, len(rgb), STRIP_ROWS):
            strip = slice(start, start + STRIP_ROWS)
            linear = cv2.transform(cv2.LUT(rgb[strip], table), self.matrix)
            converted[strip] = linear_to_srgb8(np.asarray(linear, dtype=np.float32))
        return converted


def to_srgb(rgb: Levels, profile: bytes) -> NDArray[np.uint8]:
    """Return sRGB levels of levels in the colours of a profile.

    Sixteen bits are rounded to eight after the conversion, so that wide colours leave no bands. A
    profile that only the colour engine can read is the exception: the engine takes eight bits.

    Parameters
    ----------
    rgb : ndarray of uint8 or uint16, shape (rows, columns, 3)
        Only rounded where the profile is that of sRGB, by what it does, not by its name.
    profile : bytes
        An ICC profile.

    Returns
    -------
    ndarray of uint8
        Of the same shape; the very array given, where nothing is to do.

    Raises
    ------
    ProfileUnreadable
        If the profile is damaged, or not one of RGB colours.
    """
    convert = _converter(profile)
    return rounded(rgb) if convert is None else convert(rgb)


def named_to_srgb(rgb: Levels, colours: NamedColours) -> NDArray[np.uint8]:
    """Return sRGB levels of levels in colours that the file names but holds no profile of."""
    curve = _adobe_curve if colours is NamedColours.ADOBE_RGB else _srgb_curve
    return _three_primaries((curve, curve, curve), _to_d50(colours))(rgb)


def rounded(rgb: Levels) -> NDArray[np.uint8]:
    """Return levels in eight bits, each value rounded; the very array given if it has eight.

    Examples
    --------
    >>> rounded(np.array([[128, 129, 65535]], np.uint16)).tolist()
    [[0, 1, 255]]
    """
    if rgb.dtype == np.uint8:
        return np.asarray(rgb, dtype=np.uint8)
    return np.asarray(cv2.convertScaleAbs(rgb, alpha=1 / 257), dtype=np.uint8)


def _adobe_curve(level: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(level**_ADOBE_RGB_GAMMA)


def _srgb_curve(level: NDArray[np.float64]) -> NDArray[np.float64]:
    return srgb_to_linear(level).astype(np.float64)


def _to_d50(colours: NamedColours) -> NDArray[np.float64]:
    """Return the matrix from linear light to XYZ under D50 (SMPTE RP 177, then Bradford)."""
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in _PRIMARIES[colours]]).T
    x, y = _D65_XY
    white = np.array([x / y, 1.0, (1 - x - y) / y])
    return np.asarray(_BRADFORD_D65_TO_D50 @ (columns * np.linalg.solve(columns, white)))


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

    def convert(rgb: Levels) -> NDArray[np.uint8]:
        picture = Image.fromarray(rounded(rgb))
        ImageCms.applyTransform(picture, transform, inPlace=True)
        return np.array(picture, dtype=np.uint8)

    return convert


def _three_primaries(
    curves: tuple[_Curve, _Curve, _Curve], to_d50: NDArray[np.float64]
) -> _ThreePrimaries:
    matrix = np.linalg.inv(_SRGB_D50) @ to_d50
    return _ThreePrimaries(curves, matrix.astype(np.float32))


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
        curves = (_curve(tags[b"rTRC"]), _curve(tags[b"gTRC"]), _curve(tags[b"bTRC"]))
    except (struct.error, KeyError, ValueError):
        return None
    return _three_primaries(curves, np.stack(columns, axis=1))


def _curve(tag: bytes) -> _Curve:
    """Return the tone curve from levels 0 to 1 to light (types curv and para, 10.5 and 10.15)."""
    if tag[:4] == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        points = np.array(struct.unpack_from(f">{count}H", tag, 12))
        if count < 2:
            return partial(_power_of, np.array([points[0] / 256 if count else 1.0]), 0)
        return lambda level: np.interp(level, np.linspace(0, 1, count), points / 65535)
    if tag[:4] != b"para":
        raise ValueError(f"Unknown tone curve {tag[:4]!r}.")
    (kind,) = struct.unpack_from(">H", tag, 8)
    given = np.array(struct.unpack_from(f">{(1, 3, 4, 5, 7)[min(kind, 4)]}i", tag, 12)) / 65536
    if kind and not given[1]:
        raise ValueError("A tone curve without slope.")
    return partial(_power_of, given, kind)


def _power_of(
    given: NDArray[np.float64], kind: int, level: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return light by the numbers of a parametric curve."""
    g, a, b, c, d, e, f = (float(v) for v in (*given, *(0.0,) * (7 - len(given))))
    if kind == 0:
        return np.asarray(level**g)
    if kind in {1, 2}:
        start, below, above = -b / a, np.full_like(level, c), c
    else:
        start, below, above = d, c * level + f, e
    power = np.maximum(a * level + b, 0) ** g + above
    return np.where(level >= start, power, below)
