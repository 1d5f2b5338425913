"""The cut list of a panel plan: every line on every leaf, with the side to keep."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

from catalog.panel_words import LAID_WORDS, pieces_in_order
from catalog.set_words import MM_PER_INCH, plain_cell
from vision.panel_plan import PanelPlan, PlannedPiece

HEADINGS = (
    "panel",
    "column",
    "row",
    "bundle",
    "leaf",
    "laid",
    "line",
    "makes",
    "measured from",
    "rough mm",
    "face mm",
    "keep",
    "rough in",
    "face in",
)


@dataclass(frozen=True, slots=True)
class CutLine:
    """One line on one leaf, as it lies."""

    line: str
    """Left, top, right or bottom."""
    makes: str
    """A joint, or an outer edge of the panel."""
    measured_from: str
    rough_mm: float
    """Where the pack is cut."""
    face_mm: float
    """Where the joint is shot to, or the pressed panel is trimmed to."""
    keep: str
    """The side of the line that is kept."""


def cut_lines(piece: PlannedPiece) -> tuple[CutLine, ...]:
    """Return the four lines of a piece, with the side of each that is kept."""
    rough, face = piece.rough, piece.face
    edge, end = "straightened left edge", "top end"
    each = (
        ("left", edge, rough.left, face.left, "right of the line"),
        ("top", end, rough.top, face.top, "below the line"),
        ("right", edge, rough.right, face.right, "left of the line"),
        ("bottom", end, rough.bottom, face.bottom, "above the line"),
    )
    return tuple(
        CutLine(line, "joint" if joint else "outer edge", start, rough_mm, face_mm, keep)
        for (line, start, rough_mm, face_mm, keep), joint in zip(each, piece.joints, strict=True)
    )


def cut_list_csv(plan: PanelPlan) -> str:
    """Return the cut list as comma-separated text, a line for each cut; spares stand at the end."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADINGS)
    for row in _rows(plan):
        writer.writerow([plain_cell(cell) for cell in row])
    return out.getvalue()


def _rows(plan: PanelPlan) -> Iterator[tuple[str, ...]]:
    for panel in plan.panels:
        for piece in pieces_in_order(panel):
            leaf = plan.leaves[piece.leaf]
            place = (panel.panel.name, str(piece.column + 1), str(piece.row + 1))
            for cut in cut_lines(piece):
                yield (
                    *place,
                    leaf.bundle,
                    leaf.label,
                    LAID_WORDS[piece.laid],
                    cut.line,
                    cut.makes,
                    cut.measured_from,
                    f"{cut.rough_mm:.1f}",
                    f"{cut.face_mm:.1f}",
                    cut.keep,
                    f"{cut.rough_mm / MM_PER_INCH:.2f}",
                    f"{cut.face_mm / MM_PER_INCH:.2f}",
                )
    for spare in plan.spares:
        leaf = plan.leaves[spare]
        yield ("spare", "", "", leaf.bundle, leaf.label, "keep whole", *[""] * 8)
