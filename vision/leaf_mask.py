"""A leaf's mask mended: narrow splits bridged, bays that are wood after all filled."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.leaf_seeds import FIVE, fill, grown

BAY_SHARE = 0.002
"""Share of a leaf's area from which the bays in its outline are looked at again."""
BAY_HUE = 3.0
"""Standard deviations of the board's hue beyond which the calmed picture of a bay shows wood;
half the leaf's own distance from the board is asked as well, for wood glows on what is near."""
SPLIT_SLENDER = 3.0
SPLIT_DEPTH = 0.12
"""A gap in the outline that many times as deep as wide, and as that share of the leaf's width, is
a split, not a torn end."""
SPLIT_WIDTH = 0.10
"""Share of the leaf's width up to which such a gap is looked for."""


def bridge_splits(leaf: NDArray[np.uint8], wood: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a leaf with the slivers beside it, and with narrow splits in its outline closed.

    What was closed and is not long and narrow, as between the teeth of a torn end, stays open.
    """
    beside = leaf | (wood & grown(leaf, np.ones((9, 9), np.uint8)))
    joined = cv2.morphologyEx(beside, cv2.MORPH_CLOSE, FIVE)
    closed = fill(np.asarray(cv2.morphologyEx(joined, cv2.MORPH_OPEN, FIVE), np.uint8))
    closed |= beside & grown(closed, np.ones((3, 3), np.uint8))
    width, upright = _width_of(closed)
    across = int(np.clip(SPLIT_WIDTH * width, 5, 31)) | 1
    shape = (1, across) if upright else (across, 1)
    padded = np.pad(closed, across)
    padded = np.asarray(cv2.morphologyEx(padded, cv2.MORPH_CLOSE, np.ones(shape, np.uint8)))
    closed = np.ascontiguousarray(padded[across:-across, across:-across], dtype=np.uint8)
    gaps = closed & ~(beside | leaf) & 1
    contours, _ = cv2.findContours(gaps, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    for contour in contours:
        deep = cv2.boundingRect(contour)[3 if upright else 2]
        wide = (cv2.contourArea(contour) + len(contour) / 2) / deep
        if deep < max(SPLIT_SLENDER * wide, SPLIT_DEPTH * width):
            cv2.drawContours(closed, [contour], -1, 0, cv2.FILLED)
    return closed


def _width_of(mask: NDArray[np.uint8]) -> tuple[float, bool]:
    """Return how wide a leaf is, and whether it lies along the rows."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    longest = max(contours, key=cv2.contourArea)
    _, sides, _ = cv2.minAreaRect(longest)
    _, _, width, height = cv2.boundingRect(longest)
    return float(min(sides)), height >= width


def fill_bays(
    mask: NDArray[np.uint8], hues: NDArray[np.float32], noise: NDArray[np.float64]
) -> NDArray[np.uint8]:
    """Return the leaf with those bays of its outline filled that show wood, not board.

    Where wood is nearly of the board's tone, single pixels do not tell; many together do. Only hue
    is asked, which sees no shadow, and not the pixels at the edge, which mix wood and board.
    """
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    hull = np.zeros_like(mask)
    cv2.fillConvexPoly(hull, cv2.convexHull(max(contours, key=cv2.contourArea)), 1)
    bays = cv2.morphologyEx(hull & ~mask & 1, cv2.MORPH_OPEN, FIVE)
    deep = bays & (cv2.dilate(mask, FIVE) == 0)
    if int(deep.sum()) < BAY_SHARE * int(mask.sum()):
        return mask
    tint = hues[..., 1:] / noise[1:].astype(np.float32)
    least = max(BAY_HUE, 0.5 * float(np.hypot(*np.median(tint[mask > 0][::7], axis=0))))
    share = cv2.GaussianBlur(deep.astype(np.float32), (0, 0), 3.0)
    calm = cv2.GaussianBlur(tint * deep[..., None].astype(np.float32), (0, 0), 3.0)
    strength = np.hypot(calm[..., 0], calm[..., 1]) / np.maximum(share, 1e-3)
    is_wood = bays & (strength > least).astype(np.uint8)
    filled = cv2.morphologyEx(mask | is_wood, cv2.MORPH_CLOSE, FIVE)
    filled = fill(np.asarray(cv2.morphologyEx(filled, cv2.MORPH_OPEN, FIVE), dtype=np.uint8))
    return np.where(cv2.dilate(is_wood, np.ones((9, 9), np.uint8)) > 0, filled, mask)
