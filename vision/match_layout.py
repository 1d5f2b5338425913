"""Where each leaf of a match goes and how it is laid. Values only; painting is apart.

One function for every match: `lay_out`. What a match is stands in `vision.match_names`; the
geometry in `vision.run_seats`, `vision.free_seats` and `vision.drawn_seats`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import cycle, islice
from types import MappingProxyType

from vision import drawn_seats, free_seats, run_seats
from vision.cuts import cut_pieces, overhang_words
from vision.errors import MatchNotPossible
from vision.face_wish import FaceWish
from vision.joined_run import JoinedLeaf, joined_run, joined_words
from vision.joint_cut import JointCut, JointLines
from vision.joints import joints_between
from vision.laying import compose
from vision.layout import (
    Allowances,
    Joint,
    JointKind,
    Layout,
    LeafExtent,
    Panel,
    Placement,
)
from vision.match_names import Match
from vision.run_seats import Seating
from vision.seat import prepared, sit, started
from vision.shot import Laid

__all__ = [
    "CAN_SLIP",
    "LAYINGS",
    "WHOLE_LEAVES",
    "Allowances",
    "FaceWish",
    "Joint",
    "JointKind",
    "Layout",
    "LeafExtent",
    "Match",
    "Panel",
    "Placement",
    "lay_out",
    "layings_of",
]

LAYINGS: Mapping[Match, tuple[Laid, ...]] = MappingProxyType(
    {
        Match.BOOK: (Laid.AS_LIES, Laid.FACE_OVER),
        Match.SLIP: (Laid.AS_LIES,),
        Match.REVERSE_SLIP: (Laid.AS_LIES, Laid.END_TURNED),
    }
)
"""Matches of whole leaves -> layings from the left, repeated to the end of the run."""

_SEATS: Mapping[Match, Callable[[Sequence[LeafExtent], FaceWish], Seating]] = MappingProxyType(
    {
        Match.RANDOM: free_seats.random_run,
        Match.PLEASING: lambda run, _: free_seats.pleasing_run(run),
        Match.PLANK: free_seats.plank_run,
        Match.BOOK_AND_BUTT: lambda r, w: run_seats.end_match(r, w, Match.BOOK_AND_BUTT),
        Match.CONTINUOUS_END: lambda r, w: run_seats.end_match(r, w, Match.CONTINUOUS_END),
        Match.PANEL_END: lambda r, w: run_seats.end_match(r, w, Match.PANEL_END),
        Match.RUNNING: run_seats.running,
        Match.BALANCE: lambda r, w: run_seats.balanced(r, w, Match.BALANCE),
        Match.CENTRE_BALANCE: lambda r, w: run_seats.balanced(r, w, Match.CENTRE_BALANCE),
        Match.SLIP_CENTRE_BOOK: lambda r, w: run_seats.balanced(r, w, Match.SLIP_CENTRE_BOOK),
        Match.SEQUENCE: lambda r, w: run_seats.balanced(r, w, Match.SEQUENCE),
        Match.BLUEPRINT: lambda r, w: run_seats.balanced(r, w, Match.BLUEPRINT),
        Match.FOUR_WAY: drawn_seats.four_way,
        Match.SUNBURST: drawn_seats.sunburst,
        Match.BOX: lambda r, w: drawn_seats.box(r, w, is_reverse=False),
        Match.REVERSE_BOX: lambda r, w: drawn_seats.box(r, w, is_reverse=True),
        Match.DIAMOND: lambda r, w: drawn_seats.diamond(r, w, is_reverse=False),
        Match.REVERSE_DIAMOND: lambda r, w: drawn_seats.diamond(r, w, is_reverse=True),
        Match.HERRINGBONE: drawn_seats.herringbone,
        Match.PARQUET: drawn_seats.parquet,
    }
)
WHOLE_LEAVES = frozenset({*LAYINGS, Match.RANDOM, Match.PLEASING})
"""Matches that cut nothing off but the two long edges."""
CAN_SLIP = frozenset(
    {
        Match.BOOK_AND_BUTT,
        Match.CONTINUOUS_END,
        Match.PANEL_END,
        Match.RUNNING,
        Match.BALANCE,
        Match.CENTRE_BALANCE,
        Match.SEQUENCE,
        Match.BLUEPRINT,
        Match.FOUR_WAY,
        Match.SUNBURST,
        Match.BOX,
        Match.REVERSE_BOX,
        Match.DIAMOND,
        Match.REVERSE_DIAMOND,
        Match.HERRINGBONE,
    }
)
"""Matches that book their leaves unless slipping is wished."""


def layings_of(match: Match, count: int, *, start: Laid = Laid.AS_LIES) -> tuple[Laid, ...]:
    """Return how each leaf of a run of whole leaves lies, from the left.

    Examples
    --------
    >>> [str(laid) for laid in layings_of(Match.BOOK, 3, start=Laid.FACE_OVER)]
    ['face-over', 'as-lies', 'face-over']
    """
    return tuple(compose(laid, start) for laid in islice(cycle(LAYINGS[match]), count))


def lay_out(
    run: Sequence[LeafExtent],
    match: Match,
    *,
    unit: str = "mm",
    wish: FaceWish | None = None,
    trims: Iterable[JointCut] = (),
) -> Layout:
    """Return where each piece of a run of leaves goes.

    Parameters
    ----------
    run : sequence of LeafExtent
        Leaves in the order in which they came off the stack.
    match : Match
        How they are laid. Matches of whole leaves (book, slip, reverse slip, random, pleasing)
        keep each leaf's own width, butted side by side with the top ends in line.
    unit : str
        What the extents count: ``mm``, or ``px`` where there is no scale.
    wish : FaceWish or None
        Size and pieces of the face; None: as large as the leaves give.
    trims : iterable of JointCut
        One a joint of a book, slip or reverse slip run: where the two leaves are cut to meet. None
        of them: the leaves' own straight edges are butted.

    Returns
    -------
    Layout
        One placement a piece and one joint between each two pieces that meet.

    Raises
    ------
    MatchNotPossible
        If there is no leaf, a leaf has no width or no length, or the leaves do not give the match.

    Examples
    --------
    >>> two = [LeafExtent("01", 240.0, 2000.0), LeafExtent("02", 236.0, 1990.0)]
    >>> booked = lay_out(two, Match.BOOK)
    >>> [(p.leaf, str(p.laid), p.x_mm) for p in booked.placements]
    [('01', 'as-lies', 0.0), ('02', 'face-over', 240.0)]
    >>> booked.width_mm, booked.joints[0].length_mm
    (476.0, 1990.0)
    """
    return _laid_out(tuple(run), match, unit, wish or FaceWish(), tuple(trims))


@lru_cache(maxsize=64)
def _laid_out(
    run: tuple[LeafExtent, ...],
    match: Match,
    unit: str,
    wish: FaceWish,
    trims: tuple[JointCut, ...],
) -> Layout:
    if unit != "mm":
        wish = replace(wish, allowances=Allowances(0.0, 0.0, 0.0))
    _check(run, match, unit=unit, wish=wish)
    if match in LAYINGS:
        seating = run_seats.whole_row(run, enumerate(layings_of(match, len(run))))
    else:
        seating = _SEATS[match](run, wish)
    seating = _arranged(run, seating, wish)
    if trims or (match in WHOLE_LEAVES and wish.moves_leaves):
        return _joined(run, seating, match, unit=unit, trims=trims)
    spare = wish.allowances if seating.is_cut else Allowances(0.0, 0.0, 0.0)
    seats = prepared([seat for _, seat in seating.seats], spare)
    placements = tuple(
        sit(run[at], seat, shoot_mm=spare.shoot_mm, unit=unit)
        for (at, _), seat in zip(seating.seats, seats, strict=True)
    )
    notes = [_left_over(run, {at for at, _ in seating.seats})]
    if seating.is_cut and unit == "mm":
        pieces = cut_pieces(placements, run, allowances=wish.allowances)
        notes.append(overhang_words(pieces))
    return Layout(
        match,
        placements,
        joints_between(placements),
        width_mm=max(panel.box.right for panel in seating.panels),
        length_mm=max(panel.box.bottom for panel in seating.panels),
        unit=unit,
        panels=seating.panels,
        notes=tuple(note for note in notes if note),
        is_slipped=wish.is_slipped,
    )


def _arranged(run: Sequence[LeafExtent], seating: Seating, wish: FaceWish) -> Seating:
    """Return the seats with their leaves laid as the first one is to start, and moved."""
    down = dict(wish.shifts_mm)
    unknown = [label for label in down if label not in {leaf.label for leaf in run}]
    if unknown:
        raise MatchNotPossible(
            f"Leaf {', '.join(unknown)} is to be moved but is not in this run. Name leaves of the "
            f"run: {', '.join(leaf.label for leaf in run)}."
        )
    seats = tuple(
        (at, replace(started(seat, wish.start), down_mm=down.get(run[at].label, 0.0)))
        for at, seat in seating.seats
    )
    return replace(seating, seats=seats)


def _joined(
    run: Sequence[LeafExtent],
    seating: Seating,
    match: Match,
    *,
    unit: str,
    trims: tuple[JointCut, ...],
) -> Layout:
    """Return a run of whole leaves that are moved along their grain, or cut where they meet."""
    if trims and (match not in LAYINGS or len(trims) != len(run) - 1):
        raise MatchNotPossible(
            f"Joints are trimmed where the figure meets in {', '.join(LAYINGS)} matches, one "
            f"between each two leaves; {len(trims)} were given for {len(run)} leaves in the "
            f"{match.value} match. Choose one of those matches."
        )
    leaves = [JoinedLeaf(run[at], seat.laid, seat.down_mm) for at, seat in seating.seats]
    layout = joined_run(leaves, trims or [JointLines()] * (len(leaves) - 1), match=match, unit=unit)
    layout = replace(layout, trims=trims)
    return replace(layout, notes=joined_words(layout, [leaf.extent for leaf in leaves]))


def _check(run: Sequence[LeafExtent], match: Match, *, unit: str, wish: FaceWish) -> None:
    if not run:
        raise MatchNotPossible("No leaf was chosen; a match needs at least one. Choose a leaf.")
    for leaf in run:
        if not (leaf.width_mm > 0 and leaf.length_mm > 0):
            raise MatchNotPossible(
                f"Leaf {leaf.label} is {leaf.width_mm:g} x {leaf.length_mm:g} {unit}; both must be "
                "above zero. Look at its outline, or photograph it again."
            )
    sizes = [wish.width_mm, wish.length_mm, *(size for panel in wish.panels for size in panel)]
    named = [size for size in sizes if size is not None]
    if named and unit != "mm":
        raise MatchNotPossible(
            "A size in millimetres was asked for, but not every leaf has a scale. Type the length "
            "of the leaves in the list of photographs, or leave the size to the leaves."
        )
    if named and match in WHOLE_LEAVES:
        raise MatchNotPossible(
            f"The {match.value} match keeps every leaf whole, so its size cannot be chosen. Choose "
            "a running or a balance match for a face of a given size."
        )
    if any(size <= 0 for size in named) or (wish.pieces is not None and wish.pieces < 1):
        raise MatchNotPossible("Sizes and numbers of pieces are above zero. Change what is not.")
    if wish.is_slipped and match not in CAN_SLIP:
        raise MatchNotPossible(
            f"The {match.value} match has no slipped kind: what is turned is part of its name. "
            "Leave slipping out, or choose the slip match."
        )


def _left_over(run: Sequence[LeafExtent], used: set[int]) -> str:
    left = [at for at in range(len(run)) if at not in used]
    if not left:
        return ""
    if len(left) == 1:
        return f"Not needed for this face: leaf {run[left[0]].label} is left over."
    which = ", ".join(run[at].label for at in left)
    if left[-1] - left[0] == len(left) - 1:
        which = f"{run[left[0]].label} to {run[left[-1]].label}"
    return f"Not needed for this face: leaves {which} are left over."
