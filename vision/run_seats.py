"""Seats of matches side by side and end to end: runs, ends, balanced faces, sets of panels."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from vision.errors import MatchNotPossible
from vision.face_wish import FaceWish
from vision.laying import compose
from vision.layout import LeafExtent, Panel
from vision.match_names import Match
from vision.piece import Box
from vision.seat import Seat, upright
from vision.shot import Laid

PANEL_GAP_MM = 40.0
"""Between the panels of a set, in the drawing."""
LEAST_CENTRE_BOOK = 4
"""Leaves of a slip, centre book match (Architectural Woodwork Standards, 2009, p. 74)."""
LEAST_LEFTOVER_MM = 5.0
"""A narrower rest of a leaf starts no new face."""


@dataclass(frozen=True, slots=True)
class Seating:
    """Which leaf of the run takes which seat, in order, and the faces they fill."""

    seats: tuple[tuple[int, Seat], ...]
    panels: tuple[Panel, ...]
    is_cut: bool = True
    """False where leaves go in whole, their long edges cut straight and no more."""


@dataclass(frozen=True, slots=True)
class Face:
    """One upright face to fill."""

    left: float
    width: float
    length: float
    number: int = 0

    @property
    def panel(self) -> Panel:
        """The same as a panel of a layout."""
        box = Box(self.left, 0.0, self.left + self.width, self.length)
        return Panel(f"Panel {self.number + 1}", box)


def net_width(run: Sequence[LeafExtent], wish: FaceWish) -> float:
    """Return the width that every leaf gives once its edges are shot.

    Raises
    ------
    MatchNotPossible
        If shooting leaves nothing.
    """
    narrowest = min(run, key=lambda leaf: leaf.width_mm)
    net = narrowest.width_mm - 2 * wish.allowances.shoot_mm
    if net <= 0:
        raise MatchNotPossible(
            f"Leaf {narrowest.label} is {narrowest.width_mm:g} wide; shooting "
            f"{wish.allowances.shoot_mm:g} off either side leaves nothing. Shoot less, or leave "
            "that leaf out."
        )
    return net


def shortest(run: Sequence[LeafExtent]) -> float:
    """Return the length that every leaf of a run reaches."""
    return min(leaf.length_mm for leaf in run)


def trimmed_length(run: Sequence[LeafExtent], wish: FaceWish, *, rims: int = 2) -> float:
    """Return the longest finished piece that every leaf gives, with overhang at its free ends.

    Raises
    ------
    MatchNotPossible
        If the overhang takes it all.
    """
    left = shortest(run) - rims * wish.allowances.end_overhang_mm
    if left <= 0:
        raise MatchNotPossible(
            f"The shortest leaf is {shortest(run):.0f} long; {wish.allowances.end_overhang_mm:g} "
            "of overhang at its ends leave nothing. Choose longer leaves, or less overhang."
        )
    return left


def booked(index: int, wish: FaceWish) -> Laid:
    """Return how a leaf lies in a booked run, or in a slipped one if that is wished."""
    return Laid.FACE_OVER if index % 2 and not wish.is_slipped else Laid.AS_LIES


def one_face(
    seats: Sequence[tuple[int, Seat]], width: float, length: float, *, is_cut: bool = True
) -> Seating:
    """Return seats that fill one face."""
    panel = Panel("Face", Box(0.0, 0.0, width, length))
    return Seating(tuple(seats), (panel,), is_cut=is_cut)


def whole_row(run: Sequence[LeafExtent], laid: Iterable[tuple[int, Laid]]) -> Seating:
    """Return leaves at their whole width and length, side by side, the top ends in line.

    ``laid`` names them from the left by their places in the run, each with its laying.
    """
    seats, x = [], 0.0
    for at, laying in laid:
        right = x + run[at].width_mm
        seats.append((at, upright(Box(x, 0.0, right, run[at].length_mm), laying)))
        x = right
    return one_face(seats, x, max(leaf.length_mm for leaf in run), is_cut=False)


def end_match(run: Sequence[LeafExtent], wish: FaceWish, match: Match) -> Seating:
    """Return two rows of leaves end to end, trimmed to one length and, in columns, to one width."""
    if len(run) % 2:
        raise MatchNotPossible(
            f"An end match takes an even number of leaves, half of them in each row; {len(run)} "
            "were chosen. Add or leave out one."
        )
    half = len(run) // 2
    # rows that lie the same way have their free ends at opposite ends of the leaf
    rims = 2 if match is Match.CONTINUOUS_END else 1
    long = trimmed_length(run, wish, rims=rims) if wish.length_mm is None else wish.length_mm / 2
    seats, x = [], 0.0
    for column in range(half):
        pair = (2 * column, 2 * column + 1)
        if match is not Match.BOOK_AND_BUTT:
            pair = (column, half + column)
        wide = net_width([run[at] for at in pair], wish)
        above = booked(column, wish)
        below = above if match is Match.CONTINUOUS_END else compose(above, Laid.END_OVER)
        for at, laid, top in ((pair[0], above, 0.0), (pair[1], below, long)):
            seats.append((at, upright(Box(x, top, x + wide, top + long), laid)))
        x += wide
    return one_face(seats, x, 2 * long)


def running(run: Sequence[LeafExtent], wish: FaceWish) -> Seating:
    """Return leaves at full width until each face is full, the rest of the last one in the next."""
    shoot = wish.allowances.shoot_mm
    net_width(run, wish)
    nets = [leaf.width_mm - 2 * shoot for leaf in run]
    at, used = 0, 0.0
    seats = []
    faces = _faces(run, wish, sum(nets))
    for face in faces:
        filled = 0.0
        while face.width - filled > 0.01:
            if at == len(run):
                raise MatchNotPossible(
                    f"{len(run)} leaves are {sum(nets):.0f} mm wide together; panel "
                    f"{face.number + 1} lacks {face.width - filled:.0f} mm. Choose more leaves, "
                    "or a narrower face."
                )
            take = min(nets[at] - used, face.width - filled)
            left = face.left + filled
            box = Box(left, 0.0, left + take, face.length)
            across = shoot + used
            seat = upright(box, booked(at, wish), across_mm=across, panel=face.number)
            seats.append((at, seat))
            filled, used = filled + take, used + take
            if face.width - filled <= 0.01:  # the cut at a rim leaves overhang on both its sides
                used += 2 * wish.allowances.overhang_mm
            if nets[at] - used < LEAST_LEFTOVER_MM:
                at, used = at + 1, 0.0
    return Seating(tuple(seats), tuple(face.panel for face in faces))


def balanced(run: Sequence[LeafExtent], wish: FaceWish, match: Match) -> Seating:
    """Return faces of leaves trimmed to one width, each face from the next leaves of the run."""
    net, least = net_width(run, wish), 1
    if match is Match.SLIP_CENTRE_BOOK:
        least = LEAST_CENTRE_BOOK
    step = 1 if match in (Match.BALANCE, Match.BLUEPRINT) else 2
    if match in (Match.SEQUENCE, Match.BLUEPRINT) and not wish.panels:
        raise MatchNotPossible(
            "A set needs the size of each of its panels. Name them, for example 600x2000 and "
            "600x2000."
        )
    if match is Match.SEQUENCE and len(set(wish.panels)) > 1:
        raise MatchNotPossible(
            "Sequence-matched panels are of one size; the sizes named differ. Name one size, or "
            "choose the blueprint match."
        )
    faces = _faces(run, wish, net * max(_floored(len(run), step), 1))
    seats: list[tuple[int, Seat]] = []
    first = 0
    for face in faces:
        count = _count(face, net, wish, step=step, least=least)
        if first + count > len(run):
            raise MatchNotPossible(
                f"Panel {face.number + 1} of {len(faces)}, {face.width:.0f} mm wide, takes {count} "
                f"leaves of {net:.0f} mm; of the {len(run)} chosen {len(run) - first} are left "
                "for it. Choose more leaves, or a narrower face."
            )
        wide = face.width / count
        for place in range(count):
            left = face.left + place * wide
            laid = booked(first + place if match is Match.BLUEPRINT else place, wish)
            if match is Match.SLIP_CENTRE_BOOK:
                laid = Laid.AS_LIES if place < count // 2 else Laid.FACE_OVER
            box = Box(left, 0.0, left + wide, face.length)
            seats.append((first + place, upright(box, laid, panel=face.number)))
        first += count
    return Seating(tuple(seats), tuple(face.panel for face in faces))


def _floored(count: int, step: int) -> int:
    return count - count % step


def _count(face: Face, net: float, wish: FaceWish, *, step: int, least: int) -> int:
    """Return of how many leaves a face is made: as wished, else as few as are wide enough."""
    enough = max(least, math.ceil(face.width / net - 1e-6))
    enough += enough % step
    if wish.pieces is None:
        return enough
    if wish.pieces % step:
        raise MatchNotPossible(
            f"{wish.pieces} leaves were asked for; with a joint on the centre line their number "
            f"is even. Ask for {wish.pieces - 1} or {wish.pieces + 1}."
        )
    if wish.pieces < enough:
        raise MatchNotPossible(
            f"{wish.pieces} leaves of {net:.0f} mm do not fill {face.width:.0f} mm; {enough} do. "
            "Ask for more leaves, or a narrower face."
        )
    return wish.pieces


def _faces(run: Sequence[LeafExtent], wish: FaceWish, width: float) -> tuple[Face, ...]:
    """Return the faces wished for, side by side; one of the given width if none is."""
    if not wish.panels:
        long = wish.length_mm or trimmed_length(run, wish)
        return (Face(0.0, wish.width_mm or width, long),)
    faces, x = [], 0.0
    for number, (wide, long) in enumerate(wish.panels):
        faces.append(Face(x, wide, long, number))
        x += wide + PANEL_GAP_MM
    return tuple(faces)
