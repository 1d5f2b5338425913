"""The trace of a leaf: its drawing, smaller still, for looking through a whole catalogue."""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.leaf_descriptor import STEPS, LeafDescriptor
from vision.leaf_stack import FILLED, GRID, lay_on_grid

TRACE_VERSION = "1"
"""Of what is kept; traces of another version are made anew."""
TRACE_CELLS = (160, 16)
"""Rows and columns over the leaf's bounding box: 12 by 15 mm on a leaf of 2 m by 0.24 m."""


@dataclass(frozen=True, slots=True, eq=False)
class LeafTrace:
    """One face of a leaf on `TRACE_CELLS`, free of its light; 5 kB.

    Parameters
    ----------
    cells : ndarray of int8, shape (2, rows, columns)
        Lightness and hue, each in steps of its own: only their drawing counts.
    length, width : float
        Of the bounding box: mm, or pixels without a scale.
    is_in_mm : bool
    """

    cells: NDArray[np.int8]
    length: float
    width: float
    is_in_mm: bool

    def __post_init__(self) -> None:
        self.cells.setflags(write=False)

    def to_bytes(self) -> bytes:
        """Return the trace as a file."""
        file = io.BytesIO()
        sizes = np.array([self.length, self.width, self.is_in_mm], np.float64)
        np.savez_compressed(file, cells=self.cells, sizes=sizes)
        return file.getvalue()

    @classmethod
    def from_bytes(cls, data: bytes) -> LeafTrace:
        """Return the trace that `to_bytes` wrote.

        Raises
        ------
        ValueError
            If the bytes are no trace.
        """
        with np.load(io.BytesIO(data), allow_pickle=False) as file:
            length, width, is_in_mm = (float(value) for value in file["sizes"])
            return cls(file["cells"], length, width, bool(is_in_mm))


def trace_leaf(face: LeafDescriptor) -> LeafTrace:
    """Return the trace of a face."""
    grid = lay_on_grid([face]).cells[:, 0]
    rows, columns = (round(size * share) for size, share in zip(GRID, FILLED, strict=True))
    top, left = (GRID[0] - rows) // 2, (GRID[1] - columns) // 2
    part = grid[:, top : top + rows, left : left + columns]
    small = np.stack(
        [
            cv2.resize(cells, TRACE_CELLS[::-1], interpolation=cv2.INTER_AREA)
            for cells in np.ascontiguousarray(part)
        ]
    )
    size = np.maximum(np.percentile(np.abs(small), 99.5, axis=(1, 2), keepdims=True), 1e-6)
    steps = np.clip(np.round(small / size * (STEPS / 1.3)), -STEPS, STEPS).astype(np.int8)
    return LeafTrace(steps, face.length, face.width, face.is_in_mm)
