"""The edge of a leaf set in the photograph's own pixels.

An outline found in the reduced picture is good to a fifth of its pixels; across the edge the full
picture says it ten times better: it lies where a pixel is half wood, half board, in linear light.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.block_rims import off_rims
from vision.colour_space import look_up_levels, srgb_to_linear
from vision.outline import Outline

REACH_PX = 7.0
"""How far the profile across the edge runs to either side, and once more per reduction step."""
SIDE_SHARE = 0.4
"""Share of the profile at either end that shows board alone, or wood alone."""
STEP_PX = 1.0
LEAST_CONTRAST = 0.08
"""Difference of wood and board, as a fraction of the lighter, below which an edge is left as it
is: noise and figure would move it more than it is off."""
MOST_WANDER = 1.5
"""Local spread of the shifts, px, beyond which the edge is too rough to be set finer."""
MOST_ROUNDS = 5
CALM_POINTS = 5
"""Neighbouring points of which the middle shift is taken."""

CORNER_SKIP = 2.5
"""Reduced pixels left out on either side of a corner."""
CORNER_RUNS = (30.0, 8.0)
"""Reduced pixels taken for the sides of a corner: the longer where both are straight that far, for
a line is carried on the better the longer it is."""
LEAST_TURN = np.deg2rad(40.0)
STRAIGHT = 0.20
"""Deviation, reduced pixels, up to which a side is straight."""
MOST_ROUNDED = 2.5
"""Reduced pixels by which a corner may have been rounded off."""

BY_TRUST = np.array(
    [[0.299, 0.587, 0.114], [0.3505, -0.2935, -0.057], [-0.1495, -0.2935, 0.443]], np.float32
)
"""Luma, and half of what red and blue differ from it: most JPEGs keep colour at half the pixels
(weights of Rec. ITU-R BT.601, as in JFIF)."""

STEPS_PX = 1.0
"""Pixels up to which an outline may leave its own running mean and still be a smooth edge."""


def refine_edge(
    outline: Outline,
    rgb: NDArray[np.uint8],
    *,
    fine_step: float,
    decode: NDArray[np.float32] | None = None,
) -> Outline:
    """Return the outline moved along its normals to where the full picture has the edge.

    Parameters
    ----------
    outline : Outline
    rgb : ndarray of uint8, shape (rows, columns, 3)
        The photograph, sRGB.
    fine_step : float
        Photo pixels to a pixel of the picture in which the outline was found; at 1 there is
        nothing to gain, and the outline is returned as it is.
    decode : ndarray of float32, shape (256, 3), or None
        Linear light of each level; None for sRGB's.
    """
    if fine_step <= 1.0 or len(outline.points) < 3 * CALM_POINTS:
        return outline
    points = outline.points
    across = _outward(points)
    reach = REACH_PX + fine_step
    along = np.arange(-reach, reach + STEP_PX / 2, STEP_PX)
    light = _profiles(rgb, points[:, None] + along[:, None] * across[:, None], decode)
    shift, by_area, is_sure = _crossing(light, along)
    shift = np.where(is_sure, shift, np.nan)
    shift = shift + off_rims(points, across, shift, by_area)
    calm = _middle(shift)
    wander = np.abs(shift - calm)
    own = np.where(wander <= MOST_WANDER, shift, calm)
    own = np.where(np.isfinite(own) & ~(_middle(wander) > MOST_WANDER), own, 0.0)
    own = np.clip(own, -fine_step, fine_step)
    moved = _smoothed(_without_folds(points, points + own[:, None] * across))
    return replace(outline, points=_with_corners(moved, fine_step))


def _smoothed(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the outline freed of noise: each point the mean of itself and its neighbours.

    Only where that is near: not at corners, nor where the edge is rough.
    """
    half = CALM_POINTS // 2
    mean = np.mean([np.roll(points, step, axis=0) for step in range(-half, half + 1)], axis=0)
    is_smooth = np.linalg.norm(mean - points, axis=1) <= STEPS_PX
    return np.where(is_smooth[:, None], mean, points)


