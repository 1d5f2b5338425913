"""A plain table for the terminal."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence


def text_table(rows: Sequence[Sequence[str]]) -> str:
    """Return ``rows`` in columns, the first row as the heading above a rule.

    Examples
    --------
    >>> print(text_table([("leaf", "mm"), ("01", "2400")]))
    leaf  mm
    ----  ----
    01    2400
    """
    widths = [max(_cells(row[column]) for row in rows) for column in range(len(rows[0]))]
    rule = ["-" * width for width in widths]
    lines = (_line(row, widths) for row in (rows[0], rule, *rows[1:]))
    return "\n".join(lines)


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    padded = (text + " " * (width - _cells(text)) for text, width in zip(row, widths, strict=True))
    return "  ".join(padded).rstrip()


def _cells(text: str) -> int:
    """Return how many terminal cells ``text`` takes: wide letters two, combining marks none."""
    return sum(
        0 if unicodedata.combining(letter) else 1 + (unicodedata.east_asian_width(letter) in "WF")
        for letter in text
    )
