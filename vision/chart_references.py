"""What the 24 patches of a chart are known to be: CIELAB under D50, 2 degrees.

The patches are made to one recipe since 1976; in November 2014 the maker changed it, and the
colours moved by about one CIEDE2000. Which edition a chart is must be said by its owner. The
numbers are the maker's means over a batch, as published in the data of colour-science 0.4.7
(New BSD licence) for either edition, there as xyY under D50.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from vision.errors import ChartUnreadable

ROWS, COLUMNS = 4, 6
PATCHES = ROWS * COLUMNS
NAMES = (
    "dark skin", "light skin", "blue sky", "foliage", "blue flower", "bluish green",
    "orange", "purplish blue", "moderate red", "purple", "yellow green", "orange yellow",
    "blue", "green", "red", "yellow", "magenta", "cyan",
    "white", "neutral 8", "neutral 6.5", "neutral 5", "neutral 3.5", "black",
)  # fmt: skip
"""Row by row, the dark skin at the top left, the neutrals at the bottom."""
NEUTRALS = slice(18, 24)
EDITIONS = ("before-2014", "after-2014")
"""Of a 24-patch chart: made before or after November 2014."""

_BEFORE = (
    (37.99, 13.55, 14.06),
    (65.71, 18.13, 17.81),
    (49.93, -4.88, -21.90),
    (43.14, -13.09, 21.90),
    (55.11, 8.84, -25.40),
    (70.72, -33.40, -0.20),
    (62.66, 36.07, 57.10),
    (40.02, 10.41, -45.96),
    (51.12, 48.24, 16.25),
    (30.33, 22.98, -21.59),
    (72.53, -23.71, 57.26),
    (71.94, 19.36, 67.86),
    (28.78, 14.18, -50.30),
    (55.26, -38.34, 31.37),
    (42.10, 53.38, 28.19),
    (81.73, 4.04, 79.82),
    (51.94, 49.99, -14.57),
    (51.04, -28.63, -28.64),
    (96.54, -0.43, 1.19),
    (81.26, -0.64, -0.33),
    (66.77, -0.73, -0.50),
    (50.87, -0.15, -0.27),
    (35.66, -0.42, -1.23),
    (20.46, -0.08, -0.97),
)
_AFTER = (
    (37.54, 14.37, 14.92),
    (64.66, 19.27, 17.50),
    (49.32, -3.82, -22.54),
    (43.46, -12.74, 22.72),
    (54.94, 9.61, -24.79),
    (70.48, -32.26, -0.37),
    (62.73, 35.83, 56.50),
    (39.43, 10.75, -45.17),
    (50.57, 48.64, 16.67),
    (30.10, 22.54, -20.87),
    (71.77, -24.13, 58.19),
    (71.51, 18.24, 67.37),
    (28.37, 15.42, -49.80),
    (54.38, -39.72, 32.27),
    (42.43, 51.05, 28.62),
    (81.80, 2.67, 80.41),
    (50.63, 51.28, -14.12),
    (49.57, -29.71, -28.32),
    (95.19, -1.03, 2.93),
    (81.29, -0.57, 0.44),
    (66.89, -0.75, -0.06),
    (50.76, -0.13, 0.14),
    (35.63, -0.46, -0.48),
    (20.64, 0.07, -0.46),
)


@dataclass(frozen=True, slots=True, eq=False)
class ChartReference:
    """A chart's known colours.

    Parameters
    ----------
    edition : str
        One of `EDITIONS`, or the name of the file it came from.
    names : tuple of str
    lab : ndarray, shape (24, 3)
        D50, 2 degrees; row by row, the dark skin first.
    """

    edition: str
    names: tuple[str, ...]
    lab: NDArray[np.float64]


def chart_reference(edition: str) -> ChartReference:
    """Return the known colours of an edition, or of a reference file (``.csv``).

    Raises
    ------
    ChartUnreadable
        If the edition is none of `EDITIONS` and no file.

    Examples
    --------
    >>> chart_reference("after-2014").lab[0].tolist()
    [37.54, 14.37, 14.92]
    """
    if edition in _KNOWN:
        return ChartReference(edition, NAMES, np.array(_KNOWN[edition]))
    if edition.lower().endswith(".csv"):
        return read_reference(Path(edition))
    raise ChartUnreadable(
        f"There is no edition “{edition}” of the 24-patch chart. Choose {' or '.join(EDITIONS)}, "
        "whichever the back of the chart says, or give a reference file (name,L,a,b)."
    )


def read_reference(path: Path) -> ChartReference:
    """Return the known colours of a chart from its reference file.

    Columns ``name,L,a,b``, D50 and 2 degrees, 24 lines in the order of `NAMES`.

    Raises
    ------
    ChartUnreadable
        If the file cannot be read or is not such a list.
    """
    rows = read_lab_rows(path)
    if len(rows) != PATCHES:
        raise ChartUnreadable(
            f"{path.name} has {len(rows)} patches, {PATCHES} are needed: one line for each patch, "
            "row by row from the dark skin."
        )
    names = tuple(row["name"].strip() for row in rows)
    return ChartReference(path.name, names, lab_of_rows(rows, path.name))


def read_lab_rows(path: Path) -> list[dict[str, str]]:
    """Return the lines of a list of colours with columns ``name,L,a,b`` and perhaps others.

    Raises
    ------
    ChartUnreadable
        If it cannot be read or a column is missing.
    """
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise ChartUnreadable(f"{path.name} cannot be read as a list of colours.") from error
    lacking = [name for name in ("name", "L", "a", "b") if rows and rows[0].get(name) is None]
    if lacking or not rows:
        raise ChartUnreadable(
            f"{path.name} lacks the columns {', '.join(lacking) or 'name, L, a, b'}. Its first "
            "line must read name,L,a,b."
        )
    return rows


def lab_of_rows(rows: list[dict[str, str]], file: str) -> NDArray[np.float64]:
    """Return L*, a*, b* of such lines, shape (n, 3).

    Raises
    ------
    ChartUnreadable
        If a number is none, or no colour has it.
    """
    try:
        lab = np.array([[float(row[name]) for name in ("L", "a", "b")] for row in rows])
    except (TypeError, ValueError) as error:
        raise ChartUnreadable(f"{file}: {error}. L, a and b must be plain numbers.") from error
    low, high = np.array([0.0, -128.0, -128.0]), np.array([100.5, 128.0, 128.0])
    if not (np.isfinite(lab).all() and (lab >= low).all() and (lab <= high).all()):
        raise ChartUnreadable(
            f"{file}: L must lie between 0 and 100, a and b between -128 and 128 (CIELAB, D50)."
        )
    return lab


@dataclass(frozen=True, slots=True)
class WoodChip:
    """A piece of wood whose colour was measured with an instrument, lying on the table."""

    name: str
    lab: tuple[float, float, float]
    """D50, 2 degrees."""
    x_mm: float
    y_mm: float
    """Its middle, table mm."""


def read_chips(path: Path) -> tuple[WoodChip, ...]:
    """Return the wood chips of a list ``name,L,a,b,x_mm,y_mm``.

    Raises
    ------
    ChartUnreadable
        If the file cannot be read or is not such a list.
    """
    rows = read_lab_rows(path)
    lab = lab_of_rows(rows, path.name)
    try:
        places = [(float(row["x_mm"]), float(row["y_mm"])) for row in rows]
    except (KeyError, TypeError, ValueError) as error:
        raise ChartUnreadable(
            f"{path.name} does not say where each chip lies. Give its middle on the table, in "
            "millimetres, in the columns x_mm and y_mm."
        ) from error
    return tuple(
        WoodChip(row["name"].strip(), (float(one[0]), float(one[1]), float(one[2])), x, y)
        for row, one, (x, y) in zip(rows, lab, places, strict=True)
    )


_KNOWN = dict(zip(EDITIONS, (_BEFORE, _AFTER), strict=True))
