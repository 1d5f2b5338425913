"""The printed rails as a PDF of exact size: words, rails, leaf-end stop, chart holder."""

from __future__ import annotations

from datetime import date
from math import ceil

from catalog.rails_layout import (
    FLAP_MM,
    HOLDER_FLAP_MM,
    MARGIN_MM,
    STOP_HIGH_MM,
    RailsLayout,
    edges_mm,
)
from catalog.rails_paper import FINE_MM, GLUE, HAIR_MM, PALE, RailSheets
from catalog.rails_pieces import Piece, RailItem
from catalog.rails_sketch import SKETCH_HIGH_MM, draw_table
from catalog.rails_words import steps, what_is_here
from vision.rail_plan import END_MM, GREY_STEPS, INNER_MM, OUTER_MM, SIDES, Side

WORDS_MARGIN_MM = 20.0
CROSS_MM = 6.0
TICK_MM, MARKER_TICK_MM = 1.5, 3.0
SMALLEST_NAMED_MM = 20.0
"""Patch pitch from which a patch has room for its name."""
PART_TITLES = {"stop": "Leaf-end stop", "holder": "Chart holder"}


def print_rails(layout: RailsLayout, *, on: date) -> bytes:
    """Return the sheets as a PDF; the same layout and date give the same bytes."""
    sheets = RailSheets(layout.paper, title="Marker rails", on=on)
    sheets.add_page()
    _words_page(sheets, layout)
    for page in range(2, layout.page_count + 1):
        sheets.add_page(orientation="landscape" if page in layout.lying_pages else "portrait")
        pieces = [piece for piece in layout.pieces if piece.page == page]
        _heading(sheets, layout, page, pieces)
        for piece in pieces:
            _draw_piece(sheets, layout, piece)
        for check in layout.check_lines:
            if check.page == page:
                sheets.check_line(check)
    return bytes(sheets.output())


def _draw_piece(sheets: RailSheets, layout: RailsLayout, piece: Piece) -> None:
    items = [i for i in layout.items if i.page == piece.page and i.piece == piece.code]
    for side in SIDES:
        if piece.part == side:
            _rail_piece(sheets, layout, piece, side)
    if piece.part == "stop":
        _stop_piece(sheets, layout, piece)
    if piece.part == "holder":
        _holder_piece(sheets, layout, piece)
    for item in items:
        _draw_item(sheets, item)


def _draw_item(sheets: RailSheets, item: RailItem) -> None:
    x, y = item.page_x_mm, item.page_y_mm
    if item.marker_id is not None:
        sheets.marker(item.marker_id, x, y)
    if item.reflectance is not None and item.grey_level is not None:
        wide, high = item.width_mm, item.height_mm
        sheets.box(x - wide / 2, y - high / 2, wide, high, level=item.grey_level)
        step = GREY_STEPS.index(item.reflectance) + 1
        words = f"step {step}   {item.reflectance:.2f}"
        sheets.type(words, x, y + high / 2 + 1.6, size=4.5, level=PALE, align="C")


def _words_page(sheets: RailSheets, layout: RailsLayout) -> None:
    wide, _high = layout.page_size_mm(1)
    x, width = WORDS_MARGIN_MM, wide - 2 * WORDS_MARGIN_MM
    sheets.type("Marker rails", x, 23, size=20, bold=True)
    y = sheets.paragraph(what_is_here(layout), x, 31, width=width, size=9) + 3
    sheets.stroke((x, y), (x + width, y), wide=FINE_MM, level=PALE)
    y += 3.5
    for number, (title, words) in enumerate(steps(layout), start=1):
        sheets.type(str(number), x + 1, y + 2.2, size=13, bold=True, level=PALE)
        sheets.type(title, x + 8, y + 2.2, size=9.5, bold=True)
        y = sheets.paragraph(words, x + 28, y, width=width - 28, size=9) + 2.4
    checks = [check for check in layout.check_lines if check.page == 1]
    draw_table(sheets, layout, x, (y + checks[0].y_mm - SKETCH_HIGH_MM) / 2, width)
    for check in checks:
        sheets.check_line(check)


def _heading(sheets: RailSheets, layout: RailsLayout, page: int, pieces: list[Piece]) -> None:
    wide, high = layout.page_size_mm(page)
    codes = " and ".join(piece.code for piece in pieces[:2])
    if len(pieces) > 2:
        codes = f"{pieces[0].code} to {pieces[-1].code}"
    title = PART_TITLES.get(pieces[0].part, "Rails, left and right")
    x = MARGIN_MM + 9
    sheets.type(f"{title}   {codes}", x, 14.5, size=12, bold=True)
    sheets.type(f"sheet {page} of {layout.page_count}", wide - x, 14.5, level=PALE, align="R")
    greys = "Printed greys are not what the printer was asked for: enter measured values, "
    greys += "or lay a colour chart."
    note = greys if pieces[0].part in SIDES else ""
    sheets.type(f"Print at 100 %, on matt paper. {note}", wide / 2, high - 12, size=6.5, align="C")


