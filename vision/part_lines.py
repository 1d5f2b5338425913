"""Lines of a shot list that belong to one leaf photographed in parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from vision.errors import ShotListFaulty
from vision.shot import Shot

MOST_PARTS = 20
"""A larger number in the column is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class PartLine:
    """One line with a number in the column ``part``."""

    part: int
    shot: Shot


def part_number(cells: Mapping[str, str], *, where: str) -> int | None:
    """Return the number in the column ``part`` of a line; None if there is none.

    Raises
    ------
    ShotListFaulty
        If it is no number from 1 to `MOST_PARTS`, or the line names no leaf or a bare board.
    """
    text = cells.get("part", "")
    if not text:
        return None
    number = int(text) if text.isascii() and text.isdecimal() else 0
    if not 1 <= number <= MOST_PARTS:
        raise ShotListFaulty(
            f"{where} has {text!r} in the column part; a whole number from 1 to {MOST_PARTS} is "
            "needed, counted along the leaf. Correct it, or leave it empty."
        )
    if cells.get("lamp", "").lower().startswith("blank"):
        raise ShotListFaulty(
            f"{where} has a number in the column part for a bare board; only leaves are "
            "photographed in parts. Leave it empty."
        )
    if not cells.get("leaf", ""):
        raise ShotListFaulty(
            f"{where} has a number in the column part and names no leaf; the parts of one leaf are "
            "told by its label. Write it in the column leaf."
        )
    return number


def gather_parts(
    lines: Sequence[Shot | PartLine],
) -> tuple[list[Shot], list[tuple[str, str]]]:
    """Return shots, the parts of a leaf gathered into one, and the files left out, with why.

    Lines of the same leaf, laid and lit alike, wet or dry alike, belong together. Their shot stands
    where the first of them stood; a size typed in any of them holds.

    Examples
    --------
    >>> two = [PartLine(2, Shot("b.jpg", "07")), PartLine(1, Shot("a.jpg", "07"))]
    >>> gather_parts(two)[0][0].parts
    ('a.jpg', 'b.jpg')
    """
    groups: dict[Shot, list[PartLine]] = {}
    for line in lines:
        if isinstance(line, PartLine):
            groups.setdefault(_alike(line.shot), []).append(line)
    shots: list[Shot] = []
    left_out: list[tuple[str, str]] = []
    for line in lines:
        if not isinstance(line, PartLine):
            shots.append(line)
            continue
        group = groups.pop(_alike(line.shot), None)
        if group is None:
            continue  # gathered where the first of them stood
        fault = _fault(group)
        if fault:
            left_out += [(one.shot.file, fault) for one in group]
        else:
            shots.append(_gathered(group))
    return shots, left_out


def _alike(shot: Shot) -> Shot:
    """Return what the parts of one leaf have in common."""
    return Shot("", shot.leaf, shot.laid, shot.lamp, wet=shot.wet)


def _fault(group: Sequence[PartLine]) -> str:
    """Return what is wrong with the numbers of one leaf's parts, or nothing."""
    leaf = group[0].shot.leaf
    numbers = sorted(one.part for one in group)
    doubles = sorted({number for number in numbers if numbers.count(number) > 1})
    if doubles:
        return (
            f"Leaf {leaf} has part {doubles[0]} twice; each part is one photograph. Number the "
            "parts 1, 2, 3, ... along the leaf."
        )
    missing = sorted(set(range(1, max(2, numbers[-1]) + 1)) - set(numbers))
    if missing:
        return (
            f"Leaf {leaf} lacks part {missing[0]}: listed is part "
            f"{', '.join(map(str, numbers))}; the parts 1, 2, 3, ... are needed without a gap, two "
            "at least. Add the photograph, or leave the column part empty."
        )
    return ""


def _gathered(group: Sequence[PartLine]) -> Shot:
    shots = [one.shot for one in sorted(group, key=lambda one: one.part)]

    def typed(name: str) -> float | None:
        return next((value for one in shots if (value := getattr(one, name)) is not None), None)

    return replace(
        shots[0],
        length_mm=typed("length_mm"),
        width_mm=typed("width_mm"),
        thickness_mm=typed("thickness_mm"),
        parts=tuple(one.file for one in shots),
    )
