"""Slip: how far each leaf must be moved along and across the grain to lie on its neighbours."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vision.leaf_stack import GRID, LeafStack

NEIGHBOURS = 6
"""So many of a leaf's likest are asked."""
MOST_ROWS = 58
"""Nine percent of the grid."""
MOST_COLUMNS = 6
WAVES = 140
AT_ONCE = 64
CLOSE_ROWS, CLOSE_COLUMNS = 3.0, 0.7
"""Slips that agree this well are of one mind; others count less and less."""
ANCHOR = 0.02
"""Weight that holds a leaf where its outline puts it."""

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Slip:
    """Rows and columns by which each face is to be moved, shape (faces,)."""

    rows: NDArray[np.float64]
    columns: NDArray[np.float64]


def find_slip(cells: Floats, likeness: Floats) -> Slip:
    """Return the slip of faces already turned alike.

    Parameters
    ----------
    cells : ndarray, shape (faces, rows, columns)
        Lightness on the common grid.
    likeness : ndarray, shape (faces, faces)
    """
    pairs = _pairs(likeness)
    count = len(cells)
    if not len(pairs):
        return Slip(np.zeros(count), np.zeros(count))
    waves = _whitened(cells)
    found = np.concatenate(
        [
            _pair_slips(waves, pairs[start : start + AT_ONCE])
            for start in range(0, len(pairs), AT_ONCE)
        ]
    )
    return Slip(
        _agree(pairs, found[:, 0], found[:, 2], count=count, close=CLOSE_ROWS),
        _agree(pairs, found[:, 1], found[:, 2], count=count, close=CLOSE_COLUMNS),
    )


def _pairs(likeness: Floats) -> NDArray[np.int64]:
    best = likeness.copy()
    np.fill_diagonal(best, -np.inf)
    near = np.argsort(-best, axis=1)[:, : min(NEIGHBOURS, len(best) - 1)]
    pairs = {(min(i, j), max(i, j)) for i, row in enumerate(near.tolist()) for j in row}
    return np.array(sorted(pairs), np.int64).reshape(-1, 2)


def _whitened(cells: Floats) -> NDArray[np.complex64]:
    """Return waves along the grid, shape (faces, waves, columns); octaves count alike."""
    waves = np.fft.rfft(cells, axis=1)[:, :WAVES].astype(np.complex64)
    waves[:, 0] = 0
    edges = [1, 3, 6, 12, 24, 48, 90, WAVES]
    for low, high in pairwise(edges):
        size = np.sqrt((np.abs(waves[:, low:high]) ** 2).sum(axis=(1, 2))) + 1e-9
        waves[:, low:high] /= size[:, None, None]
    return waves


def _pair_slips(waves: NDArray[np.complex64], pairs: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return rows, columns and correlation of the best fit of each pair: second onto first."""
    first, second = waves[pairs[:, 0]], waves[pairs[:, 1]].conj()
    best = np.full(len(pairs), -np.inf)
    found = np.zeros((len(pairs), 3))
    columns = first.shape[2]
    by_aside = []
    for aside in range(-MOST_COLUMNS, MOST_COLUMNS + 1):
        one = first[:, :, max(0, aside) : columns + min(0, aside)]
        other = second[:, :, max(0, -aside) : columns - max(0, aside)]
        cross = np.zeros((len(pairs), GRID[0] // 2 + 1), np.complex64)
        cross[:, : waves.shape[1]] = np.einsum("pkc,pkc->pk", one, other)
        fit = np.fft.irfft(cross, n=GRID[0], axis=1)
        fit = np.concatenate([fit[:, -MOST_ROWS:], fit[:, : MOST_ROWS + 1]], axis=1)
        by_aside.append(fit)
        top = fit.argmax(axis=1)
        value = fit[np.arange(len(pairs)), top] * (1 - 0.01 * abs(aside))
        better = value > best
        best[better] = value[better]
        found[better, 0] = top[better] - MOST_ROWS
        found[better, 1] = aside
    fits = np.stack(by_aside)
    for index, (row, aside, _) in enumerate(found):
        r, a = int(row) + MOST_ROWS, int(aside) + MOST_COLUMNS
        if 0 < r < 2 * MOST_ROWS:
            found[index, 0] += peak_at(fits[a, index, r - 1 : r + 2])
        if 0 < a < 2 * MOST_COLUMNS:
            found[index, 1] += peak_at(fits[a - 1 : a + 2, index, r])
    found[:, 2] = np.maximum(best, 0)
    return found


def peak_at(three: NDArray[np.floating[Any]]) -> float:
    """Return where the top of a parabola through three values lies, within half a step."""
    low, middle, high = (float(value) for value in three)
    bend = low - 2 * middle + high
    return float(np.clip((low - high) / (2 * bend), -0.5, 0.5)) if bend < 0 else 0.0


def _agree(
    pairs: NDArray[np.int64],
    slips: NDArray[np.float64],
    weights: NDArray[np.float64],
    *,
    count: int,
    close: float,
) -> NDArray[np.float64]:
    """Return one move a face that fits the slips of the pairs; odd ones count less (Cauchy)."""
    at: NDArray[np.float64] = np.zeros(count)
    strength = weights / max(float(weights.max()), 1e-9)
    for _ in range(12):
        left = slips - (at[pairs[:, 1]] - at[pairs[:, 0]])
        weight = strength / (1 + (left / close) ** 2)
        matrix = np.zeros((count, count))
        np.add.at(matrix, (pairs[:, 0], pairs[:, 0]), weight)
        np.add.at(matrix, (pairs[:, 1], pairs[:, 1]), weight)
        np.subtract.at(matrix, (pairs[:, 0], pairs[:, 1]), weight)
        np.subtract.at(matrix, (pairs[:, 1], pairs[:, 0]), weight)
        matrix[np.diag_indices(count)] += ANCHOR / (1 + (at / (4 * close)) ** 2)
        right = np.zeros(count)
        np.add.at(right, pairs[:, 1], weight * slips)
        np.subtract.at(right, pairs[:, 0], weight * slips)
        at = np.asarray(np.linalg.solve(matrix, right), np.float64)
    return at


def move(stack: LeafStack, slip: Slip) -> Floats:
    """Return the cells of a stack (channels, faces, rows, columns) moved by their slip."""
    rows = np.arange(GRID[0] // 2 + 1)
    turn = np.exp(-2j * np.pi * rows[None, :] * slip.rows[:, None] / GRID[0]).astype(np.complex64)
    columns = np.arange(GRID[1])
    moved = np.empty_like(stack.cells)
    for channel, cells in enumerate(stack.cells):
        waves = np.fft.rfft(cells, axis=1).astype(np.complex64) * turn[:, :, None]
        along = np.fft.irfft(waves, n=GRID[0], axis=1)
        for face, aside in enumerate(slip.columns):
            at = columns - aside
            first = np.floor(at).astype(int)
            part = (at - first).astype(np.float32)
            low = np.where((first >= 0) & (first < GRID[1]), 1 - part, 0)
            high = np.where((first + 1 >= 0) & (first + 1 < GRID[1]), part, 0)
            one = along[face][:, np.clip(first, 0, GRID[1] - 1)]
            two = along[face][:, np.clip(first + 1, 0, GRID[1] - 1)]
            moved[channel, face] = one * low + two * high
    return moved
