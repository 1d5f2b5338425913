"""The grey strip beside the leaf: known greys that set the lightness scale."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board

STEP_TOLERANCE = 0.10
"""RMS of the steps against the known greys, log light, up to which the strip is recognised."""
UNIFORM_WITHIN = 0.08
"""Robust spread inside one step, log light, up to which it is one grey."""
LEAST_CONTRAST = 0.06
"""Log light by which a thing must depart from the board to be seen."""
LONGEST_SHARE = 0.12
"""A strip is at most this share of the picture wide."""
INNER = (0.25, 0.75)
"""Part of each step that is read: away from its borders."""


def read_strip(board: Board, reflectances: Sequence[float]) -> NDArray[np.float64] | None:
    """Return the board's linear reflectance (R, G, B) by the grey strip, or None without one.

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
    best: tuple[float, NDArray[np.float64]] | None = None
    for box in _long_things(board):
        steps = _read_steps(board.ratio[box], len(reflectances))
        if steps is None:
            continue
        for known in (np.log(reflectances), np.log(reflectances)[::-1]):
            offsets = known[:, None] - steps
            centre = np.median(offsets, axis=0)
            error = float(np.sqrt(np.mean((offsets - centre) ** 2)))
            if error < STEP_TOLERANCE and (best is None or error < best[0]):
                best = (error, np.exp(centre))
    return None if best is None else best[1]


def _long_things(board: Board) -> list[tuple[slice, slice]]:
    """Return boxes (rows, columns) of long narrow things, their parts in line taken together.

    A step of the board's own tone parts a strip in two; parts that stand in line belong together.
    """
    lightness = board.ratio.mean(axis=2)
    mask = (np.abs(lightness) > LEAST_CONTRAST).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(mask)
    rows, columns = mask.shape
    boxes = []
    for transposed in (False, True):
        parts = []
        for x, y, width, height, area in stats[1:count]:
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


def _read_steps(ratio: NDArray[np.float32], count: int) -> NDArray[np.float64] | None:
    """Return log(strip / board) of each step, shape (count, 3); None if a step is not one grey."""
    strip = ratio if ratio.shape[0] >= ratio.shape[1] else ratio.transpose(1, 0, 2)
    across = strip.shape[1]
    middle = strip[:, int(0.3 * across) : max(int(0.3 * across) + 1, int(0.7 * across))]
    each = strip.shape[0] / count
    if each < 4:
        return None
    steps = []
    for index in range(count):
        part = middle[int((index + INNER[0]) * each) : int((index + INNER[1]) * each) + 1]
        pixels = part.reshape(-1, 3).astype(np.float64)
        centre = np.median(pixels, axis=0)
        if float(1.4826 * np.median(np.abs(pixels - centre))) > UNIFORM_WITHIN:
            return None
        steps.append(centre)
    return np.array(steps)
