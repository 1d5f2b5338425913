"""The grey strip beside the leaf: known greys that set the lightness scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board

STEP_TOLERANCE = 0.10
"""RMS of the steps against the known greys, log light, up to which the strip is taken for ours as
it stands. A camera that deepens contrast for looks goes beyond; then the steps must at least lie
along a smooth rising curve of the known greys, be of one hue and each of one tone."""
CURVE_TOLERANCE = 0.03
"""RMS of the steps about such a curve, log light."""
CURVE_SLOPES = (0.35, 2.6)
"""How much steeper or flatter than the known greys a camera may show two neighbouring steps."""
HUE_TOLERANCE = 0.08
"""RMS by which the steps' channels may part from one another, log light, along such a curve."""
DRIFT_WITHIN = 0.3
"""Drift inside one step, as a share of the mean distance between steps: a shadow's soft edge is
all drift, a strip has none."""
UNIFORM_WITHIN = 0.08
"""Robust spread inside one step, log light, up to which it is one grey."""
CONTRASTS = (0.06, 0.12, 0.25, 0.50)
"""Log light by which a thing must depart from the board to be seen: little on an even board, more
on a coarse or stained one, whose own unevenness would hide the strip's outline."""
NEUTRAL_HUE = 0.15
"""|log(red/blue)| below which a thing, as photographed, may be grey. Wood lies above 0.2, so a
strip that touches the leaf is told from it."""
LONGEST_SHARE = 0.12
"""A strip is at most this share of the picture wide."""
INNER = (0.25, 0.75)
"""Part of each step that is read: away from its borders."""
UNSEEN_STEPS = 2
"""Steps that may be lost: of the board's own tone at an end, or beyond the camera's scale."""
CAMERA_SCALE = (0.002, 0.95)
"""Linear light outside which a step is lost in the dark or burnt out."""


@dataclass(frozen=True, slots=True, eq=False)
class StripReading:
    """What a grey strip says.

    Parameters
    ----------
    board_rgb : ndarray, shape (3,)
        The board's linear reflectance.
    misfit : float
        RMS of the steps against the known greys, log light: what the camera's own contrast, and
        glare, change.
    levels : ndarray, shape (n, 3)
        Encoded level of each step; NaN for a step that is lost.
    reflectances : ndarray, shape (n,)
        What each step reflects, in the same order.
    light : ndarray, shape (n, 3)
        Light that the board sends at each step's place: the lamp's fall-off between them.
    """

    board_rgb: NDArray[np.float64]
    misfit: float
    levels: NDArray[np.float64]
    reflectances: NDArray[np.float64]
    light: NDArray[np.float64]
    box: tuple[slice, slice]
    """Rows and columns of the whole strip at the coarse size."""


def read_strip(board: Board, reflectances: Sequence[float]) -> StripReading | None:
    """Return what the grey strip says of the board and of the camera, or None without one.

    Parameters
    ----------
    board : Board
        The photograph held against its board.
    reflectances : sequence of float
        Reflectance of each step of the strip from one end to the other, 0 to 1; the steps are of
        one length. Fewer than three cannot be told from other things, and None is returned.
    """
    if len(reflectances) < 3:
        return None
    known = np.asarray(reflectances, dtype=np.float64)
    best: tuple[float, tuple[slice, slice], _Steps, NDArray[np.float64]] | None = None
    for box in _possible_boxes(board, len(known)):
        steps = _read_steps(board, box, len(known))
        if steps is None:
            continue
        for order in (known, known[::-1]):
            error = _unlikeness(steps, np.log(order))
            if error is not None and (best is None or error < best[0]):
                best = (error, box, steps, order)
    if best is None:
        return None
    _, box, steps, order = best
    return _strip_reading(board, box, steps, order)


def read_again(board: Board, strip: StripReading) -> StripReading | None:
    """Return the strip at its known place in the same photograph held against its board anew."""
    steps = _read_steps(board, strip.box, len(strip.reflectances))
    return None if steps is None else _strip_reading(board, strip.box, steps, strip.reflectances)


def _strip_reading(
    board: Board, box: tuple[slice, slice], steps: _Steps, order: NDArray[np.float64]
) -> StripReading:
    misfit, board_log = _compare(steps.ratio, np.log(order))
    levels, light = _levels_and_light(board, box, np.isfinite(steps.ratio[:, 0]))
    return StripReading(np.exp(board_log), misfit, levels, order, light, box)


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """The steps of what may be a strip, held against the board."""

    ratio: NDArray[np.float64]
    """log(step / board), shape (n, 3); NaN where a step is lost."""
    drift: float
    """Mean drift of light inside a step, log light."""


