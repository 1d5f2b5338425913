"""Open splits and holes within a leaf's outline, told by the board that shows in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import LOG_LIGHT, Board
from vision.leaf_seeds import board_noise
from vision.outline import Outline, Within
from vision.wood_edge import LEAST_APART, NEAR_STEP, to_hues, trace

Points = NDArray[np.float64]

MAY_BE_OPEN = 0.75
"""Share of wood in a fine pixel below which a closer look is taken: a split of 1.5 mm may be
narrower than the pixel."""
SURELY_DIPS = 0.65
"""Share of wood that the deepest pixel of such a place must fall to."""
LEAST_OPEN_PX = 10.0
"""Photo pixels that an opening must measure; smaller ones are pores or noise."""
CORE_SHARE = 0.40
"""Share of wood below which a photo pixel shows what is in the opening, not its rim."""
LEAST_CORE = 0.1
"""Share of an opening's pixels that must be such; a dark line only comes near the board."""
TELLS_SD = 3.5
"""Standard deviations of wood and board within which a share of 1 may be mistaken."""
MOST_SHARE = 0.8
"""Share of wood up to which a pixel may belong to an opening's narrow end."""
LINE_SHARE = 0.65
"""Share of wood at which the opening's line is drawn."""
SAME_HUE = 4.0
"""Standard deviations in hue within which what shows in an opening is board."""
HUE_LEFT = 0.55
"""Part of the wood's own hue that may be left in a narrow split, for a camera's file keeps hue at
half the resolution of light. Wood that is merely dark keeps all of it."""
FAR_LIGHTNESS = 1.0
"""Wood that much lighter than the board, log light, shines further into a split: then"""
FAR_LIGHTNESS_LEFT = 0.45
FAR_HUE_LEFT = 0.8
"""no more than these parts of its lightness and of its hue may be left."""
DEEPEST_SHADE = 0.7
"""How much darker than the open board, log light, the board in a split may be."""
MOST_PLACES = 60
"""Places looked at more closely, largest first."""
RIM_PX = 1.5
"""Photo pixels inside the outline that mix wood and the board beside the leaf."""


@dataclass(frozen=True, slots=True, eq=False)
class Openings:
    """What is missing within a leaf's outline.

    Parameters
    ----------
    splits, holes : tuple of ndarray, each (n, 2)
        Closed polygons, x and y in photo pixels. Splits run in from an end or an edge; holes have
        wood all round.
    split_area_px, hole_area_px : float
        Board that shows in them, photo pixels squared. Counted by shares of pixels, so that it
        holds where a split is narrower than a pixel and its line does not.
    """

    splits: tuple[Points, ...] = ()
    holes: tuple[Points, ...] = ()
    split_area_px: float = 0.0
    hole_area_px: float = 0.0

    @property
    def polygons(self) -> tuple[Points, ...]:
        """Return splits and holes together."""
        return self.splits + self.holes


