"""Millimetres from the marker rails beside a leaf.

A rail is a straight strip along the board with square ArUco markers (dictionary 4X4_250, 40 mm
across) at an even pitch. Two rails, one on each side of the leaf, say how long it is; the plate
between is taken to lie at their height.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.marker_search import find_markers
from vision.rail_plan import MARKER_MM

PITCH_STEP_MM = 50.0
"""Pitches are multiples of this; the markers' own size tells which."""
LEAST_MARKERS = 3
"""Markers needed on a rail before it counts."""


@dataclass(frozen=True, slots=True, eq=False)
class Rail:
    """One rail: centres of its markers in photo pixels, and where they stand in mm along it."""

    centres_px: NDArray[np.float64]
    along_mm: NDArray[np.float64]

    def mm_at(self, y_px: float) -> float:
        """Return where a photo row meets the rail, mm; a projective map of a line onto a line."""
        y, mm = self.centres_px[:, 1], self.along_mm
        if len(y) < 5:
            return float(np.polyval(np.polyfit(y, mm, 1), y_px))
        middle, half = (y.max() + y.min()) / 2, (y.max() - y.min()) / 2
        t = (y - middle) / half
        rows = np.stack([t, np.ones_like(t), -t * mm], axis=1)
        a, b, c = np.linalg.lstsq(rows, mm, rcond=None)[0]
        at = (y_px - middle) / half
        return float((a * at + b) / (1 + c * at))


def find_rails(
    rgb: NDArray[np.uint8], *, reduced: tuple[NDArray[np.uint8], float] | None = None
) -> tuple[Rail, ...]:
    """Return the marker rails in a photograph, left to right; empty if there are none.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        The photograph, or a part of it.
    reduced : tuple of ndarray and float, or None
        As for `find_markers`.
    """
    found = find_markers(rgb, reduced=reduced)
    if len(found) < LEAST_MARKERS:
        return ()
    return _group(found.ids, found.centres_px, found.corners_px)


def length_between_mm(rails: tuple[Rail, ...], top_px: float, bottom_px: float) -> float | None:
    """Return the distance between two photo rows, mm: the mean of the rails; None without."""
    if not rails:
        return None
    each = [abs(rail.mm_at(bottom_px) - rail.mm_at(top_px)) for rail in rails]
    return float(np.mean(each))


def _group(
    ids: NDArray[np.int_], centres: NDArray[np.float64], quads: NDArray[np.float64]
) -> tuple[Rail, ...]:
    """Sort markers into rails by their column, and number them along by their ids."""
    sides = np.array(
        [np.linalg.norm(quad - np.roll(quad, 1, axis=0), axis=1).mean() for quad in quads]
    )
    side = float(np.median(sides))
    order = np.argsort(centres[:, 0])
    breaks = np.flatnonzero(np.diff(centres[order, 0]) > 1.5 * side) + 1
    rails = []
    for members in np.split(order, breaks):
        if len(members) < LEAST_MARKERS:
            continue
        rail = _rail(ids[members], centres[members], side_px=float(np.median(sides[members])))
        if rail is not None:
            rails.append(rail)
    return tuple(rails)


def _rail(ids: NDArray[np.int_], centres: NDArray[np.float64], *, side_px: float) -> Rail | None:
    slope, start = np.polyfit(ids, centres[:, 1], 1)
    off = np.abs(centres[:, 1] - (slope * ids + start))
    if abs(slope) < side_px or float(off.max()) > 0.5 * abs(slope):
        return None
    pitch_mm = round(abs(slope) / side_px * MARKER_MM / PITCH_STEP_MM) * PITCH_STEP_MM
    if pitch_mm <= 0:
        return None
    return Rail(centres, (ids - ids.min()) * pitch_mm * float(np.sign(slope)))
