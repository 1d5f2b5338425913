"""Colour arithmetic: sRGB to linear light, to CIELAB, and the difference of two colours.

Pictures are in linear light of sRGB's primaries and white, D65 (IEC 61966-2-1). Colours are told
under D50 and 2 degrees throughout, as the printing trade, colour charts and most hand-held
instruments tell them; the one white is brought to the other by Bradford's transform, as in colour
profiles (ICC.1:2022, annex E). Under another white the same wood has other numbers: some 2 units
of a* between D65 and D50.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from skimage.color import deltaE_ciede2000, lab2xyz, xyz2lab, xyz_tristimulus_values

ILLUMINANT = "D50/2"
"""Illuminant and observer, as stored with each colour."""

_BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
"""XYZ to the responses that are scaled from white to white (ICC.1:2022, annex E.3)."""
_XYZ_D65_FROM_LINEAR = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
"""As printed in IEC 61966-2-1."""
_tristimulus: Any = xyz_tristimulus_values
_D50 = np.array(_tristimulus(illuminant="D50", observer="2"), dtype=np.float64)


def _xyz_d50_from_linear() -> NDArray[np.float64]:
    """Return the matrix from linear sRGB (D65) to XYZ adapted to D50."""
    matrix = _XYZ_D65_FROM_LINEAR
    scale = (_BRADFORD @ _D50) / (_BRADFORD @ matrix.sum(axis=1))
    return np.asarray(np.linalg.inv(_BRADFORD) @ np.diag(scale) @ _BRADFORD @ matrix)


_XYZ_FROM_LINEAR = _xyz_d50_from_linear()
LUMINANCE = (0.2224, 0.7169, 0.0607)
"""Y of linear R, G, B once their white is brought to D50 (the row of the matrix above)."""
_AT_ONCE = 1 << 16
"""Values encoded at a time, so that what lies between stays near the processor."""
_ENCODE_STEPS = 65535
"""Steps of the encoding table: one is a twentieth of a level where sRGB is steepest."""


def _decode(encoded: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return linear light of sRGB values 0 to 1 (IEC 61966-2-1)."""
    low = encoded / 12.92
    high = ((np.maximum(encoded, 0.0) + 0.055) / 1.055) ** 2.4
    return np.where(encoded <= 0.04045, low, high)


