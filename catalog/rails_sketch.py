"""A small drawing of the finished table, seen from above, with what is to be measured."""

from __future__ import annotations

from catalog.rails_layout import RailsLayout
from catalog.rails_paper import BLACK, FINE_MM, GLUE, HAIR_MM, PALE, RailSheets
from vision.rail_plan import RIGHT_FROM

SKETCH_HIGH_MM = 62.0
RAIL_HIGH_MM, SQUARE_MM = 7.0, 4.0
SQUARES = 12
"""Markers drawn on each rail, whatever their number."""
STOP_WIDE_MM = 5.0


def draw_table(sheets: RailSheets, layout: RailsLayout, x: float, y: float, width: float) -> None:
    """Draw the table with its stop at the left, so that up in a photograph is left here."""
    left, right = x + 22, x + width - 22
    upper, lower = y + 9, y + 45
    sheets.box(left - STOP_WIDE_MM, y + 6, STOP_WIDE_MM, 49, level=190)
    sheets.type_upright("stop", left - STOP_WIDE_MM / 2, y + 34, size=7)
    sheets.box(left + 1, y + 21, (right - left) * 0.76, 15, level=GLUE)
    sheets.type("leaf, its end against the stop", left + 10, y + 28.5, size=7.5)
    _chart(sheets, right - 28, y + 22)
    last = layout.plan.markers - 1
    for top, name, first in ((upper, "right rail", RIGHT_FROM), (lower, "left rail", 0)):
        _rail(sheets, left, right, top)
        sheets.type(name, right + 3, top + RAIL_HIGH_MM / 2, size=7.5)
        away = top - 3.5 if first else top + RAIL_HIGH_MM + 3.5
        words = f"{first} to {first + last}, centre to centre, by tape"
        _measured(sheets, (left + 4, away), (right - 4, away), words)
    for at in (left + 4, right - 4):
        sheets.stroke((at, upper + RAIL_HIGH_MM / 2), (at, lower + RAIL_HIGH_MM / 2), level=PALE)
    sheets.type_upright("gap", left + 6, y + 43, size=6.5, level=PALE)
    sheets.type_upright("gap", right - 2, y + 43, size=6.5, level=PALE)


def _rail(sheets: RailSheets, left: float, right: float, top: float) -> None:
    sheets.box(left, top, right - left, RAIL_HIGH_MM, level=255)
    sheets.stroke((left, top), (right, top), wide=FINE_MM)
    sheets.stroke((left, top + RAIL_HIGH_MM), (right, top + RAIL_HIGH_MM), wide=FINE_MM)
    sheets.stroke((right, top), (right, top + RAIL_HIGH_MM), wide=FINE_MM)
    pitch = (right - left - 8) / (SQUARES - 1)
    middle = top + RAIL_HIGH_MM / 2
    for index in range(SQUARES):
        corner = left + 4 + index * pitch - SQUARE_MM / 2
        sheets.box(corner, middle - SQUARE_MM / 2, SQUARE_MM, SQUARE_MM, level=BLACK)


def _measured(
    sheets: RailSheets, start: tuple[float, float], end: tuple[float, float], words: str
) -> None:
    """Draw a dimension line across with its words in the middle of it."""
    sheets.stroke(start, end)
    for x, y in (start, end):
        sheets.stroke((x, y - 1.2), (x, y + 1.2), wide=FINE_MM)
    middle = (start[0] + end[0]) / 2
    sheets.box(middle - 32, start[1] - 1.5, 64, 3, level=255)
    sheets.type(words, middle, start[1], size=7, align="C")


def _chart(sheets: RailSheets, x: float, y: float) -> None:
    sheets.set_draw_color(PALE)
    sheets.set_line_width(HAIR_MM)
    sheets.rect(x, y, 14, 13)
    for dx in (1.0, 11.0):
        for dy in (1.0, 10.0):
            sheets.box(x + dx, y + dy, 2, 2, level=BLACK)
    sheets.type("chart", x + 7, y + 6.5, size=6, level=PALE, align="C")
