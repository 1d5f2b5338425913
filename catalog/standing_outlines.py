"""Which of the acts on a leaf's outline still stand. Pure: rows in, rows out."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.records import OutlineAct, OutlineCorrection
from vision.hand_outline import Points


def standing_acts(done: Sequence[OutlineCorrection], side: int) -> tuple[OutlineCorrection, ...]:
    """Return the acts on one leaf's outline that were not undone, oldest first."""
    acts: list[OutlineCorrection] = []
    for one in done:
        if one.side != side:
            continue
        if one.act is not OutlineAct.UNDONE:
            acts.append(one)
        elif acts:
            acts.pop()
    return tuple(acts)


def first_found(done: Sequence[OutlineCorrection], side: int) -> Points | None:
    """Return the outline that the program had found before the first act; None without any."""
    return next((one.before for one in done if one.side == side), None)


def standing_outlines(
    done: Sequence[OutlineCorrection], found: Sequence[Points]
) -> tuple[Points, ...] | None:
    """Return the outlines to measure a photograph with; None where all are to be found.

    Parameters
    ----------
    done : sequence of OutlineCorrection
        Of this photograph, oldest first.
    found : sequence of Points
        The outlines as they stand in its reading, for leaves without any act.
    """
    outlines = []
    is_drawn = False
    for side, standing in enumerate(found):
        acts = standing_acts(done, side)
        points = acts[-1].points if acts else None
        is_drawn = is_drawn or points is not None
        outlines.append(points or first_found(done, side) or standing)
    return tuple(outlines) if is_drawn else None
