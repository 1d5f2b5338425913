"""A table with rails, chart and one leaf, painted from a seed: cheap, sharp, known in millimetres.

    python -m tests.bench.painted_station FOLDER [--quick]

writes ``leaf.jpg``, ``bare.jpg`` (without the leaf) and ``station.json``. Rails and holder are
drawn by a second writing of their design (`tests.spectral.printed_rails`).
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import cv2
import numpy as np

from tests.spectral.printed_rails import Holder, Patch, Rails
from vision.chart_references import chart_reference
from vision.colour_space import lab_to_linear, linear_to_srgb8, srgb_to_linear

EDITION = "after-2014"
PATCH_MM = 38.0
BOARD = (0.24, 0.24, 0.235)
INKS = {"paper": 0.86, "black": 0.04, "marker": 0.04, "frame": 0.035}
WOOD = (0.165, 0.098, 0.060)
"""Mean linear reflectance of the leaf."""
EDGE_MM = 60.0
"""Table in view beyond the rails' ends."""
STRIP_ROWS = 250
FINER = 4
"""Places along a side of a pixel that say how much of it is covered."""
NOISE = 0.07
"""Of linear light, one standard deviation of a pixel: with `QUALITY`, a third to half a byte."""
QUALITY = 98


class PaintedStation:
    """The table and a camera that looks straight down, a little turned."""

    def __init__(self, *, quick: bool) -> None:
        self.size_px = (1800, 1800) if quick else (4000, 6000)
        self.markers = 12 if quick else 29
        self.rails = Rails(self.markers, 100.0, 1.002, 0.999, 520.0, 521.5, 1.5)
        length = self.rails.length_mm("left")
        scale = self.size_px[1] / (length + 2 * EDGE_MM)
        turn = np.radians(0.35)
        way = scale * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        middle = np.array([480.0, length / 2])
        self.to_px = np.column_stack([way, (np.array(self.size_px) - 1) / 2 - way @ middle])
        self.holder = Holder(PATCH_MM, (820.0, length / 2), 2.0)
        self.leaf_mm = (300.0, length - 260.0)
        corner = np.array([110.0, 130.0])
        self.corners = corner + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * self.leaf_mm

    def truth(self) -> dict[str, object]:
        """Return what a tape says of the rails, and the leaf's true size."""
        return {
            "markers": self.markers,
            "pitch_mm": self.rails.pitch_mm,
            "left_length_mm": self.rails.length_mm("left"),
            "right_length_mm": self.rails.length_mm("right"),
            "gap_top_mm": self.rails.gap_top_mm,
            "gap_bottom_mm": self.rails.gap_bottom_mm,
            "edition": EDITION,
            "patch_mm": PATCH_MM,
            "length_mm": self.leaf_mm[1],
            "width_mm": self.leaf_mm[0],
        }

    def photograph(self, rng: np.random.Generator, *, leaf: bool) -> np.ndarray:
        """Return the photograph, sRGB."""
        width, height = self.size_px
        canvas = np.empty((height, width, 3), np.uint8)
        canvas[:] = linear_to_srgb8(np.array(BOARD))
        chart = lab_to_linear(chart_reference(EDITION).lab)
        for patch in self.rails.patches() + self.holder.patches():
            self._paint(canvas, patch, chart)
        covered = np.zeros((height, width, 1), np.uint8)
        if leaf:
            self._fill(covered, self.corners, np.array([255]))
        streaks = _streaks(rng, width)
        for top in range(0, height, STRIP_ROWS):
            rows = slice(top, min(top + STRIP_ROWS, height))
            light = srgb_to_linear(canvas[rows])
            share = covered[rows] / np.float32(255)
            light += share * (streaks * _bands(rows)[:, None] - light)
            light *= self._lamp(rows)[..., None]
            light *= 1 + np.float32(NOISE) * rng.standard_normal(light.shape, np.float32)
            canvas[rows] = linear_to_srgb8(light)
        return canvas

    def _paint(self, canvas: np.ndarray, patch: Patch, chart: np.ndarray) -> None:
        if patch.ink.startswith("chart "):
            ink = chart[int(patch.ink.split()[1])]
        else:
            told = INKS.get(patch.ink) or float(patch.ink.split()[1])
            ink = np.full(3, told)
        self._fill(canvas, patch.corners, linear_to_srgb8(ink))
        paper = linear_to_srgb8(np.full(3, INKS["paper"]))
        for cell in patch.white_cells:
            self._fill(canvas, cell, paper)

    def _fill(self, picture: np.ndarray, corners_mm: np.ndarray, ink: np.ndarray) -> None:
        """Lay an ink over a polygon; pixels on its edge are covered by their share."""
        seen = corners_mm @ self.to_px[:, :2].T + self.to_px[:, 2]
        low = np.maximum(np.floor(seen.min(axis=0)).astype(int) - 1, 0)
        high = np.minimum(np.ceil(seen.max(axis=0)).astype(int) + 2, self.size_px)
        if (high <= low).any():
            return
        size = high - low
        fine = np.zeros(size[::-1] * FINER, np.uint8)
        at = ((seen - low + 0.5) * FINER - 0.5) * 256
        cv2.fillPoly(fine, [np.round(at).astype(np.int32)], 255, shift=8)
        share = cv2.resize(fine, size.tolist(), interpolation=cv2.INTER_AREA)[..., None]
        window = picture[low[1] : high[1], low[0] : high[0]]
        mixed = window + (np.float32(ink) - window) * (share / np.float32(255))
        window[:] = np.rint(mixed).reshape(window.shape)

    def _lamp(self, rows: slice) -> np.ndarray:
        """Return the fall of light over some rows: a lamp past the upper end, and the lens."""
        width, height = self.size_px
        x = (np.arange(width, dtype=np.float32) - width / 2) / height
        y = np.arange(rows.start, rows.stop, dtype=np.float32) / height
        far = x[None] ** 2 + (y[:, None] + 0.4) ** 2 + 0.6
        return np.asarray(0.85 * 0.76 / far, np.float32)


def _streaks(rng: np.random.Generator, width: int) -> np.ndarray:
    grain = cv2.GaussianBlur(rng.standard_normal((1, width)).astype(np.float32), (0, 0), 2.0)
    tone = 1 + 0.12 * grain[0] / grain.std()
    return np.asarray(tone[:, None] * np.array(WOOD), np.float32)


def _bands(rows: slice) -> np.ndarray:
    """Return cross figure, faint."""
    y = np.arange(rows.start, rows.stop)
    return np.asarray(1 + 0.03 * np.sin(y / 9.0), np.float32)[:, None]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--quick", action="store_true")
    chosen = parser.parse_args()
    station = PaintedStation(quick=chosen.quick)
    rng = np.random.default_rng(5)
    for name, leaf in (("bare.jpg", False), ("leaf.jpg", True)):
        picture = station.photograph(rng, leaf=leaf)
        options = [cv2.IMWRITE_JPEG_QUALITY, QUALITY]
        cv2.imwrite(str(chosen.folder / name), picture[..., ::-1], options)
    (chosen.folder / "station.json").write_text(json.dumps(station.truth()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
