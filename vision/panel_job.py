"""What a panel plan is made from: panels, leaves with their defects, allowances. Values only.

Millimetres on a leaf count from its left long edge (x) and from its top end (y), as it lies.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from vision.match_layout import Match


class Face(StrEnum):
    """How leaves make up the face of one panel.

    The first four as in Architectural Woodwork Standards, 1st ed. 2009, p. 74.
    """

    RUNNING = "running"
    """As many leaves as are needed, each at its full width; what is left of the last one starts
    the next panel."""
    BALANCE = "balance"
    """Leaves of equal width, odd or even in number."""
    CENTRE_BALANCE = "centre-balance"
    """An even number of equal width, with a joint on the centre line."""
    SLIP_CENTRE_BOOK = "slip-centre-book"
    """An even number from four up: each half slip matched, the halves booked at the centre."""
    FOUR_WAY = "four-way"
    """Two booked rows laid end to end, so that four leaves meet in a point; an even number of
    columns, so that one such point lies on the centre line."""


class LeafState(StrEnum):
    """Whether a leaf may be planned with."""

    FREE = "free"
    HELD = "held"
    """Promised to somebody; it may come free again."""
    GONE = "gone"
    """Sold, cut or spoilt."""


class Place(StrEnum):
    """What is to become of a marked place of a leaf."""

    AVOID = "avoid"
    """It must not show on a panel: a split, a hole, a loose knot."""
    SHOW = "show"
    """It must show whole on a panel: a figure the customer wants."""


class Edge(StrEnum):
    """By which line the leaves of a bundle are laid over each other before they are cut."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class MarkedPlace:
    """An upright rectangle on a leaf, in millimetres."""

    kind: str
    """Split, hole, knot and so on, in the dealer's words."""
    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float
    place: Place = Place.AVOID
    at_mm: float | None = None
    """For one to be shown: how far below the panel's top edge its middle shall lie."""


@dataclass(frozen=True, slots=True)
class PlanLeaf:
    """One leaf of a flitch, as a plan sees it."""

    label: str
    bundle: str
    length_mm: float
    width_mm: float
    """Usable width: at the narrowest place."""
    marks: tuple[MarkedPlace, ...] = ()
    state: LeafState = LeafState.FREE


@dataclass(frozen=True, slots=True)
class Panel:
    """One finished panel; the grain runs along its length."""

    name: str
    width_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class Allowances:
    """How much wood a shop takes off, and what it will not sell or lay.

    Where no source is named the figure is common practice: ask the customer's shop.
    """

    side_trim_mm: float = 0.0
    """Never used at each long edge, beyond what the usable width leaves out already."""
    end_trim_mm: float = 20.0
    """Never used at each end: checks and bruises."""
    joint_cut_mm: float = 4.0
    """Cut off each edge that makes a joint, to shoot it straight (3 to 6)."""
    overhang_side_mm: float = 15.0
    """Left over each side of the panel for pressing, trimmed afterwards (10 to 25)."""
    overhang_end_mm: float = 30.0
    """The same over each end (25 to 50)."""
    defect_margin_mm: float = 5.0
    """Kept between the face and a place to be avoided."""
    at_within_mm: float = 10.0
    """How far a place to be shown may lie from where it is wished."""
    least_piece_mm: float = 76.0
    """Least width of a piece, outermost ones exempt: 152 plain sliced, 76 quartered, rift and comb
    grain (Architectural Woodwork Standards, 2009, 4.2, grade AA, after HP-1)."""
    least_edge_mm: float = 30.0
    """Least width of an outermost piece; a sliver is not laid."""
    leaves_per_spare: float = 9.0
    """One spare leaf for so many laid (8 to 10), at least one; 0 for none."""
    least_run: float = 8.0
    """A run of fewer leaves is taken for an orphan: too short to sell as a run."""
    most_side_loss_mm: float = 25.4
    """Grain that may be lost at a side joint (Architectural Woodwork Standards, 2009, 7.2.3)."""
    most_end_loss_mm: float = 38.0
    """Grain that may be lost at an end joint (the same, 7.2.4)."""


@dataclass(frozen=True, slots=True)
class Job:
    """What is to be made: panels in the order in which they will stand, left to right."""

    panels: tuple[Panel, ...]
    match: Match = Match.BOOK
    """Between neighbouring leaves; slip-centre-book and four-way bring their own."""
    face: Face = Face.BALANCE
    allowances: Allowances = Allowances()
    register: Edge = Edge.MIDDLE


LEAST_PIECE_PLAIN_MM = 152.0
"""Plain sliced; see `Allowances.least_piece_mm`."""
YIELD_RULE = 3.0
"""Veneer to panel by area, an average over architectural work (a veneer association's text on
ordering)."""


def veneer_by_rule_m2(face_m2: float) -> float:
    """Return how much veneer the 3:1 rule of thumb asks for a face of ``face_m2``.

    Examples
    --------
    >>> veneer_by_rule_m2(10.0)
    30.0
    """
    return YIELD_RULE * face_m2
