"""A drawing of every match with its name, as SVG: names vary by region, drawings do not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from html import escape

from vision.laying import shows_other_face
from vision.layout import Layout, LeafExtent, Placement
from vision.match_layout import Allowances, FaceWish, Match, lay_out
from vision.match_names import MATCH_NAMES, Family
from vision.piece import Point, box_of

CELL_WIDE, CELL_HIGH = 196, 206
DRAWN = 140
"""Most pixels of a drawing's longer side."""
COLUMNS = 6
MARGIN = 24
GAP = 20
HEAD = 34
PLAIN, TURNED = "#f0dfc0", "#dcbf8f"
INK, PALE, GRAIN = "#2b2520", "#6b6055", "#8a6a42"
NARROW = LeafExtent("", 100.0, 260.0, (60.0, 10.0, 20.0))
SPARE = Allowances(0.0, 0.0, 0.0)
_SHOWN: dict[Match, tuple[int, FaceWish]] = {
    Match.BOOK: (6, FaceWish()),
    Match.SLIP: (6, FaceWish()),
    Match.REVERSE_SLIP: (6, FaceWish()),
    Match.RANDOM: (6, FaceWish(seed=4)),
    Match.PLEASING: (6, FaceWish()),
    Match.PLANK: (8, FaceWish(seed=2, width_mm=520.0)),
    Match.RUNNING: (5, FaceWish(panels=((260.0, 260.0), (200.0, 260.0)))),
    Match.BALANCE: (5, FaceWish(width_mm=430.0)),
    Match.CENTRE_BALANCE: (6, FaceWish(width_mm=360.0)),
    Match.SLIP_CENTRE_BOOK: (6, FaceWish(width_mm=360.0)),
    Match.SEQUENCE: (8, FaceWish(panels=((180.0, 260.0),) * 3)),
    Match.BLUEPRINT: (8, FaceWish(panels=((100.0, 260.0), (260.0, 160.0), (150.0, 260.0)))),
    Match.SUNBURST: (12, FaceWish(pieces=12)),
    Match.HERRINGBONE: (4, FaceWish(pieces=4)),
    Match.PARQUET: (8, FaceWish(pieces=4)),
}
_WIDE = frozenset(
    {
        Match.BOX,
        Match.REVERSE_BOX,
        Match.DIAMOND,
        Match.REVERSE_DIAMOND,
        Match.HERRINGBONE,
    }
)
"""Drawn from broader leaves, to show more of the grain."""


def match_chart() -> str:
    """Return the drawing of all matches as SVG; the same every time."""
    parts: list[str] = []
    y = float(MARGIN)
    for family in Family:
        of_family = [match for match in Match if MATCH_NAMES[match].family is family]
        title = family.value.capitalize()
        parts.append(_text(title, MARGIN, y + 18, size=18, colour="#2f5d57", bold=True))
        y += HEAD
        for place, match in enumerate(of_family):
            column, row = place % COLUMNS, place // COLUMNS
            corner = (MARGIN + column * CELL_WIDE, y + row * CELL_HIGH)
            parts.append(_cell(match, corner))
        y += math.ceil(len(of_family) / COLUMNS) * CELL_HIGH + 6
    key = (
        "Pale: as it lies. Darker: turned face over, may show light and dark. Lines: grain. "
        "The mark on each piece sits near one edge of its leaf, at the top end."
    )
    parts.append(_text(key, MARGIN, y + 12, size=12, colour=PALE))
    wide, high = 2 * MARGIN + COLUMNS * CELL_WIDE, y + 34
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high:.0f}" width="{wide}" '
        f'height="{high:.0f}" font-family="DejaVu Sans, Verdana, sans-serif" role="img" '
        'aria-label="Every match by name">'
        f'<rect width="100%" height="100%" fill="#faf9f6"/>{"".join(parts)}</svg>\n'
    )


def _cell(match: Match, corner: Point) -> str:
    layout = _layout(match)
    scale = DRAWN / max(layout.width_mm, layout.length_mm)
    left = corner[0] + (CELL_WIDE - GAP - layout.width_mm * scale) / 2
    top = corner[1] + 6 + (DRAWN - layout.length_mm * scale) / 2
    drawn = "".join(_piece(place, (left, top), scale) for place in layout.placements)
    named = MATCH_NAMES[match]
    under = corner[1] + DRAWN + 26
    middle = corner[0] + (CELL_WIDE - GAP) / 2
    name = _text(named.name, middle, under, size=12, bold=True, anchor="middle")
    also = _text(named.also, middle, under + 17, size=11, colour=PALE, anchor="middle")
    return drawn + name + (also if named.also else "")


def _layout(match: Match) -> Layout:
    count, wish = _SHOWN.get(match, (8, FaceWish()))
    leaf = NARROW
    if match in _WIDE:
        leaf = LeafExtent("", 260.0, 260.0)
    run = [
        LeafExtent(str(at + 1), leaf.width_mm, leaf.length_mm, (60.0 + at, 10.0, 20.0))
        for at in range(count)
    ]
    if match in (Match.FOUR_WAY, *_WIDE) and match is not Match.HERRINGBONE:
        run = run[:4]
    return lay_out(run, match, wish=replace(wish, allowances=SPARE))


def _piece(place: Placement, corner: Point, scale: float) -> str:
    def put(point: Point) -> Point:
        return corner[0] + point[0] * scale, corner[1] + point[1] * scale

    fill = TURNED if shows_other_face(place.laid) else PLAIN
    outline = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(put, place.outline_mm))
    need = box_of(place.on_leaf_mm)
    lines = []
    count = 4 if need.width * scale < 30 else 9
    for share in ((at + 0.5) / count for at in range(count)):
        x = need.left + share * need.width
        ends = _within(place.on_leaf_mm, x)
        if ends is not None:
            (x0, y0), (x1, y1) = (put(place.to_panel((x, y))) for y in ends)
            lines.append(f"M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}")
    marks = ""
    spot = (need.left + 0.3 * need.width, need.top + 0.22 * need.height)
    ends = _within(place.on_leaf_mm, spot[0])
    if ends is not None:
        x, y = put(place.to_panel((spot[0], min(max(spot[1], ends[0] + 4), ends[1] - 4))))
        marks = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.4" fill="{GRAIN}"/>'
    return (
        f'<polygon points="{outline}" fill="{fill}" stroke="{INK}" stroke-width="1"/>'
        f'<path d="{"".join(lines)}" stroke="{GRAIN}" stroke-width="0.7" fill="none"/>{marks}'
    )


def _within(outline: Sequence[Point], x: float) -> tuple[float, float] | None:
    """Return where an upright line enters and leaves a convex outline."""
    found = []
    for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if (x0 - x) * (x1 - x) < 0:
            found.append(y0 + (y1 - y0) * (x - x0) / (x1 - x0))
    return (min(found), max(found)) if len(found) == 2 else None


def _text(
    words: str,
    x: float,
    y: float,
    *,
    size: int,
    colour: str = INK,
    bold: bool = False,
    anchor: str = "start",
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{colour}" '
        f'text-anchor="{anchor}"{weight}>{escape(words)}</text>'
    )