def find_openings(rgb: NDArray[np.uint8], board: Board, outline: Outline) -> Openings:
    """Return the open splits and the holes of a leaf.

    Places are found in the fine picture, where the share of wood dips, and looked at in the
    photograph itself. Dark wood (knots, pores, streaks) is no opening: the board's hue, no lighter
    than it lies in the open and not much darker, must show.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        The photograph that ``board`` and ``outline`` come from.
    board : Board
        The light on its board.
    outline : Outline
        One leaf; without ``within`` nothing is looked for.
    """
    within = outline.within
    if within is None:
        return Openings()
    found = [
        one
        for place in _places(within, board.fine_step)
        for one in _look_closer(rgb, board, outline, place)
    ]
    splits = [one for one in found if one.is_split]
    holes = [one for one in found if not one.is_split]
    return Openings(
        tuple(one.line for one in splits),
        tuple(one.line for one in holes),
        sum(one.area_px for one in splits),
        sum(one.area_px for one in holes),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Opening:
    line: Points
    area_px: float
    is_split: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """A box of the fine window, in steps of `NEAR_STEP`, and where in it an opening may be."""

    rows: slice
    columns: slice
    mask: NDArray[np.uint8]


def _places(within: Within, fine_step: float) -> list[_Place]:
    """Return where the share of wood dips within the outline, places that touch taken as one."""
    size = within.mask.shape[1::-1]
    inner = np.asarray(cv2.erode(within.mask, np.ones((3, 3), np.uint8)), dtype=np.uint8)
    is_clear = within.scale.apart(size) >= LEAST_APART
    dips = ((within.share < MAY_BE_OPEN) & is_clear).view(np.uint8) & inner
    count, labels, _, _ = cv2.connectedComponentsWithStats(dips, connectivity=8)
    if count == 1:
        return []
    at = np.flatnonzero(dips)
    label = np.asarray(labels, dtype=np.intp).ravel()[at]
    share = within.share.ravel()[at]
    missing = np.bincount(label, np.clip(1 - share, 0, 1), count) * fine_step**2
    deepest = np.full(count, 1.0)
    np.minimum.at(deepest, label, share)
    keep = (deepest < SURELY_DIPS) & (missing >= LEAST_OPEN_PX)
    largest = np.argsort(-missing)[MOST_PLACES:]
    keep[largest] = False
    if not keep.any():
        return []
    kept = np.zeros(dips.size, np.uint8)
    kept[at[keep[label]]] = 1
    near = np.asarray(cv2.dilate(kept.reshape(dips.shape), np.ones((9, 9), np.uint8)), np.uint8)
    contours, _ = cv2.findContours(near, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    return [_place(near, cv2.boundingRect(contour)) for contour in contours]


def _place(near: NDArray[np.uint8], box: Sequence[int]) -> _Place:
    x, y, width, height = box
    rows = slice(max(0, y // NEAR_STEP - 1), (y + height) // NEAR_STEP + 2)
    columns = slice(max(0, x // NEAR_STEP - 1), (x + width) // NEAR_STEP + 2)
    mask = near[
        rows.start * NEAR_STEP : rows.stop * NEAR_STEP,
        columns.start * NEAR_STEP : columns.stop * NEAR_STEP,
    ]
    return _Place(rows, columns, mask)


def _look_closer(
    rgb: NDArray[np.uint8], board: Board, outline: Outline, place: _Place
) -> list[_Opening]:
    """Return the openings of a place."""
    within, step = outline.within, board.fine_step
    if within is None:
        return []
    first = np.array(within.corner) + NEAR_STEP * np.array([place.columns.start, place.rows.start])
    low = np.round(first * step).astype(int)
    high = np.round((first + place.mask.shape[::-1]) * step).astype(int)
    high = np.minimum(high, rgb.shape[1::-1])
    size = (int(high[0] - low[0]), int(high[1] - low[1]))
    hues = to_hues(_ratio(rgb[low[1] : high[1], low[0] : high[0]], board, low))
    scale = within.scale.window(place.rows, place.columns)
    share = scale.share(hues)
    leaf = np.zeros(size[::-1], np.uint8)
    cv2.fillPoly(leaf, [np.round((outline.points - low) * 16).astype(np.int32)], 1, shift=4)
    reach = 2 * round(RIM_PX + 0.25 * step) + 1
    inner = cv2.erode(leaf, np.ones((reach, reach), np.uint8), borderValue=1) > 0
    inner &= cv2.resize(place.mask, size, interpolation=cv2.INTER_NEAREST) > 0
    most = np.clip(1 - TELLS_SD / np.maximum(scale.apart(size), 1.0), 0.5, MOST_SHARE)
    dips = ((share < most) & inner).view(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dips, connectivity=8)
    outside = cv2.dilate(1 - leaf, np.ones((reach + 4, reach + 4), np.uint8))
    noise = board_noise(board)
    found = []
    for index in range(1, count):
        if stats[index, cv2.CC_STAT_AREA] < LEAST_OPEN_PX:
            continue
        x, y, width, height = stats[index, :4].tolist()
        box = (slice(max(0, y - 2), y + height + 2), slice(max(0, x - 2), x + width + 2))
        one = labels[box] == index
        wood = _wood_at(scale.near, box, size)
        if not _shows_board(hues[box][one], share[box][one], wood, noise):
            continue
        wide = cv2.dilate(one.view(np.uint8), np.ones((3, 3), np.uint8))
        missing = np.clip(1 - share[box], 0, 1) * wide
        line = trace(missing, 1 - LINE_SHARE)
        if line is not None:
            corner = low + (box[1].start, box[0].start)
            is_split = bool((outside[box] & one).any())
            found.append(_Opening(line + corner, float(missing.sum()), is_split))
    return found


def _ratio(part: NDArray[np.uint8], board: Board, corner: NDArray[np.intp]) -> NDArray[np.float32]:
    """Return log(photo / board) of a part of the photograph."""
    height, width = part.shape[:2]
    nx, ny = max(2, width // 64), max(2, height // 64)
    x = corner[0] + (np.arange(nx) + 0.5) * width / nx - 0.5
    y = corner[1] + (np.arange(ny) + 0.5) * height / ny - 0.5
    light = board.field.log_on_grid(x, y)
    even = cv2.resize(light, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(cv2.LUT(part, LOG_LIGHT) - even, dtype=np.float32)


def _wood_at(
    near: NDArray[np.float32], box: tuple[slice, slice], size: tuple[int, int]
) -> NDArray[np.float64]:
    """Return the hues of the wood nearby in the middle of a box."""
    rows, columns = near.shape[:2]
    y = (box[0].start + box[0].stop) / 2 * rows / size[1]
    x = (box[1].start + box[1].stop) / 2 * columns / size[0]
    return np.asarray(near[min(int(y), rows - 1), min(int(x), columns - 1)], dtype=np.float64)


def _shows_board(
    hues: NDArray[np.float32],
    share: NDArray[np.float32],
    wood: NDArray[np.float64],
    noise: NDArray[np.float64],
) -> bool:
    """Tell board seen through an opening from wood that is merely dark or pale."""
    core = share < CORE_SHARE
    if core.sum() < max(4, LEAST_CORE * len(share)):
        return False
    light, *tint = np.median(hues[core], axis=0)
    if not -DEEPEST_SHADE < light < 3 * noise[0] + CORE_SHARE * max(0.0, float(wood[0])):
        return False
    off = float(np.hypot(*(np.array(tint) / noise[1:])))
    wood_off = float(np.hypot(*(wood[1:] / noise[1:])))
    if off < max(SAME_HUE, HUE_LEFT * wood_off):
        return True
    is_far = wood[0] > FAR_LIGHTNESS and light < FAR_LIGHTNESS_LEFT * wood[0]
    return bool(is_far and off < FAR_HUE_LEFT * wood_off)
