"""A folder's shot list: ``shots.csv``, or the file names where there is none."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from vision.errors import ShotListFaulty
from vision.part_lines import PartLine, gather_parts, part_number
from vision.shot import Laid, Lamp, Shot

SHOT_LIST_NAME = "shots.csv"
PHOTO_ENDINGS = (
    frozenset({".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".avif"})
    | {".heic", ".heif", ".hif"}
    | {".3fr", ".arw", ".cr2", ".cr3", ".crw", ".dng", ".erf", ".iiq", ".kdc", ".mef", ".mos"}
    | {".mrw", ".nef", ".nrw", ".orf", ".pef", ".raf", ".rw2", ".rwl", ".srw", ".x3f"}
)
SIZE_LIMITS_MM = (20.0, 8000.0)
"""A typed length or width outside is a slip of the pen or of the unit (cm, inches)."""

THICKNESS_LIMITS_MM = (0.0, 200.0)
"""How high a leaf, or the stack under it, may lie above the rails."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """A photograph or line that cannot be used, and why, in a sentence."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True)
class ShotList:
    """The shots of a folder in list order, and the lines that cannot be used."""

    shots: tuple[Shot, ...]
    refused: tuple[Refusal, ...] = ()


def read_shot_list(folder: Path) -> ShotList:
    """Return what a folder's shot list says, one bad line never spoiling the rest.

    Without a ``shots.csv`` every photograph of the folder is one leaf as it lies under an
    unknown lamp, in the natural order of the file names (2 before 10).

    Parameters
    ----------
    folder : Path
        Holds the photographs and, if there is one, ``shots.csv`` with the columns ``file``,
        ``leaf``, ``laid``, ``lamp``, ``wet`` and, if known, ``length_mm``, ``width_mm`` and
        ``thickness_mm``. Lines of one leaf, laid and lit alike, with the numbers 1, 2, 3, ... in
        the column ``part`` are overlapping photographs of a long leaf, and one shot.

    Raises
    ------
    ShotListFaulty
        If the folder is missing, or the list cannot be read as a table with a ``file`` column.
    """
    if not folder.is_dir():
        raise ShotListFaulty(
            f"There is no folder {folder}. Name the folder that holds the photographs."
        )
    list_file = folder / SHOT_LIST_NAME
    if list_file.is_file():
        return parse_shot_list(_decode(list_file.read_bytes()), files=_names(folder))
    photos = [name for name in _names(folder) if Path(name).suffix.lower() in PHOTO_ENDINGS]
    photos.sort(key=natural_key)
    return ShotList(_without_doubles(Shot(file=name, leaf=Path(name).stem) for name in photos))


def parse_shot_list(text: str, *, files: Sequence[str]) -> ShotList:
    """Return the shots of a list given as text; ``files`` are the names present in the folder."""
    delimiter = (
        ";" if text.split("\n", 1)[0].count(";") > text.split("\n", 1)[0].count(",") else ","
    )
    rows = csv.DictReader(io.StringIO(text), delimiter=delimiter, skipinitialspace=True)
    columns = [(name or "").strip().lower() for name in (rows.fieldnames or ())]
    if "file" not in columns:
        raise ShotListFaulty(
            f"The first line of {SHOT_LIST_NAME} reads {', '.join(columns) or 'nothing'}"
            "; a column 'file' is needed. Begin the list with: file,leaf,laid,lamp,wet"
        )
    rows.fieldnames = columns
    present = set(files)
    shots: list[Shot | PartLine] = []
    refused: list[Refusal] = []
    listed: set[str] = set()
    for row in rows:
        cells = {key: (value or "").strip() for key, value in row.items() if isinstance(value, str)}
        name = cells.get("file", "")
        if not any(cells.values()):
            continue
        try:
            if name in listed:
                raise ShotListFaulty(
                    f"Line {rows.line_num} of {SHOT_LIST_NAME} names {name} a second time; each "
                    "photograph is listed once. Delete one of the two lines."
                )
            shot = _shot(cells, line=rows.line_num, present=present)
            part = part_number(cells, where=f"Line {rows.line_num} of {SHOT_LIST_NAME}")
            shots.append(shot if part is None else PartLine(part, shot))
            listed.add(name)
        except ShotListFaulty as error:
            refused.append(Refusal(name or f"line {rows.line_num}", str(error)))
    whole, incomplete = gather_parts(shots)
    refused += [Refusal(file, reason) for file, reason in incomplete]
    return ShotList(_with_sizes_of_leaves(whole), tuple(refused))


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key by which ``leaf 2`` comes before ``leaf 10``."""
    parts = re.split(r"([0-9]+)", text.casefold())
    return tuple((0, int(p), "") if p.isdecimal() and p.isascii() else (1, 0, p) for p in parts)


def _names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir() if entry.is_file())


def _decode(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _without_doubles(shots: Iterator[Shot]) -> tuple[Shot, ...]:
    """Give leaves whose file names differ only in their ending a label each."""
    taken: set[str] = set()
    kept = []
    for shot in shots:
        label = shot.leaf if shot.leaf not in taken else shot.file
        taken.add(label)
        kept.append(Shot(file=shot.file, leaf=label))
    return tuple(kept)


def _with_sizes_of_leaves(shots: list[Shot]) -> tuple[Shot, ...]:
    """Let a size typed once for a leaf hold in all its shots; a pair takes its leaves' length."""
    lengths: dict[str, float] = {}
    widths: dict[str, float] = {}
    for shot in shots:
        if len(shot.leaves) == 1 and shot.length_mm is not None:
            lengths.setdefault(shot.leaf, shot.length_mm)
        if len(shot.leaves) == 1 and shot.width_mm is not None:
            widths.setdefault(shot.leaf, shot.width_mm)
    filled = []
    for shot in shots:
        known = [lengths[leaf] for leaf in shot.leaves if leaf in lengths]
        length = shot.length_mm if shot.length_mm or not known else sum(known) / len(known)
        width = shot.width_mm if shot.width_mm else widths.get(shot.leaf)
        filled.append(replace(shot, length_mm=length, width_mm=width))
    return tuple(filled)


