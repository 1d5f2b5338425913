"""A seat: how a piece is set into a panel, and the placement of a leaf that sits in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from vision.cuts import overhangs
from vision.errors import MatchNotPossible
from vision.joints import meeting_edges
from vision.laying import reverses_rows
from vision.layout import Allowances, LeafExtent, Placement
from vision.piece import Box, Point, box_of, grown, shift, turn_about
from vision.shot import Laid


@dataclass(frozen=True, slots=True)
class Room:
    """Overhang round a blank on its leaf, mm."""

    left: float = 0.0
    top: float = 0.0
    right: float = 0.0
    bottom: float = 0.0


@dataclass(frozen=True, slots=True)
class Seat:
    """How a piece of a leaf is set into a panel."""

    outline: tuple[Point, ...]
    """The finished piece in the panel, clockwise."""
    turn_deg: float = 0.0
    """Clockwise, over the leaf as it lies or, if ``mirrored``, face over; 0: grain up and down."""
    mirrored: bool = False
    blank: tuple[Point, ...] = ()
    """What is cut, where it differs from the outline."""
    across_mm: float | None = None
    """Where it begins from the left of the leaf so laid; None: in the middle."""
    along_mm: float | None = None
    """Where it begins from the top of the leaf as it lies; None: in the middle."""
    down_mm: float = 0.0
    """By how much the leaf is moved down its grain from there, as it lies in the panel."""
    panel: int = 0
    joints: tuple[bool, ...] = ()
    """Which edges of the blank meet another seat; set by `prepared`."""
    room: Room = Room()
    """What the leaf should hold round the blank; set by `prepared`."""

    @property
    def laid(self) -> Laid:
        """How the leaf lies, the turn that is left over it not counted."""
        return turn_about((0.0, 0.0), self.turn_deg, mirrored=self.mirrored).laying()[0]


TURN_OF_LAID: dict[Laid, tuple[float, bool]] = {
    Laid.AS_LIES: (0.0, False),
    Laid.FACE_OVER: (0.0, True),
    Laid.END_TURNED: (180.0, False),
    Laid.END_OVER: (180.0, True),
}
"""Laying -> the turn and the mirror that make it."""


def upright(box: Box, laid: Laid, *, across_mm: float | None = None, panel: int = 0) -> Seat:
    """Return the seat of a rectangle whose grain runs up and down."""
    turn, mirrored = TURN_OF_LAID[laid]
    return Seat(box.corners, turn, mirrored, across_mm=across_mm, panel=panel)


def started(seat: Seat, start: Laid) -> Seat:
    """Return a seat whose leaf is first laid some way, then as the seat has it.

    Examples
    --------
    >>> seat = upright(Box(0.0, 0.0, 100.0, 900.0), Laid.FACE_OVER)
    >>> again = started(seat, Laid.FACE_OVER)
    >>> again.turn_deg, again.mirrored
    (0.0, False)
    """
    if start is Laid.AS_LIES:
        return seat
    turn, mirrored = TURN_OF_LAID[start]
    return replace(
        seat, turn_deg=(seat.turn_deg + turn) % 360.0, mirrored=seat.mirrored != mirrored
    )


def prepared(seats: Sequence[Seat], allowances: Allowances) -> tuple[Seat, ...]:
    """Return seats that know their joints and how much room their blanks want on the leaf.

    Blanks of one shape get room alike, so that they are cut at one and the same place of their
    leaves and the figure meets at every booked joint.
    """
    blanks = [seat.blank or seat.outline for seat in seats]
    joints = meeting_edges(blanks, [seat.panel for seat in seats])
    rooms: dict[tuple[Point, ...], Room] = {}
    shapes = []
    for seat, meets in zip(seats, joints, strict=True):
        flat = _flat(seat)
        need = box_of(flat)
        over = box_of(grown(flat, overhangs(flat, meets, allowances)))
        shapes.append(_shape(flat, need))
        room = rooms.get(shapes[-1], Room())
        rooms[shapes[-1]] = Room(
            max(room.left, need.left - over.left),
            max(room.top, need.top - over.top),
            max(room.right, over.right - need.right),
            max(room.bottom, over.bottom - need.bottom),
        )
    return tuple(
        replace(seat, joints=meets, room=rooms[shape])
        for seat, meets, shape in zip(seats, joints, shapes, strict=True)
    )


def _flat(seat: Seat) -> list[Point]:
    """Return the blank of a seat as it is drawn on a leaf that lies as in the stack."""
    turned = turn_about((0.0, 0.0), seat.turn_deg, mirrored=seat.mirrored).back()
    return [turned(point) for point in seat.blank or seat.outline]


def _shape(flat: Sequence[Point], box: Box) -> tuple[Point, ...]:
    return tuple(
        sorted((round(x - box.left, 3) + 0.0, round(y - box.top, 3) + 0.0) for x, y in flat)
    )


def sit(leaf: LeafExtent, seat: Seat, *, shoot_mm: float = 0.0, unit: str = "mm") -> Placement:
    """Return a piece of a leaf in its seat.

    Where the seat leaves it open, the piece lies in the middle of its leaf, overhang and all.

    Parameters
    ----------
    leaf : LeafExtent
    seat : Seat
        See `prepared`.
    shoot_mm : float
        Taken off each side of the leaf.
    unit : str
        Named in refusals.

    Raises
    ------
    MatchNotPossible
        If the leaf, its sides shot, is too small for the piece.
    """
    blank = seat.blank or seat.outline
    turned = turn_about((0.0, 0.0), seat.turn_deg, mirrored=seat.mirrored)
    need, room = box_of(_flat(seat)), seat.room
    # a hundredth of a millimetre is no reason to refuse a leaf
    if need.width > leaf.width_mm - 2 * shoot_mm + 0.01 or need.height > leaf.length_mm + 0.01:
        raise MatchNotPossible(
            f"Leaf {leaf.label} gives {leaf.width_mm - 2 * shoot_mm:.0f} x {leaf.length_mm:.0f} "
            f"{unit} after its edges are shot; {need.width:.0f} x {need.height:.0f} {unit} are "
            "needed of it, across and along the grain. Make the face smaller, or choose more or "
            "larger leaves."
        )
    x = (leaf.width_mm - need.width + room.left - room.right) / 2
    x = min(max(x, shoot_mm), leaf.width_mm - shoot_mm - need.width)
    if seat.across_mm is not None:
        from_right = (seat.turn_deg == 180.0) != seat.mirrored
        x = leaf.width_mm - seat.across_mm - need.width if from_right else seat.across_mm
    y = (leaf.length_mm - need.height + room.top - room.bottom) / 2
    y = min(max(y, 0.0), leaf.length_mm - need.height)
    y = y if seat.along_mm is None else seat.along_mm
    if seat.down_mm:
        y = _moved_down(leaf, seat, y, need.height, unit)
    to_panel = turned.after(shift(need.left - x, need.top - y))
    laid, turned_deg = to_panel.laying()
    box = box_of(seat.outline)
    return Placement(
        leaf=leaf.label,
        laid=laid,
        x_mm=box.left,
        y_mm=box.top,
        width_mm=box.width,
        length_mm=box.height,
        outline_mm=seat.outline,
        blank_mm=blank,
        to_panel=to_panel,
        turned_deg=turned_deg,
        panel=seat.panel,
        joint_edges=seat.joints,
    )


def _moved_down(leaf: LeafExtent, seat: Seat, y: float, height: float, unit: str) -> float:
    """Return where a piece begins on its leaf once the leaf is moved down its grain."""
    sign = 1.0 if reverses_rows(seat.laid) else -1.0
    moved = y + sign * seat.down_mm
    spare = leaf.length_mm - height
    if not -0.01 <= moved <= spare + 0.01:
        up, down = (spare - y, y) if sign < 0 else (y, spare - y)
        raise MatchNotPossible(
            f"Leaf {leaf.label} can be moved up by {up:.0f} and down by {down:.0f} {unit} in this "
            f"face; {abs(seat.down_mm):.0f} {'down' if seat.down_mm > 0 else 'up'} were asked. "
            "Move it less, or make the face shorter."
        )
    return min(max(moved, 0.0), spare)
