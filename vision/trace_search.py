"""Look for one leaf among the traces of thousands, in all four layings and at any slip."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.leaf_trace import TRACE_CELLS, LeafTrace
from vision.stack_alignment import OPPOSED_SHARES, SHARES

ROOM = (32, 6)
"""Rows and columns of room around the leaf that is looked for: for slip and for longer leaves."""
MOST_SLIP = 16
"""Rows: a tenth of the leaf."""
MOST_ASIDE = 2
"""Columns."""
BANDS = (0, 1, 5, 17, 49, 81)
"""Limits in waves along the grain; the shares are those of `vision.stack_alignment`."""
SLIP_COST, ASIDE_COST = 0.03, 0.01
"""What full slip, or one column, takes off a likeness: of two fits the straighter one is taken."""
AT_ONCE = 512
"""Traces compared at once: 30 MB."""

Floats = NDArray[np.float32]
Waves = NDArray[np.complex64]


def search_traces(wanted: LeafTrace, traces: Sequence[LeafTrace]) -> Floats:
    """Return how like each trace is to the wanted one in each of the four layings.

    Returns
    -------
    ndarray of float32, shape (traces, 4)
        Correlation, mean over bands of wavelength, at the best slip; layings as in
        `vision.stack_alignment.LAYINGS`.
    """
    own = _grid(wanted, wanted)[None]
    ways = [_waves(way, laid) for laid, way in enumerate(_four_ways(own))]
    moved = np.concatenate(
        [
            np.roll(way.conj(), aside, axis=2)
            for way in ways
            for aside in range(-MOST_ASIDE, MOST_ASIDE + 1)
        ]
    )
    found = [
        _compare(moved, np.stack([_grid(trace, wanted) for trace in traces[at : at + AT_ONCE]]))
        for at in range(0, len(traces), AT_ONCE)
    ]
    return np.concatenate(found) if found else np.zeros((0, 4), np.float32)


def _four_ways(cells: Floats) -> tuple[Floats, ...]:
    return (
        cells,
        cells[..., ::-1, ::-1],
        cells[..., ::-1],
        cells[..., ::-1, :],
    )


def _grid(trace: LeafTrace, wanted: LeafTrace) -> Floats:
    """Return a trace on the grid of the wanted one, middle on middle, shape (2, rows, columns)."""
    rows, columns = TRACE_CELLS
    size = (rows + ROOM[0], columns + ROOM[1])
    if trace.is_in_mm and wanted.is_in_mm:
        rows = int(np.clip(round(rows * trace.length / wanted.length), 8, size[0]))
        columns = int(np.clip(round(columns * trace.width / wanted.width), 4, size[1]))
    top, left = (size[0] - rows) // 2, (size[1] - columns) // 2
    grid = np.zeros((2, *size), np.float32)
    for channel, cells in enumerate(trace.cells):
        grid[channel, top : top + rows, left : left + columns] = cv2.resize(
            cells.astype(np.float32), (columns, rows), interpolation=cv2.INTER_LINEAR
        )
    return grid


def _waves(cells: Floats, laid: int | None) -> Waves:
    """Return waves, shape (faces, channels x waves, columns), each band of unit size.

    With a laying each band is given its share as well.
    """
    waves = np.fft.rfft(cells, axis=2)[:, :, : BANDS[-1]].astype(np.complex64)
    shares = np.array(OPPOSED_SHARES if laid in (1, 2) else SHARES, np.float32)
    shares = shares / shares.sum()
    for band, (low, high) in enumerate(pairwise(BANDS)):
        part = waves[:, :, low:high]
        size = np.sqrt((np.abs(part) ** 2).sum(axis=(2, 3), keepdims=True)) + 1e-9
        part /= size
        if laid is not None:
            part *= shares[:, band][None, :, None, None]
    return waves.reshape(len(waves), -1, waves.shape[3])


def _compare(moved: Waves, cells: Floats) -> Floats:
    others = _waves(cells, None)
    cross = np.matmul(others.transpose(1, 0, 2), moved.transpose(1, 2, 0))
    cross = cross.reshape(2, BANDS[-1], *cross.shape[1:]).sum(axis=0)
    slips = np.arange(-MOST_SLIP, MOST_SLIP + 1)
    angle = 2 * np.pi * np.outer(np.arange(BANDS[-1]), slips) / cells.shape[2]
    fit = np.tensordot(cross.real, np.cos(angle).astype(np.float32), axes=(0, 0))
    fit -= np.tensordot(cross.imag, np.sin(angle).astype(np.float32), axes=(0, 0))
    fit -= (SLIP_COST * np.abs(slips) / MOST_SLIP).astype(np.float32)
    best = fit.max(axis=2).reshape(len(cells), 4, 2 * MOST_ASIDE + 1)
    best = best - ASIDE_COST * np.abs(np.arange(-MOST_ASIDE, MOST_ASIDE + 1), dtype=np.float32)
    return np.asarray(best.max(axis=2), np.float32)