def _shot(cells: dict[str, str], *, line: int, present: set[str]) -> Shot:
    where = f"Line {line} of {SHOT_LIST_NAME}"
    name = cells.get("file", "")
    if not name:
        raise ShotListFaulty(f"{where} names no file. Write the photograph's name, or delete it.")
    if name != Path(name).name or "\\" in name:
        raise ShotListFaulty(
            f"{where} names {name}; only photographs in the folder itself can be listed. "
            "Move it there and write its name alone."
        )
    if name not in present:
        raise ShotListFaulty(
            f"{where} names {name}, which is not in the folder. Correct the name (capital and "
            "small letters count) or add the photograph."
        )
    lamp_word = cells.get("lamp", "")
    blank = lamp_word.lower().startswith("blank")
    lamp = _word(
        Lamp, lamp_word[5:].lstrip("- ") if blank else lamp_word, column="lamp", where=where
    )
    laid = _word(Laid, cells.get("laid", "") or Laid.AS_LIES, column="laid", where=where)
    leaf = cells.get("leaf", "") or ("" if blank else Path(name).stem)
    shot = Shot(
        file=name,
        leaf=leaf,
        laid=laid,
        lamp=lamp,
        blank=blank,
        wet=_yes(cells.get("wet", ""), where=where),
        length_mm=_millimetres(cells.get("length_mm", ""), column="length_mm", where=where),
        width_mm=_millimetres(cells.get("width_mm", ""), column="width_mm", where=where),
        thickness_mm=_millimetres(
            cells.get("thickness_mm", ""),
            column="thickness_mm",
            where=where,
            limits=THICKNESS_LIMITS_MM,
        ),
    )
    if laid is Laid.OPENED_PAIR and not blank:
        _check_pair(shot, where)
    return shot


def _check_pair(shot: Shot, where: str) -> None:
    if len(shot.leaves) != 2 or not all(shot.leaves) or shot.leaves[0] == shot.leaves[1]:
        raise ShotListFaulty(
            f"{where} says opened-pair for leaf {shot.leaf!r}; the labels of two leaves are "
            "needed, left and right. Write them as LEFT+RIGHT, for example 03+04."
        )


_W = TypeVar("_W", Laid, Lamp)


def _word(kind: type[_W], word: str, *, column: str, where: str) -> _W:
    for member in kind:
        if member.value.casefold() == word.casefold():
            return member
    known = ", ".join(repr(member.value) if member.value else "empty" for member in kind)
    raise ShotListFaulty(
        f"{where} has {word!r} in the column {column}; known are {known}. Correct the word."
    )


def _yes(word: str, *, where: str) -> bool:
    if word.lower() in {"", "0", "no", "false"}:
        return False
    if word.lower() in {"1", "yes", "true"}:
        return True
    raise ShotListFaulty(f"{where} has {word!r} in the column wet; write 0 (dry) or 1 (wet).")


def _millimetres(
    text: str,
    *,
    column: str,
    where: str,
    limits: tuple[float, float] = SIZE_LIMITS_MM,
) -> float | None:
    if not text:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    low, high = limits
    if not low <= value <= high:
        raise ShotListFaulty(
            f"{where} has {text!r} in the column {column}; a size in millimetres from {low:.0f} "
            f"to {high:.0f} is needed. Correct it, or leave it empty."
        )
    return value
