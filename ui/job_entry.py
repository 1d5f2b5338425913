"""A job as it is typed in: panel sizes, lists, leaves by name."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from catalog.catalog import Catalog
from catalog.errors import EntryFaulty
from catalog.panel_stock import Known, leaf_name
from catalog.records import BundleId
from ui.leaf_choice import choose_leaves
from vision.panel_job import MarkedPlace, Panel, Place

_SIZE = re.compile(
    r"(?:(?P<name>[^=]*)=)?\s*(?:(?P<count>\d+)\s*[x×])??\s*"
    r"(?P<width>\d+(?:\.\d+)?)\s*[x×]\s*(?P<length>\d+(?:\.\d+)?)\s*(?:mm)?"
)
MOST_PANELS = 60
"""More in one job is a slip of the pen."""


def panels_from(texts: Sequence[str]) -> tuple[Panel, ...]:
    """Return panels from sizes and lists, in order.

    Parameters
    ----------
    texts : sequence of str
        Each ``900x2100`` (mm, the grain along the second), ``3x900x2100``, ``NAME=900x2100``, or
        the path of a list with columns name, width_mm, length_mm and, if wished, count.

    Raises
    ------
    EntryFaulty
        If a size or a list cannot be read, or no panel comes of it.

    Examples
    --------
    >>> [(p.name, p.width_mm) for p in panels_from(["door=900x2100", "2x450x700"])]
    [('door', 900.0), ('panel 2', 450.0), ('panel 3', 450.0)]
    """
    wished: list[tuple[str, float, float, int]] = []
    for text in texts:
        if text.lower().endswith(".csv"):
            wished += _listed(Path(text))
            continue
        found = _SIZE.fullmatch(text.strip())
        if found is None:
            raise EntryFaulty(
                f"{text!r} is no panel size. Write for example 900x2100, 3x900x2100 or "
                "door=900x2100: millimetres, the grain along the second."
            )
        name, count = (found["name"] or "").strip(), int(found["count"] or 1)
        wished.append((name, float(found["width"]), float(found["length"]), count))
    if not 0 < sum(count for *_, count in wished) <= MOST_PANELS:
        raise EntryFaulty(
            f"{sum(count for *_, count in wished)} panels were named; a job holds 1 to "
            f"{MOST_PANELS}. Correct their number."
        )
    panels: list[Panel] = []
    for name, width, length, count in wished:
        for number in range(1, count + 1):
            own = f"{name} {number}" if name and count > 1 else name
            panels.append(Panel(own or f"panel {len(panels) + 1}", width, length))
    return tuple(panels)


def panels_typed(lines: Sequence[str]) -> tuple[Panel, ...]:
    """Return panels from sizes typed on a screen, one a line; a list is no size here."""
    for line in lines:
        if line.strip().lower().endswith(".csv"):
            raise EntryFaulty(
                f"{line.strip()!r} is no panel size. Write for example 900x2100, one a line."
            )
    return panels_from(lines)


def read_marks(path: Path) -> dict[str, tuple[MarkedPlace, ...]]:
    """Return marked places by leaf from a list.

    Columns leaf, kind, left_mm, top_mm, right_mm, bottom_mm; if wished place (``avoid`` or
    ``show``) and at_mm (how far below the panel's top the middle of a shown one shall lie).

    Raises
    ------
    EntryFaulty
        If a column or a number is missing.
    """
    needed = ("leaf", "left_mm", "top_mm", "right_mm", "bottom_mm")
    named = ((f"Line {number} of {path.name}", row) for number, row in _rows(path, needed))
    return marks_from(named)


def marks_from(
    rows: Iterable[tuple[str, Mapping[str, str]]],
) -> dict[str, tuple[MarkedPlace, ...]]:
    """Return marked places by leaf from rows of words, each with where it stands."""
    marks: dict[str, tuple[MarkedPlace, ...]] = {}
    for where, row in rows:
        left, top, right, bottom = (
            _number(row, name, where) for name in ("left_mm", "top_mm", "right_mm", "bottom_mm")
        )
        word = row.get("place") or Place.AVOID.value
        if word not in set(Place):
            raise EntryFaulty(f"{where} says {word!r}; place is avoid or show. Correct it.")
        at = _number(row, "at_mm", where) if row.get("at_mm") else None
        mark = MarkedPlace(row.get("kind") or "mark", left, top, right, bottom, Place(word), at)
        marks[row["leaf"]] = (*marks.get(row["leaf"], ()), mark)
    return marks


def known_leaves(
    catalog: Catalog,
    bundles: Sequence[BundleId],
    *,
    gone: str,
    held: str,
    marks: Mapping[str, tuple[MarkedPlace, ...]],
) -> Known:
    """Return what is known of the leaves of some bundles, named in a few letters.

    A leaf is named by its label where there is one bundle, else as ``BUNDLE/LEAF``.
    """
    names = []
    for number in bundles:
        bundle = catalog.bundle(number)
        names += [
            (leaf_name(bundle.label, leaf.label), leaf.label) for leaf in catalog.leaves(number)
        ]
    full = {label: name for name, label in names} if len(bundles) == 1 else {}
    shown = [label if full else name for name, label in names]

    def chosen(text: str) -> frozenset[str]:
        if not text.strip():
            return frozenset()
        return frozenset(full.get(one, one) for one in choose_leaves(text, shown))

    return Known(
        gone=chosen(gone),
        held=chosen(held),
        marks={full.get(leaf, leaf): places for leaf, places in marks.items()},
    )


def _listed(path: Path) -> list[tuple[str, float, float, int]]:
    found = []
    for number, row in _rows(path, ("width_mm", "length_mm")):
        where = f"Line {number} of {path.name}"
        width, length = (_number(row, name, where) for name in ("width_mm", "length_mm"))
        count = _number(row, "count", where) if row.get("count") else 1.0
        if count != int(count) or count < 1:
            raise EntryFaulty(f"{where} asks for {count:g} panels; a whole number is needed.")
        found.append(((row.get("name") or "").strip(), width, length, int(count)))
    return found


def _rows(path: Path, needed: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise EntryFaulty(f"The list {path} cannot be read: {error}. Save it as CSV.") from error
    reader = csv.DictReader(text.splitlines())
    absent = [name for name in needed if name not in (reader.fieldnames or ())]
    if absent:
        raise EntryFaulty(
            f"{path.name} has no column {', '.join(absent)}; it has "
            f"{', '.join(reader.fieldnames or ()) or 'none'}. Name the columns in its first line."
        )
    rows = [{k: (v or "").strip() for k, v in row.items() if k} for row in reader]
    return list(enumerate(rows, start=2))


def _number(row: Mapping[str, str], name: str, where: str) -> float:
    try:
        return float(row[name])
    except (KeyError, ValueError):
        raise EntryFaulty(
            f"{where} has {row.get(name, '')!r} for {name}; a number is needed. Correct it."
        ) from None
