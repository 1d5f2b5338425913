"""Where the leaves of one panel can be cut: all at the same lines, clear of what must not show.

A shop cuts the leaves of a face as one pack, so that their figure stays in register. Leaves are
laid over each other by one long edge or by their middle (`Edge`) and by their top ends; x across
counts from that common line, y along from the top ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from vision.laying import reverses_rows
from vision.panel_faces import Slot, joined_sides
from vision.panel_job import Allowances, Edge, MarkedPlace, Place, PlanLeaf
from vision.piece import Box

HAIR_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Wood:
    """The usable wood of one leaf against the common lines of the pack."""

    shift_mm: float
    """Add it to a place across the leaf to get the place across the pack."""
    usable: Box
    avoid: tuple[Box, ...]
    """Grown by the margin; a face may touch them, not enter."""
    show: tuple[tuple[Box, float | None], ...]
    """What must show, and how far below the panel's top edge its middle shall lie."""


@dataclass(frozen=True, slots=True)
class Extra:
    """Wood that a piece needs beyond its part of the face, on each side of the leaf as it lies."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Cut:
    """The part of the pack that becomes face: from where across and along, how wide, how long."""

    left: float
    top: float
    width: float
    length: float


def wood_of(leaf: PlanLeaf, allowances: Allowances, register: Edge) -> Wood:
    """Return a leaf's usable wood, trims taken off, against the common lines.

    Examples
    --------
    >>> leaf = PlanLeaf("01", "1", 2000.0, 200.0)
    >>> wood_of(leaf, Allowances(side_trim_mm=5.0), Edge.MIDDLE).usable
    Box(left=-95.0, top=20.0, right=95.0, bottom=1980.0)
    """
    shift = {Edge.LEFT: 0.0, Edge.MIDDLE: -leaf.width_mm / 2, Edge.RIGHT: -leaf.width_mm}[register]
    usable = Box(
        shift + allowances.side_trim_mm,
        allowances.end_trim_mm,
        shift + leaf.width_mm - allowances.side_trim_mm,
        leaf.length_mm - allowances.end_trim_mm,
    )
    margin = allowances.defect_margin_mm
    return Wood(
        shift,
        usable,
        avoid=tuple(_box(m, shift, margin) for m in leaf.marks if m.place is Place.AVOID),
        show=tuple((_box(m, shift, 0.0), m.at_mm) for m in leaf.marks if m.place is Place.SHOW),
    )


def extra_of(slot: Slot, allowances: Allowances, *, columns: int, rows: int) -> Extra:
    """Return what the piece in a place needs beyond the face: overhang outside, else joint cut."""
    left, top, right, bottom = joined_sides(slot, columns=columns, rows=rows)
    side, end = allowances.overhang_side_mm, allowances.overhang_end_mm
    joint = allowances.joint_cut_mm
    return Extra(
        joint if left else side,
        joint if top else end,
        joint if right else side,
        joint if bottom else end,
    )


def find_cut(
    pack: Sequence[tuple[Wood, Slot | None]],
    allowances: Allowances,
    *,
    size: tuple[float, float],
    shape: tuple[int, int],
    top_mm: float | None = None,
) -> Cut | None:
    """Return where to cut a pack of leaves, None if it cannot be.

    Of all places the one nearest the middle of the wood across, then nearest the top ends.

    Parameters
    ----------
    pack : sequence of (Wood, Slot or None)
        The leaves in stack order with their places; None for a spare, which must do for any place
        inside the face.
    allowances : Allowances
    size : (float, float)
        Width and length of each piece's part of the face, mm.
    shape : (int, int)
        Columns and rows of the face.
    top_mm : float or None
        Where along the pack the face must begin, if that is settled.

    Examples
    --------
    >>> from vision.shot import Laid
    >>> wood = wood_of(PlanLeaf("01", "1", 2000.0, 200.0), Allowances(), Edge.LEFT)
    >>> only = [(wood, Slot(0, 0, Laid.AS_LIES))]
    >>> find_cut(only, Allowances(), size=(150.0, 1800.0), shape=(1, 1))
    Cut(left=25.0, top=50.0, width=150.0, length=1800.0)
    """
    width, length = size
    room = _room(pack, allowances, size, shape)
    if top_mm is not None and room is not None:
        if not room.top - HAIR_MM <= top_mm <= room.bottom + HAIR_MM:
            return None
        room = Box(room.left, top_mm, room.right, top_mm)
    if room is None:
        return None
    avoid = [box for wood, _ in pack for box in wood.avoid if _may_meet(box, room, width, length)]
    middle = (room.left + room.right) / 2
    is_placed = any(at is not None for wood, _ in pack for _, at in wood.show)
    best_top = (room.top + room.bottom) / 2 if is_placed else room.top
    sides = [side for b in avoid for side in (b.right, b.left - width)]
    ends = [end for b in avoid for end in (b.bottom, b.top - length)]
    for left in _nearest(middle, sides, room.left, room.right):
        for top in _nearest(best_top, ends, room.top, room.bottom):
            if not any(_enters(left, top, width, length, box) for box in avoid):
                return Cut(left, top, width, length)
    return None


def clear_strip(
    wood: Wood, *, top: float, length: float, over: float
) -> tuple[float, float] | None:
    """Return the widest strip across a leaf, from and to, that is clear over a stretch of it.

    ``over`` is the overhang at both ends, which need not be clear. None if the leaf is too short.
    """
    usable = wood.usable
    if top - over < usable.top - HAIR_MM or top + length + over > usable.bottom + HAIR_MM:
        return None
    blocked = sorted(
        (box.left, box.right)
        for box in wood.avoid
        if box.top < top + length - HAIR_MM and box.bottom > top + HAIR_MM
    )
    best, start = (usable.left, usable.left), usable.left
    for left, right in (*blocked, (usable.right, usable.right)):
        end = min(left, usable.right)
        if end - start > best[1] - best[0]:
            best = (start, end)
        start = max(start, right)
    return best


@dataclass(slots=True)
class Strips:
    """The clear strips of a flitch's leaves, each worked out once."""

    woods: Sequence[Wood]
    over_mm: float
    """Overhang at both ends."""
    _known: dict[tuple[int, float, float], tuple[float, float] | None] = field(default_factory=dict)

    def at(self, leaf: int, top: float, length: float) -> tuple[float, float] | None:
        """Return the widest clear strip of a leaf over a stretch; see `clear_strip`."""
        key = (leaf, top, length)
        if key not in self._known:
            wood = self.woods[leaf]
            self._known[key] = clear_strip(wood, top=top, length=length, over=self.over_mm)
        return self._known[key]