def _compare(
    steps: NDArray[np.float64], known: NDArray[np.float64]
) -> tuple[float, NDArray[np.float64]]:
    """Return the RMS of steps against known greys, and the log reflectance of the board."""
    seen = np.isfinite(steps).all(axis=1)
    offsets = known[seen, None] - steps[seen]
    centre = np.median(offsets, axis=0)
    return float(np.sqrt(np.mean((offsets - centre) ** 2))), centre


def _unlikeness(steps: _Steps, known: NDArray[np.float64]) -> float | None:
    """Return how unlike the known greys the steps are; None if they cannot be our strip."""
    misfit, _ = _compare(steps.ratio, known)
    about_curve = _about_curve(steps, known)
    if about_curve is None:
        return misfit + 0.02 if misfit < STEP_TOLERANCE else None
    return about_curve + 0.5 * misfit


def _about_curve(steps: _Steps, known: NDArray[np.float64]) -> float | None:
    """Return the RMS of the steps about a smooth rising curve of the known greys, or None.

    Three coefficients are fitted, so four steps left over are asked for at least.
    """
    seen = np.isfinite(steps.ratio).all(axis=1)
    grey, ratio = known[seen], steps.ratio[seen].mean(axis=1)
    if len(grey) < 5:
        return None
    slopes = np.diff(ratio) / np.diff(grey)
    if slopes.min() < CURVE_SLOPES[0] or slopes.max() > CURVE_SLOPES[1]:
        return None
    parted = steps.ratio[seen] - ratio[:, None]
    parted -= parted.mean(axis=0)
    if float(np.sqrt(np.mean(parted**2))) > HUE_TOLERANCE:
        return None
    if steps.drift > DRIFT_WITHIN * float(np.abs(np.diff(ratio)).mean()):
        return None
    curve = np.polyval(np.polyfit(grey, ratio, 3 if len(grey) > 5 else 2), grey)
    off = float(np.sqrt(np.mean((ratio - curve) ** 2)))
    return off if off < CURVE_TOLERANCE else None


def _possible_boxes(board: Board, count: int) -> list[tuple[slice, slice]]:
    """Return boxes (rows, columns) that may hold the whole strip of ``count`` steps.

    A step of the board's own tone at an end is not seen; the box is tried longer by up to
    `UNSEEN_STEPS` steps at either end, or both.
    """
    rows, columns = board.ratio.shape[:2]
    boxes = []
    for box in _long_things(board):
        is_upright = box[0].stop - box[0].start >= box[1].stop - box[1].start
        along, across = box if is_upright else box[::-1]
        limit = rows if is_upright else columns
        for unseen in range(min(UNSEEN_STEPS, count - 3) + 1):
            each = (along.stop - along.start) / (count - unseen)
            for before in range(unseen + 1):
                start = round(along.start - before * each)
                stop = round(along.stop + (unseen - before) * each)
                if start >= 0 and stop <= limit:
                    longer = slice(start, stop)
                    boxes.append((longer, across) if is_upright else (across, longer))
    return boxes


def _long_things(board: Board) -> list[tuple[slice, slice]]:
    """Return boxes (rows, columns) of long narrow things, their parts in line taken together.

    A step of the board's own tone parts a strip in two; parts that stand in line belong together.
    """
    calmed = cv2.GaussianBlur(board.ratio.mean(axis=2), (0, 0), 1.0)
    red_blue = cv2.subtract(board.log_light[..., 0], board.log_light[..., 2])
    is_grey = np.abs(cv2.GaussianBlur(red_blue, (0, 0), 1.0)) < NEUTRAL_HUE
    boxes = []
    for contrast in CONTRASTS:
        differs = np.abs(calmed) > contrast
        for mask in (differs, differs & is_grey):
            boxes += _long_boxes(mask.astype(np.uint8))
    return list({_corners(box): box for box in boxes}.values())


def _corners(box: tuple[slice, slice]) -> tuple[int, int, int, int]:
    rows, columns = box
    return int(rows.start), int(rows.stop), int(columns.start), int(columns.stop)


