"""The cut list on paper: the panels drawn, every cut with its keep side, cautions beside."""

from __future__ import annotations

from datetime import date

from catalog.catalog import Catalog
from catalog.panel_cuts import cut_lines
from catalog.panel_picture import panel_picture
from catalog.panel_stock import StockPlan
from catalog.panel_words import (
    CUTTING_CAUTIONS,
    LAID_WORDS,
    PRESSING_CAUTIONS,
    bundles_words,
    flag_sentences,
    left_words,
    match_words,
    pieces_in_order,
    pieces_words,
    run_words,
    size_words,
    taken_words,
    turned_words,
    yield_words,
)
from catalog.set_paper import FOOT_MM, INK, INNER_MM, MARGIN_MM, PALE, TINT, Paper
from catalog.set_words import MM_PER_INCH
from vision.panel_plan import PlannedPanel, PlannedPiece

PICTURE_TALL_MM = 92.0
ROW_MM = 9.2
COLUMNS_MM = (9.0, 11.0, 21.0, 33.25, 33.25, 33.25, 33.25)
HEADINGS = ("Place", "Leaf", "Laid", "Left cut", "Right cut", "Top cut", "Bottom cut")
SHORT_LAID = {
    name: words.replace("turned ", "").replace("its ", "") for name, words in LAID_WORDS.items()
}
KEEP = {
    "left": "keep right ▶",
    "right": "◀ keep left",
    "top": "keep below ▼",
    "bottom": "▲ keep above",
}


def cut_sheet_pdf(catalog: Catalog, one: StockPlan, *, on: date) -> bytes:
    """Return the cut list of a plan as a PDF on A4; the same plan gives the same bytes.

    Each cut is given twice: where the pack is cut, and in bold where the joint is shot to or the
    pressed panel is trimmed to; in millimetres, inches below.
    """
    paper = Paper(title=f"Cut list, {one.flitch.name}", author="", on=on)
    _overview(paper, one)
    for number, panel in enumerate(one.plan.panels):
        _panel_pages(paper, catalog, one, number, panel)
    return bytes(paper.output())


def _overview(paper: Paper, one: StockPlan) -> None:
    plan, allowances = one.plan, one.plan.job.allowances
    y = paper.heading("Cut list", f"{one.flitch.name}, {bundles_words(plan)}: {match_words(plan)}")
    facts = [
        ("Leaves", taken_words(plan)),
        ("Yield", yield_words(plan)),
        ("Left", left_words(plan)),
        (
            "Taken off",
            (
                f"{allowances.joint_cut_mm:g} mm at each joint edge; "
                f"{allowances.overhang_side_mm:g} mm over each side and "
                f"{allowances.overhang_end_mm:g} mm over each end for pressing; "
                f"{allowances.end_trim_mm:g} mm never used at each end"
            ),
        ),
    ]
    facts += [
        (
            panel.panel.name,
            (
                f"{size_words(panel.panel.width_mm, panel.panel.length_mm)}: "
                f"{pieces_words(panel)}, leaves {run_words(plan.leaves, panel.leaves)}"
            ),
        )
        for panel in plan.panels
    ]
    for name, words in facts:
        paper.words(name, MARGIN_MM, y, size=9, colour=PALE, width=24)
        y = paper.text_block(words, MARGIN_MM + 26, y, width=INNER_MM - 26) + 1.6
    notes = [*flag_sentences(plan), turned_words(plan)]
    for title, lines in (
        ("Look at this first", [note for note in notes if note]),
        ("When cutting", CUTTING_CAUTIONS),
        ("When pressing", PRESSING_CAUTIONS),
    ):
        if lines:
            y = _box(paper, title, list(lines), y + 3)


