"""Where each leaf of a match goes and how it is laid. Values only; `match_render` paints them.

A match along a run is one line of `LAYINGS`: the layings that repeat from the left. Names of
matches and what is turned in each are those of the trade (Architectural Woodwork Standards,
1st ed. 2009, pp. 74-76).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import accumulate, pairwise
from types import MappingProxyType

from vision.errors import MatchNotPossible
from vision.shot import Laid


class Match(StrEnum):
    """How neighbouring leaves of a run are laid against each other."""

    BOOK = "book"
    """Every other leaf turned over on its long edge, like the page of a book."""
    SLIP = "slip"
    """Every leaf as it lies, slid off the stack."""


LAYINGS: Mapping[Match, tuple[Laid, ...]] = MappingProxyType(
    {
        Match.BOOK: (Laid.AS_LIES, Laid.FACE_OVER),
        Match.SLIP: (Laid.AS_LIES,),
    }
)
"""Match -> layings from the left, repeated to the end of the run."""

LEAST_WEDGES = 6
"""A sunburst takes at least six leaves (Architectural Woodwork Standards, 2009, p. 76)."""


@dataclass(frozen=True, slots=True)
class LeafExtent:
    """The straight-edged size of one leaf, as it goes into a match."""

    label: str
    width_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class Placement:
    """One leaf in its place; x runs right and y down from the top left of the match."""

    leaf: str
    laid: Laid
    x_mm: float
    y_mm: float
    width_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class Joint:
    """Where two neighbours meet."""

    left: str
    right: str
    left_laid: Laid
    right_laid: Laid
    x_mm: float
    length_mm: float
    """How far down from the top both leaves reach."""


@dataclass(frozen=True, slots=True)
class Layout:
    """A whole match, left to right."""

    match: Match
    placements: tuple[Placement, ...]
    joints: tuple[Joint, ...]
    width_mm: float
    length_mm: float
    unit: str = "mm"
    """``mm``; ``px`` where a leaf has no scale: every ``_mm`` then counts picture pixels."""


def lay_out(run: Sequence[LeafExtent], match: Match, *, unit: str = "mm") -> Layout:
    """Return where each leaf of a run goes, butted side by side with the top ends in line.

    Parameters
    ----------
    run : sequence of LeafExtent
        Leaves in the order in which they came off the stack. Each keeps its own width.
    match : Match
        How they are laid.
    unit : str
        What the extents count: ``mm``, or ``px`` where there is no scale.

    Returns
    -------
    Layout
        One placement a leaf and one joint between each pair of neighbours.

    Raises
    ------
    MatchNotPossible
        If there is no leaf, or a leaf has no width or no length.

    Examples
    --------
    >>> two = [LeafExtent("01", 240.0, 2000.0), LeafExtent("02", 236.0, 1990.0)]
    >>> booked = lay_out(two, Match.BOOK)
    >>> [(p.leaf, str(p.laid), p.x_mm) for p in booked.placements]
    [('01', 'as-lies', 0.0), ('02', 'face-over', 240.0)]
    >>> booked.width_mm, booked.joints[0].length_mm
    (476.0, 1990.0)
    """
    if not run:
        raise MatchNotPossible("No leaf was chosen; a match needs at least one. Choose a leaf.")
    for leaf in run:
        if not (leaf.width_mm > 0 and leaf.length_mm > 0):
            raise MatchNotPossible(
                f"Leaf {leaf.label} is {leaf.width_mm:g} x {leaf.length_mm:g} {unit}; both must be "
                "above zero. Look at its outline, or photograph it again."
            )
    layings = LAYINGS[match]
    starts = accumulate((leaf.width_mm for leaf in run), initial=0.0)
    placements = tuple(
        Placement(leaf.label, layings[i % len(layings)], x, 0.0, leaf.width_mm, leaf.length_mm)
        for i, (leaf, x) in enumerate(zip(run, starts, strict=False))
    )
    return Layout(
        match,
        placements,
        tuple(_joint(left, right) for left, right in pairwise(placements)),
        width_mm=sum(leaf.width_mm for leaf in run),
        length_mm=max(leaf.length_mm for leaf in run),
        unit=unit,
    )


def _joint(left: Placement, right: Placement) -> Joint:
    shared = min(left.length_mm, right.length_mm)
    return Joint(left.leaf, right.leaf, left.laid, right.laid, right.x_mm, shared)


def wedge_angle_deg(pieces: int) -> float:
    """Return the angle at the tip of each of ``pieces`` equal wedges around a point, in degrees.

    Raises
    ------
    MatchNotPossible
        If there are fewer than `LEAST_WEDGES` pieces.

    Examples
    --------
    >>> wedge_angle_deg(12)
    30.0
    """
    if pieces < LEAST_WEDGES:
        raise MatchNotPossible(
            f"A sunburst of {pieces} pieces was asked for; it takes at least {LEAST_WEDGES}. "
            "Choose more pieces."
        )
    return 360.0 / pieces
