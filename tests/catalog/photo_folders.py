"""Folders with some of the drawn photographs, for tests that alter them."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path

Row = dict[str, str]


def some_photos(drawn: Path, folder: Path, *, lamps: Sequence[str] = ("A",)) -> Path:
    """Return a new folder with the photographs of single leaves under these lamps."""
    folder.mkdir()
    rows = [row for row in listed(drawn) if row["lamp"] in lamps and row["laid"] == "as-lies"]
    for row in rows:
        shutil.copyfile(drawn / row["file"], folder / row["file"])
    write_list(folder, rows)
    return folder


def listed(folder: Path) -> list[Row]:
    """Return the lines of a folder's shot list."""
    with (folder / "shots.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def write_list(folder: Path, rows: Iterable[Row]) -> None:
    """Write a folder's shot list."""
    lines = list(rows)
    with (folder / "shots.csv").open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, lines[0])
        table.writeheader()
        table.writerows(lines)
