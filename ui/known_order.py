"""What is known of a stack, from a table that the dealer keeps."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from vision.errors import ShotListFaulty
from vision.shot import Laid
from vision.stack_order import Known

COLUMNS = ("number", "bundle", "place", "laid")


def read_known(file: Path) -> Known:
    """Return what a table says of leaves: number marks, bundles, places and layings.

    Raises
    ------
    ShotListFaulty
        If the table has no column ``leaf``, or a cell that cannot be read.
    """
    text = file.read_bytes().decode("utf-8-sig", errors="replace")
    rows = csv.DictReader(io.StringIO(text, newline=""))
    if "leaf" not in (rows.fieldnames or ()):
        raise ShotListFaulty(
            f"{file.name} has no column leaf. Give its first line the words leaf and any of "
            f"{', '.join(COLUMNS)}, with commas between them."
        )
    numbers: dict[str, float] = {}
    bundles: dict[str, str] = {}
    places: dict[str, int] = {}
    laid: dict[str, Laid] = {}
    for row in rows:
        leaf = (row["leaf"] or "").strip()
        cells = {name: (row.get(name) or "").strip() for name in COLUMNS}
        try:
            if cells["number"]:
                numbers[leaf] = float(cells["number"].replace(",", "."))
            if cells["bundle"]:
                bundles[leaf] = cells["bundle"]
            if cells["place"]:
                places[leaf] = _place(cells["place"])
            if cells["laid"]:
                laid[leaf] = _laying(cells["laid"])
        except ValueError as error:
            raise ShotListFaulty(
                f"Line {rows.line_num} of {file.name} cannot be read: {error}. Correct the cell, "
                "or leave it empty."
            ) from error
    return Known(numbers, bundles, places, laid)


def _place(text: str) -> int:
    place = int(text)
    if place < 1:
        raise ValueError(f"place {text}, but places are counted from 1")
    return place - 1


def _laying(text: str) -> Laid:
    laid = Laid(text.casefold())
    if laid is Laid.OPENED_PAIR:
        raise ValueError("laid opened-pair, but one leaf is asked for")
    return laid
