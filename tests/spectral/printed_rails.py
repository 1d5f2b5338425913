"""The two printed rails and the chart holder, as rectangles of one ink on the table.

The numbers of the design are written here a second time, so that a slip in either shows.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from tests.spectral.bands import Doubles

MARKER_MM = 40.0
CELLS = 6
END_MM, INNER_MM, OUTER_MM = 40.0, 30.0, 54.0
GREYS = (0.80, 0.55, 0.38, 0.26, 0.17, 0.10, 0.05)
GREY_MM, GREY_PITCH_MM, GREY_OUT_MM = 20.0, 24.0, 40.0
HOLDER_IDS = (240, 241, 242, 243)
HOLDER_WHITE_MM = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """One rectangle: corners on the table in order round it, mm, and what covers it."""

    corners: Doubles
    ink: str
    """``paper``, ``black``, ``marker``, ``grey 0.26``, ``frame`` or ``chart 7``."""
    white_cells: tuple[Doubles, ...] = ()
    """Of a marker: rectangles of bare paper within."""


@dataclass(frozen=True, slots=True)
class Rails:
    """Two rails as printed, glued and laid."""

    markers: int
    pitch_mm: float
    left_print: float
    """Printed over designed size; 1.004 for a printer that draws 0.4 % too large."""
    right_print: float
    gap_top_mm: float
    gap_bottom_mm: float
    shift_mm: float
    """By which the right rail lies farther along than the left."""

    def length_mm(self, side: str) -> float:
        """Return first marker to last as a perfect tape would read it."""
        return (self.markers - 1) * self.pitch_mm * self.scale(side)

    def scale(self, side: str) -> float:
        """Return printed over designed size."""
        return self.left_print if side == "left" else self.right_print

    def on_table(self, side: str, points: Doubles) -> Doubles:
        """Return table mm of points given from a rail's centre line and first marker."""
        scaled = np.asarray(points, np.float64) * self.scale(side)
        if side == "left":
            return scaled
        lean = np.arcsin((self.gap_bottom_mm - self.gap_top_mm) / self.length_mm(side))
        along = np.array([np.sin(lean), np.cos(lean)])
        across = np.array([np.cos(lean), -np.sin(lean)])
        start = np.array([self.gap_top_mm, self.shift_mm])
        return np.asarray(start + scaled[..., :1] * across + scaled[..., 1:] * along)

    def patches(self) -> list[Patch]:
        """Return both rails, undermost first."""
        return [patch for side in ("left", "right") for patch in self._patches(side)]

    def marker_centres(self) -> dict[int, Doubles]:
        """Return where every marker truly lies, table mm."""
        return {
            first + k: self.on_table(side, np.array([0.0, k * self.pitch_mm]))
            for side, first in (("left", 0), ("right", 100))
            for k in range(self.markers)
        }

    def grey_centres(self, side: str) -> list[tuple[float, float, float]]:
        """Return x, y (from the rail, as designed) and reflectance of every grey."""
        end = (self.markers - 1) * self.pitch_mm + END_MM
        last = int((end - 4 - 3 * GREY_PITCH_MM - GREY_MM / 2 - 50) // 200)
        out = -GREY_OUT_MM if side == "left" else GREY_OUT_MM
        return [
            (out, 50 + 200 * piece + (step - 3) * GREY_PITCH_MM, reflectance)
            for piece in sorted({0, last // 2, last})
            for step, reflectance in enumerate(GREYS)
        ]

    def _patches(self, side: str) -> list[Patch]:
        end = (self.markers - 1) * self.pitch_mm + END_MM
        inner, outer = (INNER_MM, -OUTER_MM) if side == "left" else (-INNER_MM, OUTER_MM)
        paper = np.array([[inner, -END_MM], [outer, -END_MM], [outer, end], [inner, end]])
        found = [Patch(self.on_table(side, paper), "paper")]
        first = 0 if side == "left" else 100
        for k in range(self.markers):
            black, cells = marker_shape(first + k)
            at = np.array([0.0, k * self.pitch_mm])
            found.append(
                Patch(
                    self.on_table(side, black + at),
                    "marker",
                    tuple(self.on_table(side, cell + at) for cell in cells),
                )
            )
        for x, y, reflectance in self.grey_centres(side):
            at = np.array([x, y])
            found.append(
                Patch(self.on_table(side, square(GREY_MM) + at), f"grey {reflectance:.2f}")
            )
        return found


@dataclass(frozen=True, slots=True)
class Holder:
    """The chart in its holder."""

    patch_pitch_mm: float
    centre_mm: tuple[float, float]
    turn_deg: float

    def on_table(self, points: Doubles) -> Doubles:
        """Return table mm of points given from the middle of the window."""
        c, s = np.cos(np.radians(self.turn_deg)), np.sin(np.radians(self.turn_deg))
        return np.asarray(points @ np.array([[c, s], [-s, c]]) + self.centre_mm)

    def patches(self) -> list[Patch]:
        """Return holder and chart, undermost first."""
        pitch = self.patch_pitch_mm
        wide, high = 6 * pitch + 4, 4 * pitch + 4
        x = wide / 2 + HOLDER_WHITE_MM + MARKER_MM / 2
        y = max(high / 2 - MARKER_MM / 2, MARKER_MM / 2 + HOLDER_WHITE_MM)
        rim = MARKER_MM / 2 + HOLDER_WHITE_MM
        found = [
            Patch(self.on_table(box(2 * (x + rim), max(high + 20, 2 * (y + rim)))), "paper"),
            Patch(self.on_table(box(wide, high)), "frame"),
        ]
        places = ((-x, -y), (x, -y), (x, y), (-x, y))
        for number, at in zip(HOLDER_IDS, places, strict=True):
            black, cells = marker_shape(number)
            found.append(
                Patch(
                    self.on_table(black + np.array(at)),
                    "marker",
                    tuple(self.on_table(cell + np.array(at)) for cell in cells),
                )
            )
        for index in range(24):
            at = ((index % 6 - 2.5) * pitch, (index // 6 - 1.5) * pitch)
            found.append(
                Patch(self.on_table(square(0.86 * pitch) + np.array(at)), f"chart {index}")
            )
        return found


def box(wide: float, high: float) -> Doubles:
    """Return the corners of a rectangle about (0, 0)."""
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array([wide, high]) / 2


def square(side: float) -> Doubles:
    """Return the corners of a square about (0, 0)."""
    return box(side, side)


def marker_shape(number: int) -> tuple[Doubles, list[Doubles]]:
    """Return a marker's black square, and its white cells joined along each row."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    bits = cv2.aruco.generateImageMarker(dictionary, number, CELLS) > 127
    cell = MARKER_MM / CELLS
    found = []
    for row, line in enumerate(bits):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(int), [0]])))
        for start, stop in edges.reshape(-1, 2):
            x0, x1 = start * cell - MARKER_MM / 2, stop * cell - MARKER_MM / 2
            y0 = row * cell - MARKER_MM / 2
            found.append(np.array([[x0, y0], [x1, y0], [x1, y0 + cell], [x0, y0 + cell]]))
    return square(MARKER_MM), found