def _encode(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return sRGB values 0 to 1 of linear light (IEC 61966-2-1)."""
    low = linear * 12.92
    high = 1.055 * np.maximum(linear, 0.0) ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, low, high)


_DECODE_TABLE = _decode(np.arange(256) / 255).astype(np.float32)
_ENCODE_TABLE = np.rint(255 * _encode(np.arange(_ENCODE_STEPS + 1) / _ENCODE_STEPS)).astype(
    np.uint8
)


def srgb_to_linear(encoded: NDArray[np.uint8] | NDArray[np.floating]) -> NDArray[np.float32]:
    """Return linear light, 0 to 1, of sRGB values.

    Parameters
    ----------
    encoded : ndarray
        uint8 levels 0 to 255, or floats 0 to 1; any shape.

    Returns
    -------
    ndarray of float32
        Of the same shape, writable.

    Examples
    --------
    >>> [round(v, 4) for v in srgb_to_linear(np.array([0, 128, 255], np.uint8)).tolist()]
    [0.0, 0.2159, 1.0]
    """
    if encoded.dtype == np.uint8:
        return np.asarray(_look_up(encoded, _DECODE_TABLE), dtype=np.float32)
    return _decode(encoded.astype(np.float64)).astype(np.float32)


def linear_to_srgb8(linear: NDArray[np.floating]) -> NDArray[np.uint8]:
    """Return sRGB levels 0 to 255 of linear light; beyond 0 to 1 is held at the ends.

    Parameters
    ----------
    linear : ndarray of float, any shape

    Returns
    -------
    ndarray of uint8
        Within 0.53 level of the unrounded value.

    Examples
    --------
    >>> linear_to_srgb8(np.array([-1.0, 0.0, 0.18, 1.0, 7.0], np.float32)).tolist()
    [0, 0, 118, 255, 255]
    """
    if not linear.size:
        return np.zeros(linear.shape, dtype=np.uint8)
    row = np.asarray(linear, dtype=np.float32).reshape(-1)
    encoded = np.empty(row.shape, np.uint8)
    most: Any = float(_ENCODE_STEPS)
    for first in range(0, len(row), _AT_ONCE):
        part = row[None, first : first + _AT_ONCE]
        # Rounds, and holds at the ends; twice as fast as multiplying by a number.
        steps = np.asarray(cv2.addWeighted(part, most, part, 0.0, 0.0, dtype=cv2.CV_16U))
        encoded[first : first + _AT_ONCE] = _look_up(steps, _ENCODE_TABLE)[0]
    return encoded.reshape(linear.shape)


def look_up_levels(
    levels: NDArray[np.uint8],
    table: NDArray[np.float32],
    *,
    into: NDArray[np.float32] | None = None,
) -> NDArray[np.float32]:
    """Return what a table holds for each level of a picture.

    Where it holds the same for all three channels, they are read as one, in half the time.

    Parameters
    ----------
    levels : ndarray of uint8, shape (rows, columns, 3)
    table : ndarray of float32, shape (256, 3) or (1, 256, 3)
    into : ndarray of float32, shape (rows, columns, 3), or None
        Where to put it.

    Examples
    --------
    >>> table = np.arange(256, dtype=np.float32)[:, None] / [255, 255, 51]
    >>> look_up_levels(np.full((1, 1, 3), 51, np.uint8), table.astype(np.float32)).tolist()
    [[[0.20000000298023224, 0.20000000298023224, 1.0]]]
    """
    own = table.reshape(1, 256, 3)
    if (own == own[..., :1]).all():
        own = np.ascontiguousarray(own[..., :1])
    return np.asarray(cv2.LUT(levels, own, dst=into), dtype=np.float32)


def _look_up(index: NDArray[Any], table: NDArray[Any]) -> NDArray[Any]:
    """Return the table's value for each index, some times faster than numpy does."""
    if not index.size:
        return np.zeros(index.shape, dtype=table.dtype)
    return np.asarray(cv2.LUT(index.reshape(1, -1), table)).reshape(index.shape)


def lightness_of_y(y: ArrayLike) -> NDArray[np.float64]:
    """Return CIE 1976 lightness L*, 0 to 100, of luminance Y, 0 to 1 (CIE 15:2004, 8.2.1).

    Examples
    --------
    >>> float(lightness_of_y(0.18).round(2))
    49.5
    """
    values = np.asarray(y, dtype=np.float64)
    return np.where(values > 216 / 24389, 116 * np.cbrt(values) - 16, values * (24389 / 27))


def linear_to_lab(linear: NDArray[np.floating]) -> NDArray[np.float64]:
    """Return CIELAB (D50, 2 degrees, by Bradford's transform) of linear sRGB light.

    Slow for whole pictures: meant for means and small grids.

    Parameters
    ----------
    linear : ndarray of float, shape (..., 3)
        1 is the light of a perfect white.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        L*, a*, b*.

    Examples
    --------
    >>> [f"{v:.1f}" for v in linear_to_lab(np.array([0.552, 0.352, 0.181]))]
    ['68.5', '9.5', '27.3']
    """
    xyz = np.asarray(linear, dtype=np.float64) @ _XYZ_FROM_LINEAR.T
    return np.asarray(xyz2lab(xyz, illuminant="D50", observer="2"), dtype=np.float64)


def lab_to_linear(lab: ArrayLike) -> NDArray[np.float64]:
    """Return linear sRGB light of CIELAB (D50, 2 degrees); the inverse of `linear_to_lab`.

    Colours that sRGB cannot show come out below 0 or above 1.

    Examples
    --------
    >>> [f"{v:.2f}" for v in lab_to_linear([100.0, 0.0, 0.0])]
    ['1.00', '1.00', '1.00']
    """
    values = np.asarray(lab, dtype=np.float64)
    xyz = np.asarray(lab2xyz(values, illuminant="D50", observer="2"), dtype=np.float64)
    return np.asarray(xyz @ np.linalg.inv(_XYZ_FROM_LINEAR).T)


def lab_and_slopes(
    linear: NDArray[np.floating],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return CIELAB (D50) of linear sRGB, and how it changes with R, G, B, shape (..., 3, 3).

    Light below zero is carried on along the straight part of the curve, not held at black.
    """
    share = np.asarray(linear, dtype=np.float64) @ (_XYZ_FROM_LINEAR / _D50[:, None]).T
    is_light = share > 216 / 24389
    root = np.cbrt(np.where(is_light, share, 1.0))
    f = np.where(is_light, root, share * (24389 / 27 / 116) + 16 / 116)
    slope = np.where(is_light, 1 / (3 * root**2), 24389 / 27 / 116)
    mix = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
    lab = f @ mix.T - np.array([16.0, 0.0, 0.0])
    slopes = mix @ (slope[..., :, None] * (_XYZ_FROM_LINEAR / _D50[:, None]))
    return lab, slopes


def delta_e00(lab1: NDArray[np.floating], lab2: NDArray[np.floating]) -> NDArray[np.float64]:
    """Return the CIEDE2000 colour difference of CIELAB colours, shape (..., 3) each.

    Examples
    --------
    >>> lab = np.array([50.0, 2.6772, -79.7751]), np.array([50.0, 0.0, -82.7485])
    >>> float(delta_e00(*lab).round(4))
    2.0425
    """
    difference: Any = deltaE_ciede2000
    return np.asarray(difference(lab1, lab2), dtype=np.float64)