def _long_boxes(mask: NDArray[np.uint8]) -> list[tuple[slice, slice]]:
    opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(opened)
    rows, columns = mask.shape
    boxes = []
    for transposed in (False, True):
        parts = []
        for x, y, width, height, area in stats[1:count].tolist():
            across, along = (height, width) if transposed else (width, height)
            limit = rows if transposed else columns
            if area < 24 or across > LONGEST_SHARE * limit or area < 0.75 * width * height:
                continue
            start, left = (x, y) if transposed else (y, x)
            parts.append((left, left + across, start, start + along))
        boxes += [
            (slice(left, right), slice(top, bottom))
            if transposed
            else (slice(top, bottom), slice(left, right))
            for left, right, top, bottom in _in_line(parts)
        ]
    return boxes


def _in_line(parts: list[tuple[int, int, int, int]]) -> list[tuple[int, int, int, int]]:
    """Join parts (left, right, top, bottom) whose left and right agree, and keep the long ones."""
    groups: list[list[tuple[int, int, int, int]]] = []
    for part in sorted(parts):
        for group in groups:
            width = group[0][1] - group[0][0]
            if abs(group[0][0] - part[0]) + abs(group[0][1] - part[1]) <= max(4, 0.3 * width):
                group.append(part)
                break
        else:
            groups.append([part])
    joined = [
        (
            int(np.median([p[0] for p in group])),
            int(np.median([p[1] for p in group])),
            min(p[2] for p in group),
            max(p[3] for p in group),
        )
        for group in groups
    ]
    return [box for box in joined if box[3] - box[2] >= 3 * (box[1] - box[0]) >= 6]


def _read_steps(board: Board, box: tuple[slice, slice], count: int) -> _Steps | None:
    """Return log(strip / board) of each step; None if a step is not one grey.

    A step outside `CAMERA_SCALE` is NaN; None too if more than `UNSEEN_STEPS` are.
    """
    ratio, light = board.ratio[box], board.log_light[box]
    if ratio.shape[0] < ratio.shape[1]:
        ratio, light = ratio.transpose(1, 0, 2), light.transpose(1, 0, 2)
    across = ratio.shape[1]
    middle = slice(int(0.3 * across), max(int(0.3 * across) + 1, int(0.7 * across)))
    each = ratio.shape[0] / count
    if each < 4:
        return None
    steps = np.full((count, 3), np.nan)
    drifts = []
    for index in range(count):
        part = slice(int((index + INNER[0]) * each), int((index + INNER[1]) * each) + 1)
        level = np.exp(np.median(light[part, middle], axis=(0, 1)))
        if level.min() < CAMERA_SCALE[0] or level.max() > CAMERA_SCALE[1]:
            continue
        inner = ratio[part, middle].astype(np.float64)
        pixels = inner.reshape(-1, 3)
        centre = np.median(pixels, axis=0)
        if float(1.4826 * np.median(np.abs(pixels - centre))) > UNIFORM_WITHIN:
            return None
        steps[index] = centre
        third = max(1, len(inner) // 3)
        drifts.append(abs(float(np.median(inner[:third]) - np.median(inner[-third:]))))
    if int(np.isnan(steps[:, 0]).sum()) > min(UNSEEN_STEPS, count - 3):
        return None
    return _Steps(steps, float(np.mean(drifts)))


def _levels_and_light(
    board: Board, box: tuple[slice, slice], seen: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return each step's encoded level and the board's light at its place, shapes (n, 3)."""
    rows, columns = box
    is_upright = rows.stop - rows.start >= columns.stop - columns.start
    along, across = box if is_upright else box[::-1]
    finer = board.step / board.fine_step
    each = (along.stop - along.start) / len(seen)
    width = across.stop - across.start
    sides = [round((across.start + share * width) * finer) for share in (0.3, 0.7)]
    levels = np.full((len(seen), 3), np.nan)
    light = np.full((len(seen), 3), np.nan)
    for index in range(len(seen)):
        ends = [round((along.start + (index + share) * each) * finer) for share in INNER]
        y, x = (ends, sides) if is_upright else (sides, ends)
        middle = np.array([[np.mean(x), np.mean(y)]]) * board.fine_step
        light[index] = board.field.at(middle[:, 0], middle[:, 1])[0]
        if seen[index]:
            pixels = board.fine[y[0] : max(y[1], y[0] + 1), x[0] : max(x[1], x[0] + 1)]
            levels[index] = _trimmed_mean(pixels.reshape(-1, 3))
    return levels, light


def _trimmed_mean(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return the mean of the middle four fifths of each channel's levels."""
    ordered = np.sort(pixels, axis=0)
    cut = len(ordered) // 10
    return np.asarray(ordered[cut : len(ordered) - cut].mean(axis=0, dtype=np.float64))