def shows(wood: Wood, slot: Slot, cut: Cut, *, rows: int, within: float) -> bool:
    """Tell whether a piece shows everything its leaf must show, and at the wished height."""
    room = Box(cut.left, cut.top, cut.left, cut.top)
    size = (cut.width, cut.length)
    for mark in wood.show:
        room = _narrowed(room, mark, slot, size, rows, within)
    return room.left <= room.right + HAIR_MM and room.top <= room.bottom + HAIR_MM


def _room(
    pack: Sequence[tuple[Wood, Slot | None]],
    allowances: Allowances,
    size: tuple[float, float],
    shape: tuple[int, int],
) -> Box | None:
    """Return within which limits the top left corner of the cut may lie, defects apart."""
    joint, over = allowances.joint_cut_mm, allowances.overhang_end_mm
    end = over if shape[1] == 1 else joint
    spare = Extra(joint, over, joint, end)
    room = Box(-1e9, -1e9, 1e9, 1e9)
    for wood, slot in pack:
        extra = spare
        if slot is not None:
            extra = extra_of(slot, allowances, columns=shape[0], rows=shape[1])
        usable = wood.usable
        room = Box(
            max(room.left, usable.left + extra.left),
            max(room.top, usable.top + extra.top),
            min(room.right, usable.right - extra.right - size[0]),
            min(room.bottom, usable.bottom - extra.bottom - size[1]),
        )
        for mark in wood.show:
            if slot is None:
                return None
            room = _narrowed(room, mark, slot, size, shape[1], allowances.at_within_mm)
        if room.left > room.right + HAIR_MM or room.top > room.bottom + HAIR_MM:
            return None
    return room


def _narrowed(
    room: Box,
    mark: tuple[Box, float | None],
    slot: Slot,
    size: tuple[float, float],
    rows: int,
    within: float,
) -> Box:
    """Return the room left when the cut must hold a mark, at its height on the panel."""
    box, at = mark
    width, length = size
    top, bottom = max(room.top, box.bottom - length), min(room.bottom, box.top)
    if at is not None:
        middle = (box.top + box.bottom) / 2
        from_piece = at - slot.row * (length if rows > 1 else 0.0)
        wished = middle - (length - from_piece if reverses_rows(slot.laid) else from_piece)
        top, bottom = max(top, wished - within), min(bottom, wished + within)
    return Box(max(room.left, box.right - width), top, min(room.right, box.left), bottom)


def _box(mark: MarkedPlace, shift: float, margin: float) -> Box:
    return Box(
        mark.left_mm + shift - margin,
        mark.top_mm - margin,
        mark.right_mm + shift + margin,
        mark.bottom_mm + margin,
    )


def _nearest(best: float, others: Iterable[float], low: float, high: float) -> list[float]:
    """Return ``best`` and those of the others between the limits, the nearest to it first."""
    inside = {best, *(other for other in others if low <= other <= high)}
    return sorted(inside, key=lambda value: (abs(value - best), value))


def _may_meet(box: Box, room: Box, width: float, length: float) -> bool:
    return (
        box.left < room.right + width
        and box.right > room.left
        and box.top < room.bottom + length
        and box.bottom > room.top
    )


def _enters(left: float, top: float, width: float, length: float, box: Box) -> bool:
    return (
        box.left < left + width - HAIR_MM
        and box.right > left + HAIR_MM
        and box.top < top + length - HAIR_MM
        and box.bottom > top + HAIR_MM
    )


def heights_to_try(
    woods: Iterable[Wood], allowances: Allowances, *, length: float
) -> tuple[float, ...]:
    """Return places along the pack, one for every set of defects that a stretch can meet.

    What a stretch of fixed length meets changes only where it begins to touch or to leave a
    defect, and whether a mark shows at its height only at the ends of what is allowed about that
    height; those places and the middles between them stand for all others.
    """
    kept = list(woods)
    if not kept:
        return ()
    over, within = allowances.overhang_end_mm, allowances.at_within_mm
    low = min(wood.usable.top for wood in kept) + over
    high = max(wood.usable.bottom for wood in kept) - over - length
    turns = {low, high}
    for wood in kept:
        turns |= {box.bottom for box in wood.avoid} | {box.top - length for box in wood.avoid}
        turns |= {wood.usable.bottom - over - length}
        turns |= {box.top for box, _ in wood.show} | {box.bottom - length for box, _ in wood.show}
        for box, at in wood.show:
            if at is not None:
                middle = (box.top + box.bottom) / 2
                wished = (middle - at, middle - (length - at))  # its top end up, or down
                turns |= {top + off for top in wished for off in (-within, within)}
    inside = sorted(turn for turn in turns if low <= turn <= high)
    middles = [(a + b) / 2 for a, b in pairwise(inside)]
    return tuple(sorted({*inside, *middles}))
