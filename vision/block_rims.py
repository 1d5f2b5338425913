"""Ends of leaves that compression has drawn to the rims of its blocks, set back.

JPEG holds a picture in squares of eight pixels. Where a faint edge runs nearly along a rim of them,
the sliver beyond the rim is too little to be kept, and the edge then lies at the rim, up to a pixel
off, over hundreds of pixels. A block's mean keeps the sliver's light, though: near a rim the light
under the whole step tells better where the edge was, and as one place tells it badly, a straight
end is told by all of its places together.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Doubles = NDArray[np.float64]

BLOCK_PX = 8
NEAR_PX = 1.6
"""From a rim, within which an edge may have been drawn to it: a sliver of two pixels is kept."""
END_TURN = np.deg2rad(30.0)
"""Between the normal of an end and the leaf's long way. At the sides the grain runs along the edge,
and light under the step would tell of the grain."""
LEAST_POINTS = 40
STRAIGHT_PX = 0.35
"""Median distance from its line up to which an end is straight; a torn one is left alone."""
MOST_DRAWN_PX = 1.2
AREA_WEIGHT = 0.25
"""Of a place told by area, over one told by its half-way crossing."""
ROUNDS = 4


def off_rims(
    points: NDArray[np.float64],
    across: NDArray[np.float64],
    half_way: NDArray[np.float64],
    by_area: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return what to add to the half-way crossings of a leaf's outline, px outward.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Outline, pixels of the photograph as its file holds it.
    across : ndarray, shape (n, 2)
        Unit normals, outward.
    half_way, by_area : ndarray, shape (n,)
        Where the edge lies outward of each point: where the light is half wood, half board, and by
        the area under the step; NaN where it cannot be told.
    """
    added = np.zeros(len(points))
    is_told = np.isfinite(half_way)
    if not is_told.any():
        return added
    # Both blur and sharpening move the area a little, everywhere alike.
    by_area = by_area - np.median((by_area - half_way)[is_told])
    long_way = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2][0]
    edge = points + np.where(is_told, half_way, 0.0)[:, None] * across
    is_near = _to_rim(edge[:, np.abs(long_way).argmax()]) < NEAR_PX
    beside = np.array([-long_way[1], long_way[0]])
    for end in (long_way, -long_way):
        here = np.flatnonzero((across @ end > np.cos(END_TURN)) & is_told)
        if len(here) < LEAST_POINTS or not is_near[here].any():
            continue
        x, base, near = points[here] @ beside, points[here] @ end, is_near[here]
        told = base + half_way[here]
        line = _line(x, np.where(near, base + by_area[here], told), np.where(near, AREA_WEIGHT, 1))
        if not _is_straight(x, told, line, free=~near):
            continue
        added[here] = np.where(near, np.clip(line - told, -MOST_DRAWN_PX, MOST_DRAWN_PX), 0.0)
    return added


def _is_straight(x: Doubles, told: Doubles, line: Doubles, *, free: NDArray[np.bool_]) -> bool:
    """Tell whether an end is straight by itself, or at least where no rim can have drawn it."""
    by_itself = np.polyval(np.polyfit(x, told, 1), x)
    if np.median(np.abs(told - by_itself)) <= STRAIGHT_PX:
        return True
    return bool(3 * free.sum() >= len(free) and np.median(np.abs(told - line)[free]) <= STRAIGHT_PX)


def _to_rim(at_px: Doubles) -> Doubles:
    phase = (at_px + 0.5) % BLOCK_PX
    return np.asarray(np.minimum(phase, BLOCK_PX - phase))


def _line(x: Doubles, y: Doubles, trust: Doubles) -> Doubles:
    """Return the line through places of unlike trust, those far beside it counting for nothing."""
    weight = trust
    line = y
    for _ in range(ROUNDS):
        line = np.asarray(np.polyval(np.polyfit(x, y, 1, w=np.sqrt(weight)), x), dtype=np.float64)
        off = y - line
        spread = 1.4826 * np.median(np.abs(off)) + 0.05
        weight = trust / (1.0 + (off / (2 * spread)) ** 4)
    return line
