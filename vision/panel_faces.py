"""The pieces of one panel's face: how many, how wide, how each is laid. Arithmetic only."""

from __future__ import annotations

import math
from dataclasses import dataclass

from vision.errors import MatchNotPossible
from vision.laying import reverses_columns, reverses_rows
from vision.match_layout import LAYINGS, Match
from vision.panel_job import Face
from vision.shot import Laid

ROUNDING_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Slot:
    """The place of one leaf in a face: column from the left, row from the top, both from 0."""

    column: int
    row: int
    laid: Laid


def columns_of(face: Face, leaves: int) -> int | None:
    """Return in how many columns a face of so many leaves stands; None if it takes another number.

    Examples
    --------
    >>> columns_of(Face.BALANCE, 7), columns_of(Face.CENTRE_BALANCE, 7)
    (7, None)
    >>> columns_of(Face.SLIP_CENTRE_BOOK, 2), columns_of(Face.FOUR_WAY, 8)
    (None, 4)
    """
    match face:
        case Face.RUNNING | Face.BALANCE:
            return leaves if leaves >= 1 else None
        case Face.CENTRE_BALANCE:
            return leaves if leaves >= 2 and leaves % 2 == 0 else None
        case Face.SLIP_CENTRE_BOOK:
            return leaves if leaves >= 4 and leaves % 2 == 0 else None
        case Face.FOUR_WAY:
            return leaves // 2 if leaves >= 4 and leaves % 4 == 0 else None


def rows_of(face: Face) -> int:
    """Return how many leaves a column of a face holds."""
    return 2 if face is Face.FOUR_WAY else 1


def equal_pieces(face: Face, width_mm: float, leaf_mm: float) -> tuple[int, float]:
    """Return how many columns of equal width a face takes at least, and their width.

    Parameters
    ----------
    face : Face
        Any but running.
    width_mm : float
        Of the panel.
    leaf_mm : float
        Net width of the leaves.

    Raises
    ------
    MatchNotPossible
        If a width is not above zero, or the face is running.

    Examples
    --------
    >>> equal_pieces(Face.BALANCE, 1200.0, 180.0)
    (7, 171.42857142857142)
    >>> equal_pieces(Face.CENTRE_BALANCE, 1200.0, 180.0)
    (8, 150.0)
    """
    _check_widths(width_mm, leaf_mm)
    if face is Face.RUNNING:
        raise MatchNotPossible("A running face has no equal pieces. Use running_pieces.")
    columns = max(1, math.ceil(width_mm / leaf_mm - ROUNDING_MM))
    while columns_of(face, columns * rows_of(face)) is None:
        columns += 1
    return columns, width_mm / columns


def running_pieces(width_mm: float, leaf_mm: float) -> tuple[int, float]:
    """Return how many full leaves a running face takes and how wide the last, partial one is.

    The last is 0 where the full leaves make up the panel.

    Examples
    --------
    >>> running_pieces(1200.0, 180.0)
    (6, 120.0)
    """
    _check_widths(width_mm, leaf_mm)
    full = math.floor(width_mm / leaf_mm + ROUNDING_MM)
    last = width_mm - full * leaf_mm
    return full, last if last > ROUNDING_MM else 0.0


def slots_of(face: Face, match: Match, leaves: int) -> tuple[Slot, ...]:
    """Return where each leaf of a face goes, in the order in which they come off the stack.

    In a four-way face the leaves go round each point where four meet, so that neighbours on the
    face are neighbours in the stack wherever that can be.

    Raises
    ------
    MatchNotPossible
        If the face does not take that number of leaves.

    Examples
    --------
    >>> [str(slot.laid) for slot in slots_of(Face.SLIP_CENTRE_BOOK, Match.SLIP, 4)]
    ['as-lies', 'as-lies', 'face-over', 'face-over']
    >>> [(s.column, s.row, str(s.laid)) for s in slots_of(Face.FOUR_WAY, Match.BOOK, 4)]
    [(0, 0, 'as-lies'), (1, 0, 'face-over'), (1, 1, 'end-turned'), (0, 1, 'end-over')]
    """
    if columns_of(face, leaves) is None:
        raise MatchNotPossible(
            f"A {face.value} face of {leaves} leaves was asked for; it takes another number. "
            "Balance takes any, centre balance an even one, slip-centre-book an even one from "
            "four up, four-way fours."
        )
    if face is Face.FOUR_WAY:
        round_a_point = (
            (0, 0, Laid.AS_LIES),
            (1, 0, Laid.FACE_OVER),
            (1, 1, Laid.END_TURNED),
            (0, 1, Laid.END_OVER),
        )
        return tuple(
            Slot(first + column, row, laid)
            for first in range(0, leaves // 2, 2)
            for column, row, laid in round_a_point
        )
    if face is Face.SLIP_CENTRE_BOOK:
        half = leaves // 2
        return tuple(
            Slot(i, 0, Laid.AS_LIES if i < half else Laid.FACE_OVER) for i in range(leaves)
        )
    layings = LAYINGS[match]
    return tuple(Slot(i, 0, layings[i % len(layings)]) for i in range(leaves))


def joined_sides(slot: Slot, *, columns: int, rows: int) -> tuple[bool, bool, bool, bool]:
    """Return whether left, top, right and bottom of a leaf, as it lies, make a joint.

    Examples
    --------
    >>> joined_sides(Slot(1, 0, Laid.FACE_OVER), columns=2, rows=1)
    (False, False, True, False)
    """
    sides = (slot.column > 0, slot.column < columns - 1)
    ends = (slot.row > 0, slot.row < rows - 1)
    left, right = sides[::-1] if reverses_columns(slot.laid) else sides
    top, bottom = ends[::-1] if reverses_rows(slot.laid) else ends
    return left, top, right, bottom


def _check_widths(width_mm: float, leaf_mm: float) -> None:
    if not (width_mm > 0 and leaf_mm > 0):
        raise MatchNotPossible(
            f"A panel of {width_mm:g} mm from leaves of {leaf_mm:g} mm was asked for; both must be "
            "above zero. Correct the widths."
        )
