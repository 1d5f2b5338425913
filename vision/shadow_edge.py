"""Edges of shadow, and patches of other light: board that is lit otherwise than the rest of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.outline import Outline

Floats = NDArray[np.float32]
Mask = NDArray[np.uint8]

SMALLER = 3
"""The board's coarse picture is looked at in a third of its size."""
LEAST_STEP = 0.06
"""Log light by which a place must differ from the smooth field: stains and coarse boards do less,
and a leaf beside it would be read 2 L* wrong."""
LARGEST_STEP = 1.4
"""Beyond this it is something dark or white, not shaded board."""
HUE_STEP, HUE_SHARE = 0.08, 0.2
"""Red to blue may change by this much, and by this share of the step: the light that still falls
into a shadow is often that of a window. Daylight and lamps differ from red to blue; green against
the mean of the two may change by half as much, which tells a grey thing from a green board."""
LEAST_AREA = 0.003
"""Share of the picture from which a patch counts."""
STEEP = 0.12
"""Gradient, log light per pixel, of which things with marks or steps on them have much."""
MARKED_SHARE = 0.2
"""Share of a patch's inside that is steep, from which it is such a thing, unless it is even."""
EVEN_SHARE = 0.10
"""Median departure from its median step, as a share of it, of a narrow hard shadow; the steps of a
strip depart by 0.25 and more."""
FULL_SHARE = 0.97
"""Share of its own filled shape that a hard shadow takes up; rails show markers as holes."""
WOOD_TINT = 1.6
"""Tint, in units of what shade may have, from which wood is surely of another hue than the board.
Three tenths of an outline must be."""
LEAF_FILLS = 0.93
"""Share of its convex hull that a leaf fills; an outline that fills less may bulge over board."""
LEAST_WOOD_HUE, BULGE_HUE = 0.12, 0.5
"""Hue, in log light, from which wood tells from board at all, and the share of its wood's hue below
which what such an outline holds is board under a patch of other light."""
RIM_SHARE = 0.08
"""Share of the picture's sides on which no whole leaf lies."""
CLIFF = 0.2
"""Gradient, log light per pixel, that parts a patch from the strips and rails it touches."""
SOFTEST, MILD_STEP = 0.0095, 0.115
"""Light that changes less than this, log light per pixel (about 1 % of the picture's width), and
is off by less than that, is the field's own fault near a lamp."""
SIDE_SHARE, SIDE_SPREAD = 0.9, 0.02
"""A patch along this share of a side of the picture, its other border level to this share, is
taken for the table past the board."""
LARGEST_CARD = 0.03
"""Share of the picture beyond which a patch that reaches neither leaf nor rim is no card."""
_REACH = np.ones((9, 9), np.uint8)
"""What lies within four pixels reaches."""
CLEAR_OF_LEAF = 7
"""Pixels beside a leaf that are left out: its own rim throws a shadow."""


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """The board at a small size: its step in log light, the gradient, and what is by a leaf."""

    size_of: Floats
    steep: Floats
    by_leaf: NDArray[np.bool_]


def measure_shade(board: Board, outlines: Sequence[Outline]) -> float:
    """Return how much light is out of place on the board: log light times share of the board.

    A smooth fall-off belongs to the field and does not count, nor do strips, markers and cards:
    shade keeps the board's hue, is even inside, and reaches a leaf or the picture's edge.
    """
    size = (board.ratio.shape[1] // SMALLER, board.ratio.shape[0] // SMALLER)
    ratio = np.asarray(cv2.resize(board.ratio, size, interpolation=cv2.INTER_AREA), np.float32)
    calm = np.asarray(cv2.blur(ratio, (3, 3)), np.float32)
    light = np.asarray(calm.mean(axis=2), np.float32)
    size_of = np.abs(light)
    red, green, blue = cv2.split(calm)
    hue = np.asarray(np.maximum(np.abs(red - blue), np.abs(2 * green - red - blue)), np.float32)
    tint = np.asarray(hue / (HUE_STEP + HUE_SHARE * size_of), np.float32)
    neutral = tint < 1
    bare = _bare(board, outlines, hue, tint)
    steep = _steepness(np.ascontiguousarray(ratio[..., 1]))
    seen = _Seen(size_of, steep, by_leaf=np.asarray(cv2.erode(bare, _REACH) == 0))
    like = (size_of > LEAST_STEP) & neutral & (bare > 0) & (steep < CLIFF)
    found = 0.0
    for sign in (-1, 1):
        mask = (like & (sign * light > 0)).astype(np.uint8)
        mask = np.asarray(
            cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)), np.uint8
        )
        found += _shade_in(mask, seen)
    return found / max(float(bare.sum()), 1.0)


def _steepness(light: Floats) -> Floats:
    across = cv2.Scharr(light, cv2.CV_32F, 1, 0, scale=1 / 32)
    along = cv2.Scharr(light, cv2.CV_32F, 0, 1, scale=1 / 32)
    return np.asarray(cv2.magnitude(across, along), np.float32)


