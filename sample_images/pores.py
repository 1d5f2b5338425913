"""Pores and flecks: short streaks laid one by one along the fibre."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

LEAST_RUN_PX = 1.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """A grid on a face: rows from the top down, columns from left to right, mm from the middle."""

    width_mm: float
    length_mm: float
    px_per_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Return rows and columns."""
        return (
            max(2, round(self.length_mm * self.px_per_mm)),
            max(2, round(self.width_mm * self.px_per_mm)),
        )

    @property
    def x_mm(self) -> NDArray[np.float64]:
        """Return x of the columns' middles; x runs to the right."""
        columns = self.shape[1]
        x = (np.arange(columns) + 0.5) / self.px_per_mm - columns / self.px_per_mm / 2
        return x.astype(np.float64)

    @property
    def y_mm(self) -> NDArray[np.float64]:
        """Return y of the rows' middles; y runs to the top of the picture."""
        rows = self.shape[0]
        y = rows / self.px_per_mm / 2 - (np.arange(rows) + 0.5) / self.px_per_mm
        return y.astype(np.float64)


@dataclass(frozen=True, slots=True)
class Streaks:
    """One kind of streak: where it may start, how thick and how long it is."""

    per_mm2: float
    width_mm: float
    length_mm: tuple[float, float]


def lay_streaks(
    rng: np.random.Generator, sheet: Sheet, kind: Streaks, *, share: Floats | None, lean: Floats
) -> Floats:
    """Return how much of each pixel is covered by streaks, 0 to 1.

    Parameters
    ----------
    share : ndarray or None
        Probability, pixel by pixel, that a streak may start there.
    lean : ndarray
        Tangent of the grain angle (x per y), pixel by pixel.
    """
    rows, columns = sheet.shape
    count = rng.poisson(kind.per_mm2 * sheet.width_mm * sheet.length_mm)
    chances = rng.random((4, count), dtype=np.float32)
    column, row = chances[0] * columns, chances[1] * rows
    low, high = kind.length_mm
    length = low * (high / low) ** chances[2]
    if share is not None:
        kept = chances[3] < share[row.astype(np.int32), column.astype(np.int32)]
        column, row, length = column[kept], row[kept], length[kept]
    strength = rng.uniform(0.5, 1.3, len(row)).astype(np.float32)
    run = np.maximum(length * sheet.px_per_mm, LEAST_RUN_PX)
    steps = np.ceil(run).astype(np.int32)
    first = np.cumsum(steps) - steps
    along = np.arange(int(steps.sum()), dtype=np.float32) - np.repeat(first, steps)
    place = along / np.repeat(run, steps)
    slope = lean[row.astype(np.int32), column.astype(np.int32)]
    y = np.repeat(row - run / 2, steps) + along
    x = np.repeat(column, steps) - (y - np.repeat(row, steps)) * np.repeat(slope, steps)
    cover = np.minimum(4 * place * (1 - place) * 1.6, 1.0) * np.repeat(
        strength * min(1.0, kind.width_mm * sheet.px_per_mm), steps
    )
    laid = _splat(x - 0.5, y - 0.5, cover, (rows, columns))
    return np.minimum(laid, 1.0, out=laid)


def _splat(x: Floats, y: Floats, weight: Floats, shape: tuple[int, int]) -> Floats:
    """Return weights gathered on a grid, shared out between the two nearest columns."""
    rows, columns = shape
    row, column = np.rint(y).astype(np.int32), np.floor(x).astype(np.int32)
    part = (x - column).astype(np.float32)
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns - 1)
    index = (row * columns + column)[inside]
    part, weight = part[inside], weight[inside]
    total = np.bincount(index, weight * (1 - part), minlength=rows * columns)
    total += np.bincount(index + 1, weight * part, minlength=rows * columns)
    return np.asarray(total.reshape(shape), np.float32)