def _box(paper: Paper, title: str, lines: list[str], y: float) -> float:
    inner = INNER_MM - 10
    height = 9.0 + sum(
        paper.block_height(f"• {line}", width=inner, size=8.5) + 0.8 for line in lines
    )
    if y + height > FOOT_MM - 4:
        y = paper.heading("Cautions")
    paper.set_fill_color(*TINT)
    paper.rect(MARGIN_MM, y, INNER_MM, height + 2, style="F")
    paper.words(title, MARGIN_MM + 5, y + 2.5, size=9, bold=True)
    at = y + 8
    for line in lines:
        at = paper.text_block(f"• {line}", MARGIN_MM + 5, at, width=inner, size=8.5) + 0.8
    return y + height + 2


def _panel_pages(
    paper: Paper, catalog: Catalog, one: StockPlan, number: int, panel: PlannedPanel
) -> None:
    size = size_words(panel.panel.width_mm, panel.panel.length_mm)
    lines = (
        f"{size}. Cuts are measured on the leaf as it lies, its top end up: across from its "
        "straightened left edge, along from its top end. Upper number: cut the pack here. Bold: "
        "shoot the joint, or trim the pressed panel, to here."
    )
    y = paper.heading(panel.panel.name, lines)
    scale = min(1500 / panel.panel.width_mm, 800 / panel.panel.length_mm)
    rgb = panel_picture(catalog.pictures, one, number, px_per_mm=scale)
    width = min(INNER_MM, PICTURE_TALL_MM * rgb.shape[1] / rgb.shape[0])
    paper.picture(rgb, MARGIN_MM, y, width=width, words=f"{panel.panel.name}, pieces in place")
    y = _table_head(paper, y + width * rgb.shape[0] / rgb.shape[1] + 5)
    for piece in pieces_in_order(panel):
        if y + ROW_MM > FOOT_MM - 3:
            y = _table_head(paper, paper.heading(f"{panel.panel.name}, continued"))
        _row(paper, one, piece, y)
        y += ROW_MM


def _table_head(paper: Paper, y: float) -> float:
    x = MARGIN_MM
    for words, width in zip(HEADINGS, COLUMNS_MM, strict=True):
        paper.words(words, x, y, size=8, bold=True, width=width - 1)
        x += width
    paper.rule(y + 4.6)
    return y + 6


def _row(paper: Paper, one: StockPlan, piece: PlannedPiece, y: float) -> None:
    leaf = one.plan.leaves[piece.leaf]
    many = len({other.bundle for other in one.plan.leaves}) > 1
    name = f"{leaf.bundle}/{leaf.label}" if many else leaf.label
    place = (
        f"{piece.column + 1}"
        if not piece.y_mm and piece.row == 0
        else (f"{piece.column + 1}, row {piece.row + 1}")
    )
    x = MARGIN_MM
    for words, width, bold in zip(
        (place, name, SHORT_LAID[piece.laid]), COLUMNS_MM[:3], (False, True, False), strict=True
    ):
        paper.words(words, x, y, size=8, bold=bold, width=width - 1.5)
        x += width
    left, top, right, bottom = cut_lines(piece)
    for cut in (left, right, top, bottom):
        _cut(paper, cut.line, (cut.rough_mm, cut.face_mm), cut.makes, (x, y))
        x += COLUMNS_MM[3]
    paper.rule(y + ROW_MM - 1.2)


def _cut(
    paper: Paper, line: str, ends: tuple[float, float], makes: str, corner: tuple[float, float]
) -> None:
    x, y = corner
    rough, face = ends
    inches = f"{rough / MM_PER_INCH:.2f} / {face / MM_PER_INCH:.2f} in"
    paper.words(f"{rough:.1f}", x, y, size=8, width=11)
    paper.words(f"{face:.1f}", x + 12, y, size=8, bold=True, width=12)
    paper.words("joint" if makes == "joint" else "outer", x + 25, y, size=6.5, colour=PALE, width=9)
    paper.words(inches, x, y + 3.6, size=6, colour=PALE, width=17)
    paper.words(KEEP[line], x + 18, y + 3.6, size=6, colour=INK, width=14.5)