def _bare(board: Board, outlines: Sequence[Outline], hue: Floats, tint: Floats) -> Mask:
    """Return 1 on the board, 0 on the leaves and close beside them.

    What an outline holds of the board's own hue, though its wood is of another, is shaded board
    that was taken for wood.
    """
    rows, columns = tint.shape
    scale = np.array([columns, rows]) / (np.array(board.ratio.shape[1::-1]) * board.step)
    shapes = []
    for outline in outlines:
        corners = np.round((outline.points + 0.5) * scale - 0.5).astype(np.int32)
        shape = cv2.fillPoly(np.zeros((rows, columns), np.uint8), [corners], 1)
        if shape.any():
            shapes.append((np.asarray(shape, np.uint8), outline.touches_frame))
    tints = [float(np.quantile(tint[shape > 0], 0.7)) for shape, _ in shapes]
    wood = np.zeros((rows, columns), np.uint8)
    for (shape, is_cut), own in zip(shapes, tints, strict=True):
        if own < 1 and max(tints) > WOOD_TINT:
            continue
        like_board = (tint < 1) & (shape > 0)
        if own <= WOOD_TINT:
            like_board &= _bulge(shape, hue, is_cut=is_cut)
        square = np.ones((5, 5), np.uint8)
        lit = cv2.morphologyEx(like_board.astype(np.uint8), cv2.MORPH_OPEN, square)
        wood |= np.asarray(shape - lit, np.uint8)
    clear = np.ones((CLEAR_OF_LEAF, CLEAR_OF_LEAF), np.uint8)
    return np.asarray(1 - cv2.dilate(wood, clear), np.uint8)


def _bulge(shape: Mask, hue: Floats, *, is_cut: bool) -> NDArray[np.bool_]:
    """Mark what may be board within an outline, of a wood whose hue is not far from the board's.

    Nothing in a shape as full as a leaf's, for its sapwood may have the board's hue; in others
    what has far less hue than the rest. A whole leaf does not lie at the picture's edge.
    """
    beyond = np.full(shape.shape, is_cut)
    depth_y, depth_x = (round(RIM_SHARE * side) for side in shape.shape)
    beyond[depth_y:-depth_y, depth_x:-depth_x] = False
    (outer, *_), _ = cv2.findContours(shape, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    is_full = cv2.contourArea(outer) >= LEAF_FILLS * cv2.contourArea(cv2.convexHull(outer))
    wood_hue = float(np.quantile(hue[shape > 0], 0.7))
    if wood_hue > LEAST_WOOD_HUE and (is_cut or not is_full):
        beyond |= hue < BULGE_HUE * wood_hue
    return beyond


def _shade_in(mask: Mask, seen: _Seen) -> float:
    """Return the sum of log light over those parts of a mask that are shade."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    total = 0.0
    for index in range(1, count):
        x, y, width, height, area = (int(value) for value in stats[index])
        if area < LEAST_AREA * mask.size:
            continue
        window = (slice(y, y + height), slice(x, x + width))
        part = labels[window] == index
        deep = float(np.median(seen.size_of[window][part]))
        by_leaf = bool((part & seen.by_leaf[window]).any())
        rim = min(x, y, mask.shape[1] - x - width, mask.shape[0] - y - height)
        if (
            deep > LARGEST_STEP
            or not (by_leaf or rim < len(_REACH) // 2 or area > LARGEST_CARD * mask.size)
            or not _is_even(part, seen.size_of[window], seen.steep[window])
            or (deep < MILD_STEP and float(np.median(seen.steep[window][part])) < SOFTEST)
            or (not by_leaf and _is_past_board(part, (x, y), mask.shape))
        ):
            continue
        total += area * deep
    return total


def _is_even(part: NDArray[np.bool_], size_of: Floats, steep: Floats) -> bool:
    """Tell shade, even or softly changing inside, from a thing with steps or marks on it."""
    padded = np.pad(part.astype(np.uint8), 1)
    core = cv2.erode(padded, np.ones((3, 3), np.uint8))[1:-1, 1:-1] > 0
    if not core.any():
        return False
    if float((steep[core] > STEEP).mean()) < MARKED_SHARE:
        return True
    outer, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = cv2.drawContours(np.zeros(part.shape, np.uint8), outer, -1, 1, cv2.FILLED)
    if int(part.sum()) < FULL_SHARE * int(whole.sum()):
        return False
    middle = float(np.median(size_of[core]))
    return float(np.median(np.abs(size_of[core] - middle))) < EVEN_SHARE * middle


def _is_past_board(
    part: NDArray[np.bool_], corner: tuple[int, int], shape: tuple[int, ...]
) -> bool:
    """Tell a table seen past the board's straight edge from shade that covers a side."""
    (left, top), (height, width) = corner, part.shape
    touches = (
        (top == 0 and float(part[0].sum()) > SIDE_SHARE * shape[1], 0),
        (top + height == shape[0] and float(part[-1].sum()) > SIDE_SHARE * shape[1], 0),
        (left == 0 and float(part[:, 0].sum()) > SIDE_SHARE * shape[0], 1),
        (left + width == shape[1] and float(part[:, -1].sum()) > SIDE_SHARE * shape[0], 1),
    )
    for is_side, axis in touches:
        if is_side:
            low, high = np.quantile(part.sum(axis=axis), (0.1, 0.9))
            if float(high - low) < SIDE_SPREAD * shape[axis] + 1:
                return True
    return False
