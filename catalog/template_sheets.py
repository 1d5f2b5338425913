"""Templates of a match on paper at 1:1, in tiles: what to cut, which side to keep, what stands out.

The first sheet shows the whole face with its pieces numbered and says how to go on; then each
different piece follows at its real size, on as many sheets as it takes, to be glued edge to edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import atan2, ceil, cos, degrees, hypot, pi, sin

import cv2
import numpy as np

from catalog.errors import CatalogError
from catalog.rails_layout import CheckLine, RailsPaper
from catalog.rails_paper import FINE_MM, HAIR_MM, PALE, RailSheets
from catalog.template_words import CAUTIONS, STEPS
from vision.cuts import CutPiece, CutUse
from vision.laying import shows_other_face
from vision.layout import Layout
from vision.match_names import MATCH_NAMES
from vision.piece import Box, Point, box_of, middle_of

MARGIN_MM = 12.0
HEAD_MM = 16.0
"""Above and below the tile, for words and the check line."""
MOST_SHEETS = 120
CHECK_MM = 100.0
SKETCH_HIGH_MM = 100.0
HATCH_MM = 6.0
"""Between the strokes that mark the waste side of a cut."""
CROSS_MM = 4.0
LONG_CUT_MM = 200.0
"""From here up a cut is named twice: the edge of a sheet may run through one name."""
TURNED_GREY, PLAIN_GREY = 222, 255


@dataclass(frozen=True, slots=True)
class Template:
    """One shape, and the pieces of the layout that are cut by it."""

    piece: CutPiece
    """The first of them."""
    numbers: tuple[int, ...]

    @property
    def outline_mm(self) -> tuple[Point, ...]:
        """What is cut, from its own top left corner."""
        return moved_to_corner(self.piece.outline_mm, self.piece.outline_mm)


def moved_to_corner(points: Sequence[Point], outline: Sequence[Point]) -> tuple[Point, ...]:
    """Return points with the top left corner of ``outline`` at 0, 0."""
    box = box_of(outline)
    return tuple((x - box.left, y - box.top) for x, y in points)


def templates(pieces: Sequence[CutPiece]) -> tuple[Template, ...]:
    """Return the different shapes among some pieces, in the order in which they come.

    Pieces that differ by less than a tenth of a millimetre share one.
    """
    alike: dict[tuple[object, ...], list[CutPiece]] = {}
    for piece in pieces:
        corners = moved_to_corner(piece.outline_mm, piece.outline_mm)
        shape = tuple(
            sorted(
                (round(x, 1), round(y, 1), cut.use.value)
                for (x, y), cut in zip(corners, piece.cuts, strict=True)
            )
        )
        alike.setdefault(shape, []).append(piece)
    return tuple(Template(one[0], tuple(p.number for p in one)) for one in alike.values())


def template_sheets(pieces: Sequence[CutPiece], paper: RailsPaper) -> int:
    """Return how many sheets the templates take at most, the first sheet not counted."""
    tile = _tile(paper)
    return sum(_across(one, tile) * _down(one, tile) for one in templates(pieces))


def print_templates(
    layout: Layout, pieces: Sequence[CutPiece], *, paper: RailsPaper, on: date
) -> bytes:
    """Return the sheets as a PDF; the same layout and date give the same bytes.

    Raises
    ------
    CatalogError
        If they would be more than `MOST_SHEETS`.
    """
    shapes, tile = templates(pieces), _tile(paper)
    count = template_sheets(pieces, paper)
    if count > MOST_SHEETS:
        raise CatalogError(
            f"The templates would take {count} sheets, more than {MOST_SHEETS}. Straight leaves "
            "need none: use the cut list; or make the face smaller."
        )
    sheets = RailSheets(paper, title=f"{MATCH_NAMES[layout.match].name}, templates", on=on)
    sheets.add_page()
    _first_sheet(sheets, layout, pieces, paper)
    for place, one in enumerate(shapes):
        name = chr(ord("A") + place % 26) + (str(place // 26) if place >= 26 else "")
        _shape_sheets(sheets, one, name, tile)
    return bytes(sheets.output())


def _tile(paper: RailsPaper) -> Box:
    wide, high = paper.size_mm
    return Box(MARGIN_MM, MARGIN_MM + HEAD_MM, wide - MARGIN_MM, high - MARGIN_MM - HEAD_MM)


def _across(one: Template, tile: Box) -> int:
    return max(1, ceil(box_of(one.outline_mm).width / tile.width - 1e-9))


def _down(one: Template, tile: Box) -> int:
    return max(1, ceil(box_of(one.outline_mm).height / tile.height - 1e-9))


def _first_sheet(
    sheets: RailSheets, layout: Layout, pieces: Sequence[CutPiece], paper: RailsPaper
) -> None:
    wide, high = paper.size_mm
    x, width = 20.0, wide - 40.0
    named = MATCH_NAMES[layout.match]
    sheets.type(named.name, x, 22, size=18, bold=True)
    size = f"{layout.width_mm:.1f} x {layout.length_mm:.1f} mm finished. {named.sentence}"
    y = sheets.paragraph(size, x, 29, width=width, size=8.5) + 4
    scale = min(width / layout.width_mm, SKETCH_HIGH_MM / layout.length_mm)
    _sketch(sheets, layout, (x, y), scale)
    y += layout.length_mm * scale + 5
    y = sheets.paragraph(_pieces_words(pieces), x, y, width=width, size=7.5, level=PALE) + 2
    for words in STEPS:
        y = sheets.paragraph(words, x, y, width=width, size=7.5) + 1.0
    sheets.type("Care", x, y + 3, size=9, bold=True)
    y += 6
    for words in CAUTIONS:
        y = sheets.paragraph(words, x, y, width=width, size=7.5) + 0.8
    sheets.check_line(CheckLine(1, x, high - 9, CHECK_MM, upright=False))


def _pieces_words(pieces: Sequence[CutPiece]) -> str:
    turned = [str(piece.number) for piece in pieces if shows_other_face(piece.place.laid)]
    if not turned:
        return "Numbers are pieces. All lie the same face up."
    return (
        f"Numbers are pieces; the grey ones ({', '.join(turned)}) lie face over: their fibres "
        "slope the other way, so they may show lighter or darker than their neighbours."
    )


def _sketch(sheets: RailSheets, layout: Layout, corner: Point, scale: float) -> None:
    for number, place in enumerate(layout.placements, start=1):
        outline = [(corner[0] + x * scale, corner[1] + y * scale) for x, y in place.outline_mm]
        sheets.set_fill_color(TURNED_GREY if shows_other_face(place.laid) else PLAIN_GREY)
        sheets.set_draw_color(0)
        sheets.set_line_width(FINE_MM)
        sheets.polygon(outline, style="DF")
        box, (x, y) = box_of(outline), middle_of(outline)
        _grain(sheets, (x, y), place.turned_deg, min(box.width, box.height) * 0.3)
        size = max(4.0, min(8.0, box.width * 0.9))
        sheets.type(str(number), x + 1.0, y, size=size, bold=True)


def _grain(sheets: RailSheets, at: Point, turned_deg: float, reach: float) -> None:
    angle = turned_deg * pi / 180.0
    dx, dy = -sin(angle) * reach, cos(angle) * reach
    sheets.stroke((at[0] - dx, at[1] - dy), (at[0] + dx, at[1] + dy), wide=HAIR_MM, level=PALE)


def _shape_sheets(sheets: RailSheets, one: Template, name: str, tile: Box) -> None:
    across, down = _across(one, tile), _down(one, tile)
    for row in range(down):
        for column in range(across):
            if not _reaches(one, tile, (column, row)):
                continue
            sheets.add_page()
            corner = (tile.left - column * tile.width, tile.top - row * tile.height)
            with sheets.rect_clip(tile.left, tile.top, tile.width, tile.height):
                _shape(sheets, one, corner)
            # the pen thinks its fill is what it was within the clip; say it anew
            sheets.set_fill_color(255)
            _tile_marks(sheets, tile)
            _tile_words(sheets, one, f"{name}{row * across + column + 1}", (across, down), tile)


def _reaches(one: Template, tile: Box, at: tuple[int, int]) -> bool:
    """Tell whether any of a shape is on that sheet."""
    left, top = at[0] * tile.width, at[1] * tile.height
    sheet = Box(left, top, left + tile.width, top + tile.height).corners
    shape = np.array(one.outline_mm, np.float32)
    area, _ = cv2.intersectConvexConvex(shape, np.array(sheet, np.float32))
    return bool(area > 1.0)


def _shape(sheets: RailSheets, one: Template, corner: Point) -> None:
    piece = one.piece
    outline = [(x + corner[0], y + corner[1]) for x, y in one.outline_mm]
    for index, cut in enumerate(piece.cuts):
        start, end = outline[index], outline[(index + 1) % len(outline)]
        is_joint = cut.use is CutUse.JOINT
        sheets.stroke(start, end, wide=FINE_MM, dashed=not is_joint)
        _waste_side(sheets, start, end)
        words = "joint: keep the side without strokes" if is_joint else "rim"
        if not is_joint and cut.overhang_mm > 0:
            words = f"rim, stands out {cut.overhang_mm:.0f} mm"
        _along(sheets, start, end, words)
    finished = moved_to_corner(piece.place.on_leaf_mm, piece.outline_mm)
    for index in range(len(finished)):
        start, end = finished[index], finished[(index + 1) % len(finished)]
        sheets.stroke(
            (start[0] + corner[0], start[1] + corner[1]),
            (end[0] + corner[0], end[1] + corner[1]),
            wide=HAIR_MM,
            level=PALE,
        )
    box = box_of(outline)
    middle = (box.left + box.right) / 2
    sheets.stroke((middle, box.top), (middle, box.bottom), wide=HAIR_MM, level=PALE, dashed=True)
    sheets.arrow_up(middle, box.top + box.height * 0.35)
    sheets.type_upright("grain, top end of the leaf up", middle + 3, box.top + box.height * 0.6)


def _waste_side(sheets: RailSheets, start: Point, end: Point) -> None:
    """Draw short strokes on the waste side: the left, for cuts run clockwise."""
    long = hypot(end[0] - start[0], end[1] - start[1])
    ux, uy = (end[0] - start[0]) / long, (end[1] - start[1]) / long
    for step in range(1, int(long / HATCH_MM)):
        x, y = start[0] + ux * step * HATCH_MM, start[1] + uy * step * HATCH_MM
        sheets.stroke((x, y), (x + 2.0 * (uy + ux), y + 2.0 * (uy - ux)), level=PALE)


def _along(sheets: RailSheets, start: Point, end: Point, words: str) -> None:
    """Write beside a cut, within the piece, so that it reads from the foot of the sheet."""
    angle = degrees(atan2(end[1] - start[1], end[0] - start[0]))
    inward = 4.0
    if not -90.0 < angle <= 90.0:
        angle += 180.0
        inward = -4.0
    is_long = hypot(end[0] - start[0], end[1] - start[1]) > LONG_CUT_MM
    for share in (0.25, 0.75) if is_long else (0.5,):
        x, y = (one + share * (other - one) for one, other in zip(start, end, strict=True))
        with sheets.rotation(-angle, x, y):
            sheets.type(words, x, y + inward, size=6.5, align="C")


def _tile_marks(sheets: RailSheets, tile: Box) -> None:
    for x, y in tile.corners:
        sheets.stroke((x - CROSS_MM, y), (x + CROSS_MM, y), level=PALE)
        sheets.stroke((x, y - CROSS_MM), (x, y + CROSS_MM), level=PALE)


def _tile_words(
    sheets: RailSheets, one: Template, name: str, tiles: tuple[int, int], tile: Box
) -> None:
    numbers = ", ".join(str(number) for number in one.numbers[:24])
    more = " ..." if len(one.numbers) > 24 else ""
    box = box_of(one.outline_mm)
    sheets.type(name, tile.left + 6, MARGIN_MM + 3, size=12, bold=True)
    words = (
        f"pieces {numbers}{more}   {box.width:.1f} across x {box.height:.1f} mm along the grain   "
        f"{tiles[0]} x {tiles[1]} sheets"
    )
    sheets.type(words, tile.left + 20, MARGIN_MM + 3, size=7)
    foot = tile.bottom + 11
    words = "Print at 100 %. Cut at the crosses, butt the sheets, tape them."
    sheets.type(words, tile.left + CHECK_MM + 12, foot, size=6.0, level=PALE)
    sheets.check_line(CheckLine(sheets.page, tile.left + 2, foot, CHECK_MM, upright=False))
