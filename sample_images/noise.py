"""Chance with a name, and smooth random fields that run through a log."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Floats = NDArray[np.float32]

SPLINE_RMS = (151 / 315) ** 0.5
"""RMS over one cell of a cubic B-spline with unit white noise at its knots (by integration)."""


def chance(seed: int, *what: object) -> np.random.Generator:
    """Return a random generator of its own for each named thing of a seed.

    A new draw somewhere then moves nothing elsewhere.

    Examples
    --------
    >>> bool(chance(1, "ring").random() == chance(1, "ring").random())
    True
    >>> bool(chance(1, "ring").random() == chance(1, "pore").random())
    False
    """
    words = "/".join(str(word) for word in what)
    return np.random.default_rng([seed, zlib.crc32(words.encode())])


@dataclass(frozen=True, slots=True, eq=False)
class SplineField:
    """A smooth random field in x (across), y (along) and depth, unit variance, in mm.

    Cubic B-splines over white noise: no grid shows, and any resolution sees the same field.
    """

    start_mm: tuple[float, float, float]
    cell_mm: tuple[float, float, float]
    knots: Floats
    """Shape (depth, y, x)."""

    def at(self, x_mm: NDArray[np.float64], y_mm: NDArray[np.float64], depth_mm: float) -> Floats:
        """Return the field on the grid of ``y_mm`` rows and ``x_mm`` columns at one depth."""
        depth = _basis(np.array([depth_mm]), self.start_mm[2], self.cell_mm[2], len(self.knots))
        layer = np.tensordot(depth.toarray()[0], self.knots, axes=1)
        rows, columns = self.knots.shape[1:]
        along = _basis(y_mm, self.start_mm[1], self.cell_mm[1], rows) @ layer
        across = _basis(x_mm, self.start_mm[0], self.cell_mm[0], columns)
        return np.ascontiguousarray((across @ along.T).T, dtype=np.float32)


@dataclass(frozen=True, slots=True)
class Extent:
    """The block of wood that fields are made for, mm: x and y centred on the leaf."""

    width_mm: float
    length_mm: float
    depth_mm: float

    def field(
        self, rng: np.random.Generator, *, x_mm: float, y_mm: float, depth_mm: float
    ) -> SplineField:
        """Return a new random field with knots that far apart."""
        cells = (x_mm, y_mm, depth_mm)
        sizes = (self.width_mm, self.length_mm, self.depth_mm)
        starts = (-self.width_mm / 2, -self.length_mm / 2, 0.0)
        counts = [int(np.ceil(size / cell)) + 4 for size, cell in zip(sizes, cells, strict=True)]
        start = tuple(s - 1.5 * c for s, c in zip(starts, cells, strict=True))
        knots = rng.standard_normal((counts[2], counts[1], counts[0]), dtype=np.float32)
        return SplineField((start[0], start[1], start[2]), cells, knots / SPLINE_RMS**3)


@dataclass(frozen=True, slots=True, eq=False)
class SplineLine:
    """A smooth random line over one coordinate and depth, unit variance."""

    field: SplineField

    def at(self, position_mm: NDArray[np.float64], depth_mm: float) -> NDArray[np.float64]:
        """Return the line's values at positions, at one depth."""
        return self.field.at(np.zeros(1), position_mm, depth_mm)[:, 0].astype(np.float64)


def random_line(
    rng: np.random.Generator,
    *,
    length_mm: float,
    cell_mm: float,
    depth_mm: float,
    depth_cell_mm: float,
) -> SplineLine:
    """Return a random line over ``length_mm`` centred on 0, drifting with depth."""
    block = Extent(0.0, length_mm, depth_mm)
    field = block.field(rng, x_mm=1.0, y_mm=cell_mm, depth_mm=depth_cell_mm)
    return SplineLine(field)


def _basis(points: NDArray[np.float64], start: float, cell: float, count: int) -> sparse.csr_array:
    """Return cubic B-spline weights, shape (points, knots)."""
    position = np.clip((points - start) / cell, 1.0, count - 2.001)
    first = np.floor(position).astype(np.int32)
    f = position - first
    weights = np.stack(
        [(1 - f) ** 3, 3 * f**3 - 6 * f**2 + 4, -3 * f**3 + 3 * f**2 + 3 * f + 1, f**3], axis=1
    )
    columns = first[:, None] + np.arange(-1, 3, dtype=np.int32)
    starts = np.arange(0, 4 * len(points) + 1, 4, dtype=np.int32)
    values = (weights / 6).astype(np.float32).ravel()
    return sparse.csr_array((values, columns.ravel(), starts), shape=(len(points), count))
