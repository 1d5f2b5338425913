"""Colour arithmetic: sRGB to linear light, to CIELAB, and the difference of two colours.

White point and observer are D65 and 2 degrees throughout, those of sRGB itself (IEC 61966-2-1).
Under another white the same wood has other numbers: some 2 units of a* between D65 and D50.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from skimage.color import deltaE_ciede2000, xyz2lab
from skimage.color.colorconv import xyz_from_rgb

ILLUMINANT = "D65/2"
"""Illuminant and observer, as stored with each colour."""

LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Y of linear R, G, B (IEC 61966-2-1)."""

_XYZ_FROM_LINEAR = np.array(xyz_from_rgb, dtype=np.float64)
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
    row = np.asarray(linear, dtype=np.float32).reshape(1, -1)
    most: Any = float(_ENCODE_STEPS)
    # Rounds, and holds at the ends; twice as fast as multiplying by a number.
    steps = np.asarray(cv2.addWeighted(row, most, row, 0.0, 0.0, dtype=cv2.CV_16U))
    return np.asarray(_look_up(steps, _ENCODE_TABLE), dtype=np.uint8).reshape(linear.shape)


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
    """Return CIELAB (D65, 2 degrees) of linear sRGB light.

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
    ['68.2', '7.5', '27.0']
    """
    xyz = np.asarray(linear, dtype=np.float64) @ _XYZ_FROM_LINEAR.T
    return np.asarray(xyz2lab(xyz, illuminant="D65", observer="2"), dtype=np.float64)


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
