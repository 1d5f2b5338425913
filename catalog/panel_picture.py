"""A panel of a plan as a picture: the very leaves cut and laid, from their kept pictures.

A schematic: light and dark are as photographed, and a mirrored photograph shows neither truly.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.kept_pictures import THUMB_LONG_PX
from catalog.leaf_views import plain_view
from catalog.panel_stock import StockLeaf, StockPlan
from catalog.panel_words import pieces_in_order
from catalog.pictures import PictureStore
from catalog.set_paper import ACCENT
from catalog.sheet_pen import INK, PALE, Pen, short
from vision.laying import lay_pixels, shows_other_face
from vision.panel_plan import PlannedPanel, PlannedPiece
from vision.shot import Laid

MARGIN_PX = 14
LABEL_PX = 17
HEAD_PX = 56
JOINT = (252, 250, 245)
LEAST_LABEL_PX = 26
"""Narrower pieces take every other label."""


def px_per_mm_for(one: StockPlan, *, wide_px: float = 640.0, high_px: float = 560.0) -> float:
    """Return the scale at which every panel of a plan fits into so many pixels."""
    panels = [planned.panel for planned in one.plan.panels]
    wide, high = max(p.width_mm for p in panels), max(p.length_mm for p in panels)
    return min(wide_px / wide, high_px / high)


def panel_picture(
    pictures: PictureStore, one: StockPlan, number: int, *, px_per_mm: float
) -> NDArray[np.uint8]:
    """Return panel ``number`` (from 0) of a plan: pieces in place, joints, leaves named below.

    Parameters
    ----------
    pictures : PictureStore
    one : StockPlan
    number : int
    px_per_mm : float
        Pixels per millimetre of the panel.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB, as wide as the panel and its words need.
    """
    planned = one.plan.panels[number]
    panel, scale = planned.panel, px_per_mm
    wide, high = round(panel.width_mm * scale), round(panel.length_mm * scale)
    width = max(wide, 230) + 2 * MARGIN_PX
    left = (width - wide) / 2
    pen = Pen(width, high + 200)
    room = width - 2 * MARGIN_PX
    name = short(panel.name, room, size=18, bold=True)
    pen.words((MARGIN_PX, 8), name, size=18, bold=True)
    size_mm = f"{panel.width_mm:g} × {panel.length_mm:g} mm"
    pen.words((MARGIN_PX, 32), size_mm, size=15, colour=PALE)
    top = HEAD_PX + (LABEL_PX * 1.5 if planned.rows > 1 else 0.0)
    for piece in pieces_in_order(planned):
        corner, size = _place(piece, scale, left, top)
        pen.picture(_piece_picture(pictures, one.stock[piece.leaf], piece, size), corner, size)
    _joints(pen, planned, scale, (left, top))
    pen.box((left, top), (wide, high), edge=INK)
    below = _labels(pen, one, planned, scale, (left, top))
    return np.asarray(pen.sheet(below + 8))


def _place(
    piece: PlannedPiece, scale: float, left: float, top: float
) -> tuple[tuple[float, float], tuple[int, int]]:
    """Return where a piece is drawn, so that neighbours share their pixel line."""
    x0, y0 = round(piece.x_mm * scale), round(piece.y_mm * scale)
    x1 = round((piece.x_mm + piece.face.width) * scale)
    y1 = round((piece.y_mm + piece.face.height) * scale)
    return (left + x0, top + y0), (max(1, x1 - x0), max(1, y1 - y0))


def _piece_picture(
    pictures: PictureStore, stock: StockLeaf, piece: PlannedPiece, size: tuple[int, int]
) -> NDArray[np.uint8]:
    keys = stock.card.pictures
    share = piece.face.height / stock.picture_mm
    key = keys.thumb if size[1] <= THUMB_LONG_PX * share else keys.screen
    coded = np.frombuffer(pictures.read(key), np.uint8)
    pixels = np.asarray(cv2.imdecode(coded, cv2.IMREAD_COLOR_RGB), dtype=np.uint8)
    whole = lay_pixels(pixels, plain_view(stock.card).moved)
    per_mm = whole.shape[0] / stock.picture_mm
    rows = [round((stock.top_mm + y) * per_mm) for y in (piece.face.top, piece.face.bottom)]
    columns = [round((stock.left_mm + x) * per_mm) for x in (piece.face.left, piece.face.right)]
    part = whole[max(0, rows[0]) : max(rows), max(0, columns[0]) : max(columns)]
    return np.ascontiguousarray(lay_pixels(part, piece.laid))


def _joints(pen: Pen, planned: PlannedPanel, scale: float, corner: tuple[float, float]) -> None:
    left, top = corner
    panel = planned.panel
    for x in {piece.x_mm for piece in planned.pieces if piece.column}:
        at = left + x * scale
        pen.line([(at, top), (at, top + panel.length_mm * scale)], colour=JOINT, thick=1)
    for y in {piece.y_mm for piece in planned.pieces if piece.row}:
        at = top + y * scale
        pen.line([(left, at), (left + panel.width_mm * scale, at)], colour=JOINT, thick=1)


def _labels(
    pen: Pen, one: StockPlan, planned: PlannedPanel, scale: float, corner: tuple[float, float]
) -> float:
    """Name the leaves below (and above, with two rows) and mark the turned ones; return the end."""
    left, top = corner
    bottom = top + planned.panel.length_mm * scale
    widths = [piece.face.width for piece in planned.pieces]
    step = 1 if min(widths) * scale >= LEAST_LABEL_PX else 2
    for piece in pieces_in_order(planned):
        is_above = planned.rows > 1 and piece.row == 0
        y = top - LABEL_PX * 1.3 if is_above else bottom + 5
        middle = left + (piece.x_mm + piece.face.width / 2) * scale
        if piece.column % step == 0:
            label = one.plan.leaves[piece.leaf].label
            if is_above and piece.laid is not Laid.AS_LIES:
                label = f"{label} ▽"
            pen.words((middle, y), label, size=LABEL_PX - 2, anchor="ma")
        if not is_above and piece.laid is not Laid.AS_LIES:
            tone = ACCENT if shows_other_face(piece.laid) else PALE
            _turned(pen, middle, bottom + 5 + LABEL_PX * 1.5, colour=tone)
    end = bottom + 5 + LABEL_PX * 2.2
    if all(piece.laid is Laid.AS_LIES for piece in planned.pieces):
        return bottom + 5 + LABEL_PX * 1.3
    pen.words((MARGIN_PX, end), "▽ turned", size=14, colour=ACCENT)
    return end + 16


def _turned(pen: Pen, x: float, y: float, *, colour: tuple[int, int, int]) -> None:
    pen.words((x, y), "▽", size=13, colour=colour, anchor="mm")
