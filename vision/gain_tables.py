"""Multiply the light of an sRGB picture along its length, by tables of the 256 encoded levels."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import linear_to_srgb8, srgb_to_linear

_LIGHT = np.asarray(srgb_to_linear(np.arange(256, dtype=np.uint8)), dtype=np.float32)
STEPS = 400
"""Along a leaf the gain changes in at most so many steps: with slices a twentieth of the leaf
apart that differ by a tenth, a step is half a thousandth of the light."""


def relit(
    rgb: NDArray[np.uint8], gain: NDArray[np.float64], *, start: float = 0.0, end: float = 1.0
) -> NDArray[np.uint8]:
    """Return a picture with its light multiplied along its rows, evenly from slice to slice.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    gain : ndarray of float, shape (slices, 3)
        Of equal slices of the leaf's length.
    start, end : float
        Which part of the leaf's length the rows show, 0 to 1.

    Examples
    --------
    >>> grey = np.full((4, 2, 3), 188, np.uint8)
    >>> int(relit(grey, np.full((20, 3), 0.5))[0, 0, 0])
    137
    """
    each = max(1, -(-len(rgb) // STEPS))
    firsts = np.arange(0, len(rgb), each)
    middles = (firsts + np.minimum(firsts + each, len(rgb))) / 2 / len(rgb)
    slices = (np.arange(len(gain)) + 0.5) / len(gain)
    along = start + (end - start) * middles
    factor = np.exp(
        np.stack([np.interp(along, slices, one) for one in np.log(gain).T], axis=1)
    ).astype(np.float32)
    tables = linear_to_srgb8(_LIGHT[np.newaxis, :, np.newaxis] * factor[:, np.newaxis])
    done = np.empty_like(rgb)
    for first, table in zip(firsts, tables, strict=True):
        rows = np.s_[first : first + each]
        done[rows] = cv2.LUT(np.ascontiguousarray(rgb[rows]), table[np.newaxis])
    return done