def _rail_piece(sheets: RailSheets, layout: RailsLayout, piece: Piece, side: Side) -> None:
    x0, top = piece.x0_mm, piece.y0_mm + piece.start_mm
    left, right = (x0 + edge for edge in edges_mm(side))
    bottom = piece.y0_mm + piece.end_mm
    if not piece.is_last:
        sheets.box(left, bottom, right - left, FLAP_MM, level=GLUE)
        words = f"{piece.code[0]}{piece.number + 1} is glued on here, its head on the line"
        sheets.type(words, (left + right) / 2, bottom + FLAP_MM / 2 + 1, size=7, align="C")
    foot = bottom if piece.is_last else bottom + FLAP_MM
    for edge in (left, right):
        sheets.stroke((edge, top - 2), (edge, foot + 2), level=PALE, dashed=True)
    is_first = piece.number == 1
    sheets.stroke((left, top), (right, top), wide=0.6 if is_first else FINE_MM)
    sheets.stroke((left, bottom), (right, bottom), wide=FINE_MM)
    _crosses(sheets, piece, side)
    _edge_ticks(sheets, layout, piece, side)
    _label(sheets, piece, x0 - 17, top + 7.2)
    words = "cut here: this end lies against the stop" if is_first else "cut here"
    sheets.type(words, (left + right) / 2, top - 2.4, size=6.5, align="C")


def _crosses(sheets: RailSheets, piece: Piece, side: Side) -> None:
    """Draw the upright half of the hairline crosses; the seam's own line is the other."""
    outwards = -1 if side == "left" else 1
    for x in (outwards * (OUTER_MM - 4), 0.0, -outwards * (INNER_MM - 6)):
        at = piece.x0_mm + x
        if piece.number > 1:
            top = piece.y0_mm + piece.start_mm
            sheets.stroke((at, top), (at, top + CROSS_MM - 1))
        if not piece.is_last:
            bottom = piece.y0_mm + piece.end_mm
            sheets.stroke((at, bottom - CROSS_MM + 1), (at, bottom + CROSS_MM - 2))


def _edge_ticks(sheets: RailSheets, layout: RailsLayout, piece: Piece, side: Side) -> None:
    """Draw a tick every 10 mm along the edge beside the leaf, longer at centres of markers."""
    edge, inwards = (INNER_MM, -1) if side == "left" else (-INNER_MM, 1)
    last = round(layout.plan.length_mm)
    for y in range(round(-END_MM) + 10, last + round(END_MM), 10):
        if not piece.start_mm <= y < piece.end_mm:
            continue
        is_centre = y % round(layout.plan.pitch_mm) == 0 and 0 <= y <= last
        reach = MARKER_TICK_MM if is_centre else TICK_MM
        x, at = piece.x0_mm + edge, piece.y0_mm + y
        wide = 0.4 if y in (0, last) else FINE_MM if is_centre else HAIR_MM
        sheets.stroke((x, at), (x + inwards * reach, at), wide=wide)


def _label(sheets: RailSheets, piece: Piece, x: float, y: float) -> None:
    """Write a piece's number with an arrow that points towards the stop."""
    sheets.arrow_up(x, y + 1.3)
    sheets.type(piece.code, x + 3, y, size=9, bold=True, level=PALE)


def _stop_piece(sheets: RailSheets, layout: RailsLayout, piece: Piece) -> None:
    top, edge = piece.y0_mm, piece.y0_mm + STOP_HIGH_MM
    start, end = piece.x0_mm + piece.start_mm, piece.x0_mm + piece.end_mm
    foot = end if piece.is_last else end + FLAP_MM
    if not piece.is_last:
        sheets.box(end, top, FLAP_MM, STOP_HIGH_MM, level=GLUE)
        words = f"S{piece.number + 1} is glued on here"
        sheets.type_upright(words, end + FLAP_MM / 2, edge - 4, size=6.0)
    sheets.stroke((start - 2, top), (foot + 2, top), level=PALE, dashed=True)
    sheets.stroke((start, edge), (foot, edge), wide=0.6)
    for x in (start, end):
        sheets.stroke((x, top), (x, edge), wide=FINE_MM)
    for y in (top + 5, edge - 10):
        if piece.number > 1:
            sheets.stroke((start, y), (start + CROSS_MM - 1, y))
        if not piece.is_last:
            sheets.stroke((end - CROSS_MM + 1, y), (end + CROSS_MM - 2, y))
    _label(sheets, piece, start + 9, top + 7)
    words = "Leaf-end stop: glue on a straight batten, this edge flush"
    sheets.type(words, start + 30, top + 7, size=7, level=PALE)
    _stop_scale(sheets, layout, piece)


