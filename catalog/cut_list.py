"""The cut list of a match: one line a cut, in millimetres and inches, for the bench."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from vision.cuts import CutPiece
from vision.layout import Layout
from vision.picture_file import MM_PER_INCH
from vision.shot import Laid

COLUMNS = (
    "piece",
    "panel",
    "leaf",
    "laid",
    "turned_deg",
    "cut",
    "use",
    "keep_side",
    "overhang_mm",
    "from_x_mm",
    "from_y_mm",
    "to_x_mm",
    "to_y_mm",
    "length_mm",
    "from_x_in",
    "from_y_in",
    "to_x_in",
    "to_y_in",
    "length_in",
)
LAID_WORDS: dict[Laid, str] = {
    Laid.AS_LIES: "as it lies",
    Laid.FACE_OVER: "turned over on its long edge",
    Laid.END_OVER: "turned over on its end",
    Laid.END_TURNED: "spun end for end",
}


def cut_list_csv(layout: Layout, pieces: Iterable[CutPiece]) -> str:
    """Return the cuts of a layout as CSV, with one line of column names.

    Places are on the leaf as it lies in the stack: x across from its straightened left edge, y
    along the grain from its top end. Cuts go round each piece clockwise, so that the piece is on
    the right of every cut. Inches to a thousandth, millimetres to a hundredth.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for piece in pieces:
        place = piece.place
        for number, cut in enumerate(piece.cuts, start=1):
            sizes = (*cut.start_mm, *cut.end_mm, cut.length_mm)
            writer.writerow(
                (
                    piece.number,
                    layout.panels[place.panel].name,
                    place.leaf,
                    LAID_WORDS[place.laid],
                    _printed(place.turned_deg, 3),
                    number,
                    cut.use.value,
                    cut.keep.value,
                    _printed(cut.overhang_mm, 2),
                    *(_printed(size, 2) for size in sizes),
                    *(_printed(size / MM_PER_INCH, 3) for size in sizes),
                )
            )
    return text.getvalue()


def _printed(value: float, digits: int) -> str:
    """Return a number at so many digits; what rounds to nothing bears no sign."""
    return f"{round(value, digits) + 0.0:.{digits}f}"
