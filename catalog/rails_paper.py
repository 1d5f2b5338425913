"""The pen for the printed rails: exact squares, hairlines, crosses, check lines, small type.

Everything is a vector in millimetres; black is black ink alone (DeviceGray), so that no colour of
the printer gets into a marker or a grey.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time

import cv2
import numpy as np
from fpdf import FPDF
from fpdf.prefs import ViewerPreferences
from numpy.typing import NDArray

from catalog.picture_caption import FONTS
from catalog.rails_layout import CheckLine, RailsPaper
from vision.rail_plan import MARKER_MM

PT_TO_MM = 25.4 / 72
CELLS = 6
"""Cells across a marker of 4 by 4 with its black border."""
HAIR_MM = 0.12
FINE_MM = 0.25
BLACK, PALE, GLUE = 0, 110, 232


class RailSheets(FPDF):
    """Sheets of one paper; millimetres from the top left corner."""

    def __init__(self, paper: RailsPaper, *, title: str, on: date) -> None:
        super().__init__(orientation="portrait", unit="mm", format=paper.size_mm)
        self.set_title(title)
        self.set_lang("en-GB")
        self.set_creation_date(datetime.combine(on, time(), UTC))
        self.set_auto_page_break(auto=False)
        # asks the print dialogue for no scaling; not every program listens
        self.viewer_preferences = ViewerPreferences(print_scaling="None")
        self.c_margin = 0.0
        self.add_font("house", "", FONTS / "DejaVuSans.ttf")
        self.add_font("house", "B", FONTS / "DejaVuSans-Bold.ttf")

    def box(self, x: float, y: float, wide: float, high: float, *, level: int) -> None:
        """Fill a rectangle from its top left corner with a grey, 0 to 255."""
        self.set_fill_color(level)
        self.rect(x, y, wide, high, style="F")

    def marker(self, number: int, x: float, y: float) -> None:
        """Draw a marker round its centre: a black square and its white cells as rectangles.

        White cells that touch are covered by one rectangle along and one across, so that no
        viewer shows a hairline between them.
        """
        left, top, cell = x - MARKER_MM / 2, y - MARKER_MM / 2, MARKER_MM / CELLS
        self.box(left, top, MARKER_MM, MARKER_MM, level=BLACK)
        white = marker_cells(number)
        for row, column, count in _runs(white):
            self.box(left + column * cell, top + row * cell, count * cell, cell, level=255)
        for column, row, count in _runs(white.T):
            if count > 1:
                self.box(left + column * cell, top + row * cell, cell, count * cell, level=255)

    def stroke(
        self,
        start: tuple[float, float],
        end: tuple[float, float],
        *,
        wide: float = HAIR_MM,
        level: int = BLACK,
        dashed: bool = False,
    ) -> None:
        """Draw a straight line."""
        self.set_draw_color(level)
        self.set_line_width(wide)
        if dashed:
            self.set_dash_pattern(dash=2.0, gap=1.2)
        self.line(*start, *end)
        if dashed:
            self.set_dash_pattern()

    def arrow_up(self, x: float, y: float, *, size: float = 2.6, level: int = PALE) -> None:
        """Draw a filled arrow head whose foot stands on y."""
        self.set_fill_color(level)
        self.polygon([(x - size / 2, y), (x + size / 2, y), (x, y - size)], style="F")

    def type(
        self,
        words: str,
        x: float,
        y: float,
        *,
        size: float = 8.0,
        bold: bool = False,
        level: int = BLACK,
        align: str = "L",
    ) -> None:
        """Write one line whose middle lies at y; x is its left, middle (C) or right (R)."""
        self._pen(size, level, bold=bold)
        wide = self.get_string_width(words)
        left = x - {"L": 0.0, "C": wide / 2, "R": wide}[align]
        high = size * PT_TO_MM * 1.2
        self.set_xy(left, y - high / 2)
        self.cell(wide, high, words)

    def type_upright(
        self, words: str, x: float, y: float, *, size: float = 7.0, level: int = BLACK
    ) -> None:
        """Write one line from y upwards, read from the right, its middle at x."""
        with self.rotation(90, x, y):
            self.type(words, x, y, size=size, level=level)

    def paragraph(
        self,
        words: str,
        x: float,
        y: float,
        *,
        width: float,
        size: float = 9.0,
        bold: bool = False,
        level: int = BLACK,
    ) -> float:
        """Write a paragraph; return where it ends."""
        self._pen(size, level, bold=bold)
        self.set_xy(x, y)
        self.multi_cell(width, size * PT_TO_MM * 1.38, words, align="L")
        return float(self.get_y())

    def check_line(self, check: CheckLine) -> None:
        """Draw a line of exact length with a tick every 10 mm, and what it must measure."""
        words = f"Check with a steel rule: {check.length_mm:g} mm from end tick to end tick"
        x, y, length = check.x_mm, check.y_mm, check.length_mm
        if check.upright:
            self.stroke((x, y), (x, y + length), wide=FINE_MM)
            self.type_upright(words, x + 3.0, y + length, size=6.5, level=PALE)
        else:
            self.stroke((x, y), (x + length, y), wide=FINE_MM)
            self.type(words, x, y + 2.6, size=6.5, level=PALE)
        for step in range(int(length / 10) + 1):
            reach = 3.0 if step in (0, int(length / 10)) else 1.6 if step % 5 == 0 else 1.0
            at = (x, y + 10 * step) if check.upright else (x + 10 * step, y)
            tip = (at[0] - reach, at[1]) if check.upright else (at[0], at[1] - reach)
            self.stroke(at, tip)

    def _pen(self, size: float, level: int, *, bold: bool = False) -> None:
        self.set_font("house", "B" if bold else "", size)
        self.set_text_color(level)


def marker_cells(number: int) -> NDArray[np.bool_]:
    """Return which of the 6 by 6 cells of a marker are white.

    Examples
    --------
    >>> marker_cells(0)[1].tolist()
    [False, True, False, True, True, False]
    """
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    return np.asarray(cv2.aruco.generateImageMarker(dictionary, number, CELLS)) > 127


def _runs(white: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
    """Return row, first column and length of every run of white cells."""
    runs = []
    for row, cells in enumerate(white):
        edges = np.flatnonzero(np.diff(np.concatenate([[False], cells, [False]]).astype(int)))
        runs += [(row, int(a), int(b - a)) for a, b in edges.reshape(-1, 2)]
    return runs
