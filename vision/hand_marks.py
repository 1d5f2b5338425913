"""Chalk, pencil and crayon on a leaf: written by hand, no drawing of the wood."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Cells = NDArray[np.float32]

STANDS_OUT = 5.0
"""A cell is taken for a mark from so many robust standard deviations off the wood's own colours."""
BROAD_CELLS = (9, 6)
"""What is broader than so many cells along and across (27 by 22 mm) is wood: sapwood, a knot."""
MOST_SHARE = 0.08
"""Marks that would cover more of the leaf than this are wood of two colours."""
GROWN_CELLS = 3
"""Marks are grown to so many cells: their rim mixes with the wood."""
TREND_CELLS = (61, 9)


def find_marks(lightness: Cells, hue: Cells, seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return where a leaf is written on.

    Wood darkens and reddens together: its cells lie near one line of hue over lightness. What
    lies far off that line and is narrow is chalk (lighter, without colour), pencil (darker,
    without colour) or crayon (a colour no wood has). Marks whose colour is the wood's own are not
    found.

    Parameters
    ----------
    lightness, hue : ndarray, shape (rows, columns)
        Log luminance; log of red over blue.
    seen : ndarray of bool
        Where there is wood.
    """
    light = _local(lightness, seen)
    tint = _local(hue, seen)
    spread = float(np.sum(light[seen] ** 2))
    slope = float(np.sum((light * tint)[seen])) / max(spread, 1e-9)
    middle = np.abs(light) < 2.5 * np.std(light[seen])
    near = seen & middle
    if near.sum() > 100:
        slope = float(np.sum((light * tint)[near])) / max(float(np.sum(light[near] ** 2)), 1e-9)
    aside = np.abs(tint - slope * light)
    usual = 1.4826 * float(np.median(aside[seen])) + 1e-3
    odd = ((aside > STANDS_OUT * usual) & seen).astype(np.uint8)
    broad = cv2.morphologyEx(odd, cv2.MORPH_OPEN, np.ones(BROAD_CELLS, np.uint8))
    kept = cv2.dilate(broad, np.ones((5, 3), np.uint8))
    marks = np.asarray(odd, dtype=bool) & ~np.asarray(kept, dtype=bool)
    if marks.sum() > MOST_SHARE * seen.sum():
        return np.zeros_like(seen)
    grown = cv2.dilate(marks.astype(np.uint8), np.ones((GROWN_CELLS, GROWN_CELLS), np.uint8))
    return np.asarray(grown, dtype=bool)


def _local(cells: Cells, seen: NDArray[np.bool_]) -> Cells:
    """Return cells less the wood around them."""
    weight = seen.astype(np.float32)
    size = (TREND_CELLS[1], TREND_CELLS[0])
    total = cv2.blur(np.where(seen, cells, 0).astype(np.float32), size)
    share = np.maximum(cv2.blur(weight, size), 1e-3)
    return np.asarray(np.where(seen, cells - total / share, 0), np.float32)