def _without_folds(before: NDArray[np.float64], moved: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the moved points without those at which the outline would run back on itself."""
    for _ in range(MOST_ROUNDS):
        onward = np.roll(moved, -1, axis=0) - moved
        expected = np.roll(before, -1, axis=0) - before
        folds = (onward * expected).sum(axis=1) <= 0
        if not folds.any() or folds.sum() > len(folds) // 4:
            break
        keep = ~(folds | np.roll(folds, 1))
        before, moved = before[keep], moved[keep]
    return moved


def _with_corners(points: NDArray[np.float64], fine_step: float) -> NDArray[np.float64]:
    """Return the outline with square-cut corners, which the reduced picture rounds, set back.

    Where two straight stretches meet at a marked angle close by, the corner is where their lines
    cross. Rounded and torn corners have no straight stretches beside them and stay.
    """
    pitch = float(np.median(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    skip = max(2, round(CORNER_SKIP * fine_step / pitch))
    runs = [max(6, round(run * fine_step / pitch)) for run in CORNER_RUNS]
    count = runs[-1]
    if len(points) < 4 * (skip + count):
        return points
    kept = points.copy()
    turn = _turn_at(points, skip, count)
    for middle in np.flatnonzero(turn >= LEAST_TURN):
        near = np.arange(middle - count, middle + count + 1) % len(points)
        if turn[middle] < turn[near].max():
            continue
        found = (_corner(points, int(middle), skip, run, STRAIGHT * fine_step) for run in runs)
        corner = next((one for one in found if one is not None), None)
        if corner is None:
            continue
        around = np.arange(middle - skip, middle + skip + 1) % len(points)
        apart = np.linalg.norm(points[around] - corner, axis=1)
        if apart.min() <= MOST_ROUNDED * fine_step:
            kept[around[apart.argmin()]] = corner
    return kept


def _turn_at(points: NDArray[np.float64], skip: int, count: int) -> NDArray[np.float64]:
    """Return by how much the outline turns at each point, radians, its rounding left aside."""
    before = np.roll(points, skip, axis=0) - np.roll(points, skip + count, axis=0)
    after = np.roll(points, -skip - count, axis=0) - np.roll(points, -skip, axis=0)
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.abs(np.arctan2(cross, (before * after).sum(axis=1))))


def _corner(
    points: NDArray[np.float64], middle: int, skip: int, run: int, straight_px: float
) -> NDArray[np.float64] | None:
    """Return where the stretches before and after a point of the outline cross, as lines."""
    if len(points) < 4 * (skip + run):
        return None
    before = points[np.arange(middle - skip - run, middle - skip) % len(points)]
    after = points[np.arange(middle + skip, middle + skip + run) % len(points)]
    return _crossing_of(before, after, straight_px=straight_px)


def _crossing_of(
    before: NDArray[np.float64], after: NDArray[np.float64], *, straight_px: float
) -> NDArray[np.float64] | None:
    """Return where the lines through two stretches cross; None if one is not straight."""
    lines = []
    for stretch in (before, after):
        centre = stretch.mean(axis=0)
        _, spread, axes = np.linalg.svd(stretch - centre, full_matrices=False)
        if spread[1] / np.sqrt(len(stretch)) > straight_px:
            return None
        lines.append((centre, axes[0]))
    (first, along), (other, beside) = lines
    matrix = np.stack([along, -beside], axis=1)
    if abs(np.linalg.det(matrix)) < np.sin(LEAST_TURN) / 2:
        return None
    return np.asarray(first + along * np.linalg.solve(matrix, other - first)[0])


def _outward(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return unit normals that point away from the leaf."""
    along = np.roll(points, -2, axis=0) - np.roll(points, 2, axis=0)
    length = np.linalg.norm(along, axis=1, keepdims=True)
    along = along / np.maximum(length, 1e-9)
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1)
    x, y = points.T
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return np.asarray(normal if area > 0 else -normal)


def _profiles(
    rgb: NDArray[np.uint8], places: NDArray[np.float64], decode: NDArray[np.float32] | None
) -> NDArray[np.float32]:
    """Return linear light at places (n, m, 2), shape (n, m, 3)."""
    maps = places.astype(np.float32)
    parts = [
        cv2.remap(
            rgb,
            maps[first : first + 30_000, :, 0],
            maps[first : first + 30_000, :, 1],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for first in range(0, len(maps), 30_000)
    ]
    levels = np.concatenate(parts).astype(np.uint8)
    if decode is None:
        return srgb_to_linear(levels)
    return look_up_levels(levels, decode)


def _crossing(
    light: NDArray[np.float32], along: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Return how far out each profile is half wood, half board, and whether it can be told.

    The second is the same by the area under the step.
    """
    side = round(SIDE_SHARE * len(along))
    light = np.asarray(cv2.transform(light, BY_TRUST), dtype=np.float32)
    wood, board = light[:, :side].mean(axis=1), light[:, -side:].mean(axis=1)
    toward = wood - board
    square = np.maximum((toward**2).sum(axis=1), 1e-12)
    weight = toward / square[:, None]  # channel by channel: three lie too close to be summed soon
    share = sum(light[..., one] * weight[:, one, None] for one in range(3))
    share -= (board * weight).sum(axis=1)[:, None]
    is_sure = np.sqrt(square) > LEAST_CONTRAST * np.maximum(wood, board)[:, 0]
    # The area under the step says roughly where it lies, whatever the blur; the half-way crossing
    # next to it does not mind that wood and board blur a little differently.
    outer = float(along[-1]) + STEP_PX / 2
    rough = np.clip(share, -0.5, 1.5).sum(axis=1) * STEP_PX - outer
    off = share - 0.5
    falls = (off[:, :-1] >= 0) & (off[:, 1:] < 0)
    drop = np.where(falls, off[:, :-1] - off[:, 1:], 1.0)
    at = along[:-1] + STEP_PX * off[:, :-1] / drop
    apart = np.where(falls, np.abs(at - rough[:, None]), np.inf)
    nearest = apart.argmin(axis=1)
    row = np.arange(len(at))
    found = np.isfinite(apart[row, nearest])
    half_way = np.where(found, at[row, nearest], rough)
    return half_way.astype(np.float64), rough.astype(np.float64), is_sure


def _middle(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the median of each value and its neighbours round the outline, NaN left out."""
    half = CALM_POINTS // 2
    near = np.sort([np.roll(values, step) for step in range(-half, half + 1)], axis=0)
    known = np.isfinite(near).sum(axis=0)  # NaN sorts last
    at = np.arange(len(values))
    middle = (near[(known - 1) // 2, at] + near[known // 2 % CALM_POINTS, at]) / 2
    return np.where(known <= half, np.nan, middle)
