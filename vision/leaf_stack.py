"""Drawings of many leaf faces on one grid of equal pitch, free of their light."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.leaf_descriptor import LeafDescriptor

GRID = (640, 64)
"""Rows and columns of the common grid."""
FILLED = (0.88, 0.86)
"""Share of the grid that a leaf of middling size takes; the rest is room for slip and longer
leaves."""
MOST_SPREADS = 4.0
"""A cell counts no more than so many robust standard deviations of its leaf."""
LIGHT_SHARE = 0.02
"""Light that changes over this share of the length is taken for the lamp's: its gradient and its
shine stay where they are on the board while leaves are turned, and would speak for no turn."""

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class LeafStack:
    """Faces on the common grid, middle on middle.

    Parameters
    ----------
    cells : ndarray of float32, shape (channels, faces, rows, columns)
        Lightness, hue; 0 where nothing is seen.
    row_pitch, column_pitch : float
        mm, or pixels without a scale.
    """

    cells: Floats
    row_pitch: float
    column_pitch: float


def lay_on_grid(faces: Sequence[LeafDescriptor]) -> LeafStack:
    """Return the drawings of ``faces`` on one grid, their light taken out."""
    lengths, widths = _sizes(faces)
    row_pitch = float(np.median(lengths)) / (GRID[0] * FILLED[0])
    column_pitch = float(np.median(widths)) / (GRID[1] * FILLED[1])
    cells = np.zeros((2, len(faces), *GRID), np.float32)
    for index, face in enumerate(faces):
        rows = int(np.clip(round(lengths[index] / row_pitch), 8, GRID[0]))
        columns = int(np.clip(round(widths[index] / column_pitch), 8, GRID[1]))
        top, left = (GRID[0] - rows) // 2, (GRID[1] - columns) // 2
        part = np.s_[top : top + rows, left : left + columns]
        for channel, drawing in enumerate(face.channels):
            flat = without_light(drawing, face.seen)
            cells[channel, index][part] = cv2.resize(
                flat, (columns, rows), interpolation=cv2.INTER_AREA
            )
    return LeafStack(cells, row_pitch, column_pitch)


def _sizes(faces: Sequence[LeafDescriptor]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return lengths and widths in one unit; a face without a scale is as long as the others."""
    lengths = np.array([face.length for face in faces], np.float64)
    widths = np.array([face.width for face in faces], np.float64)
    in_mm = np.array([face.is_in_mm for face in faces])
    if in_mm.any() and not in_mm.all():
        share = float(np.median(lengths[in_mm])) / lengths[~in_mm]
        lengths[~in_mm] *= share
        widths[~in_mm] *= share
    return lengths, widths


def without_light(drawing: Floats, seen: NDArray[np.bool_]) -> Floats:
    """Return a drawing less its level and its slow change along the leaf, bounded.

    Parameters
    ----------
    drawing : ndarray of float32, shape (rows, columns)
        Rows run along the leaf.
    seen : ndarray of bool, same shape
        Where there is wood; elsewhere the result is 0.
    """
    weight = seen.astype(np.float32)
    level = drawing - np.float32(np.median(drawing[seen]))
    bound = MOST_SPREADS * 1.4826 * float(np.median(np.abs(level[seen]))) + 1e-4
    level = np.clip(level, -bound, bound) * weight
    row_weight = weight.sum(axis=1)
    sigma = LIGHT_SHARE * len(level)
    slow = _smooth(level.sum(axis=1), sigma) / np.maximum(_smooth(row_weight, sigma), 1e-3)
    return np.asarray((level - slow[:, None]) * weight, np.float32)


def _smooth(values: Floats, sigma: float) -> Floats:
    column = np.ascontiguousarray(values[:, None], np.float32)
    blurred = cv2.GaussianBlur(
        column,
        (1, 2 * round(3 * sigma) + 1),
        sigmaX=1,
        sigmaY=sigma,
        borderType=cv2.BORDER_CONSTANT,
    )
    return np.asarray(blurred, np.float32).reshape(-1)