def _stop_scale(sheets: RailSheets, layout: RailsLayout, piece: Piece) -> None:
    """Draw millimetres from the left rail's centre line, and where the rails meet the stop."""
    edge = piece.y0_mm + STOP_HIGH_MM
    for mm in range(10 * ceil(piece.start_mm / 10), ceil(piece.end_mm), 10):
        reach = 5.0 if mm % 100 == 0 else 3.0 if mm % 50 == 0 else 1.8
        at = piece.x0_mm + mm
        sheets.stroke((at, edge), (at, edge - reach), wide=FINE_MM if mm % 100 == 0 else HAIR_MM)
        if mm % 100 == 0 and piece.start_mm + 6 < mm < piece.end_mm - 6:
            beside = 5.0 if mm in (0, layout.gap_mm) else 0.0
            sheets.type(f"{mm}", at + beside, edge - 7, size=6, align="C")
    for side, centre in zip(SIDES, (0.0, layout.gap_mm), strict=True):
        for off in (*edges_mm(side), 0.0):
            x, at = centre + off, piece.x0_mm + centre + off
            if piece.start_mm <= x <= piece.end_mm:
                sheets.stroke((at, edge), (at, edge - 14), wide=0.4, dashed=off != 0.0)
        if piece.start_mm <= centre < piece.end_mm:
            words = f"{side} rail: its centre line here"
            sheets.type(words, piece.x0_mm + centre, edge - 16.5, size=6.5, align="C")


def _holder_piece(sheets: RailSheets, layout: RailsLayout, piece: Piece) -> None:
    x0, y0, half = piece.x0_mm, piece.y0_mm, layout.holder_size_mm[1] / 2
    wide, high = (side / 2 for side in layout.holder.window_mm)
    start, end = x0 + piece.start_mm, x0 + piece.end_mm
    foot = end if piece.is_last else end + HOLDER_FLAP_MM
    window = max(start, x0 - wide), min(end, x0 + wide)
    for y in (y0 - half, y0 + half):
        sheets.stroke((start, y), (foot, y), level=PALE, dashed=True)
    for y in (y0 - high, y0 + high):
        sheets.stroke((window[0], y), (window[1], y), wide=FINE_MM)
        if not piece.is_last:
            top = min(y, y0 + half if y > y0 else y0 - half)
            sheets.box(end, top, HOLDER_FLAP_MM, half - high, level=GLUE)
            sheets.stroke((end, y), (foot, y), wide=FINE_MM)
    for x in (start, end):
        is_seam = abs(x - x0) < wide
        for a, b in ((-half, -high), (high, half)) if is_seam else ((-half, half),):
            sheets.stroke((x, y0 + a), (x, y0 + b), wide=FINE_MM, dashed=not is_seam)
    for x in (x0 - wide, x0 + wide):
        if start < x < end:
            sheets.stroke((x, y0 - high), (x, y0 + high), wide=FINE_MM)
    marker_x = max(layout.holder.marker_centres().values())[0]
    _label(sheets, piece, x0 + (marker_x if piece.number > 1 else -marker_x) - 7, y0)
    _holder_words(sheets, layout, piece)


def _holder_words(sheets: RailSheets, layout: RailsLayout, piece: Piece) -> None:
    """Outline the patches in the window, which is cut away, and name its first."""
    x0, y0, pitch = piece.x0_mm, piece.y0_mm, layout.holder.patch_pitch_mm
    wide, high = (side / 2 for side in layout.holder.window_mm)
    sheets.set_draw_color(215)
    sheets.set_line_width(HAIR_MM)
    for item in layout.items:
        if item.kind == "chart patch" and item.page == piece.page:
            side = 0.8 * pitch
            sheets.rect(item.page_x_mm - side / 2, item.page_y_mm - side / 2, side, side)
    if piece.number == 1:
        x, y = layout.holder.patch_centres()[0]
        if pitch >= SMALLEST_NAMED_MM:
            sheets.type("dark skin", x0 + x, y0 + y, size=6.5, level=PALE, align="C")
        sheets.type("dark skin at this corner", x0 - wide, y0 - high - 3, size=6.5)
    if not piece.is_last:
        words = f"H{piece.number + 1} is glued on the tinted flaps"
        sheets.type(words, x0 + piece.end_mm - 3, y0 + high + 4, size=6.5, align="R")
    words = "cut out the window"
    middle = max(piece.start_mm, -wide) / 2 + min(piece.end_mm, wide) / 2
    sheets.type(words, x0 + middle, y0, level=PALE, align="C")
