"""Colour arithmetic: linear sRGB, CIELAB (2 degrees) and CIEDE2000.

What is true of a leaf is told under D50, brought there by Bradford's transform; the woods
themselves are mixed from colours under D65, the white of the pictures.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

TO_XYZ = np.array(
    [
        [0.4123907993, 0.3575843394, 0.1804807884],
        [0.2126390059, 0.7151686788, 0.0721923154],
        [0.0193308187, 0.1191947798, 0.9505321522],
    ]
)
"""Linear sRGB to XYZ (IEC 61966-2-1 primaries and D65 white)."""
WHITE = TO_XYZ.sum(axis=1)
TO_XYZ_D50 = np.array(
    [
        [0.4360747, 0.3850649, 0.1430804],
        [0.2225045, 0.7168786, 0.0606169],
        [0.0139322, 0.0971045, 0.7141733],
    ]
)
"""The same with white brought to D50 by Bradford's transform (B. Lindbloom, RGB/XYZ matrices)."""
WHITE_D50 = TO_XYZ_D50.sum(axis=1)
_CUT = (6 / 29) ** 3
_SLOPE = (29 / 6) ** 2 / 3


def lab_of(linear: ArrayLike) -> NDArray[np.float64]:
    """Return CIELAB (D50) of linear sRGB, white = 1 (CIE 15:2004).

    Examples
    --------
    >>> [round(float(v), 1) for v in lab_of([1.0, 0.0, 0.0])]
    [54.3, 80.8, 69.9]
    >>> round(float(lab_of([0.18, 0.18, 0.18])[0]), 2)
    49.5
    """
    xyz = np.asarray(linear, np.float64) @ TO_XYZ_D50.T / WHITE_D50
    f = np.where(xyz > _CUT, np.cbrt(np.maximum(xyz, 0)), _SLOPE * xyz + 4 / 29)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])],
        axis=-1,
    )


def linear_of_d65(lab: ArrayLike) -> NDArray[np.float64]:
    """Return linear sRGB of CIELAB under D65, in which the woods are written down."""
    values = np.asarray(lab, np.float64)
    fy = (values[..., 0] + 16) / 116
    f = np.stack([fy + values[..., 1] / 500, fy, fy - values[..., 2] / 200], axis=-1)
    xyz = np.where(f > 6 / 29, f**3, (f - 4 / 29) / _SLOPE) * WHITE
    return np.asarray(xyz @ np.linalg.inv(TO_XYZ).T)


def delta_e00(one: ArrayLike, other: ArrayLike) -> NDArray[np.float64]:
    """Return the CIEDE2000 difference of two CIELAB colours, all k = 1.

    Formula and check pairs: Sharma, Wu, Dalal 2005, Color Res. Appl. 30(1):21.

    Examples
    --------
    >>> round(float(delta_e00((50, 2.6772, -79.7751), (50, 0, -82.7485))), 4)
    2.0425
    """
    l1, a1, b1 = np.moveaxis(np.asarray(one, np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(other, np.float64), -1, 0)
    mean_chroma = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    g = 0.5 * (1 - np.sqrt(mean_chroma**7 / (mean_chroma**7 + 25.0**7)))
    c1, c2 = np.hypot(a1 * (1 + g), b1), np.hypot(a2 * (1 + g), b2)
    h1 = np.arctan2(b1, a1 * (1 + g)) % (2 * np.pi)
    h2 = np.arctan2(b2, a2 * (1 + g)) % (2 * np.pi)
    turn = (h2 - h1 + np.pi) % (2 * np.pi) - np.pi
    turn = np.where(c1 * c2 == 0, 0.0, turn)
    hue = np.where(c1 * c2 == 0, h1 + h2, h1 + turn / 2)
    d_l, d_c = l2 - l1, c2 - c1
    d_h = 2 * np.sqrt(c1 * c2) * np.sin(turn / 2)
    l_m, c_m = (l1 + l2) / 2, (c1 + c2) / 2
    t = (
        1
        - 0.17 * np.cos(hue - np.pi / 6)
        + 0.24 * np.cos(2 * hue)
        + 0.32 * np.cos(3 * hue + np.radians(6))
        - 0.20 * np.cos(4 * hue - np.radians(63))
    )
    s_l = 1 + 0.015 * (l_m - 50) ** 2 / np.sqrt(20 + (l_m - 50) ** 2)
    s_c, s_h = 1 + 0.045 * c_m, 1 + 0.015 * c_m * t
    angle = np.radians(60) * np.exp(-(((np.degrees(hue) % 360 - 275) / 25) ** 2))
    r_t = -np.sin(angle) * 2 * np.sqrt(c_m**7 / (c_m**7 + 25.0**7))
    terms = (d_l / s_l) ** 2 + (d_c / s_c) ** 2 + (d_h / s_h) ** 2
    return np.asarray(np.sqrt(terms + r_t * (d_c / s_c) * (d_h / s_h)))


def encode_table(size: int = 1 << 14) -> NDArray[np.uint8]:
    """Return sRGB code values for linear light 0 to 1 in ``size`` equal steps."""
    linear = (np.arange(size) + 0.5) / size
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.round(curve * 255).astype(np.uint8)
