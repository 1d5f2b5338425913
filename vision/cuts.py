"""How each piece of a match is cut from its leaf: lines, the side to keep, the overhang.

A veneer saw leaves one square edge and one waste edge, and only square edges make a joint (common
practice): so every line has a side to keep, and two pieces never share one cut. Edges that meet
another piece are cut to the line; edges at the rim of the panel stand out for pressing and are
trimmed with the panel afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot

from vision.layout import Allowances, LeafExtent, Placement
from vision.piece import Point, area_mm2, edge_of, grown

SHORT_MM = 0.5
"""An overhang lacking less than this is whole."""


class CutUse(StrEnum):
    """What a cut is for."""

    JOINT = "joint"
    """Square; it meets another piece."""
    RIM = "rim"
    """Rough; trimmed with the panel after pressing."""


class KeepSide(StrEnum):
    """Which side of a cut is the piece, seen from its start toward its end."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Cut:
    """One straight cut on the leaf as it lies."""

    start_mm: Point
    end_mm: Point
    use: CutUse
    keep: KeepSide
    overhang_mm: float
    """By how much the line stands outside the finished panel; 0 at a joint."""

    @property
    def length_mm(self) -> float:
        """From start to end."""
        return hypot(self.end_mm[0] - self.start_mm[0], self.end_mm[1] - self.start_mm[1])


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One piece of a layout with its cuts in order round it."""

    number: int
    """From 1, in the order of the layout's placements."""
    place: Placement
    cuts: tuple[Cut, ...]
    lacking_mm: float
    """The most by which the leaf is too small for the overhang wanted; 0 if it is large enough."""

    @property
    def outline_mm(self) -> tuple[Point, ...]:
        """What is cut, overhang and all, on the leaf as it lies."""
        return tuple(cut.start_mm for cut in self.cuts)


def cut_pieces(
    placements: Sequence[Placement],
    leaves: Sequence[LeafExtent],
    *,
    allowances: Allowances,
) -> tuple[CutPiece, ...]:
    """Return the cuts of every piece of a layout.

    Parameters
    ----------
    placements : sequence of Placement
    leaves : sequence of LeafExtent
        Every leaf that a placement names.
    allowances : Allowances
        Its overhangs are reached as far as the leaf goes.
    """
    sizes = {leaf.label: leaf for leaf in leaves}
    return tuple(
        _cut_piece(number, place, sizes[place.leaf], allowances)
        for number, place in enumerate(placements, start=1)
    )


def overhangs(
    on_leaf: Sequence[Point], joints: Sequence[bool], allowances: Allowances
) -> list[float]:
    """Return by how much each edge of a piece, as it lies on its leaf, is to stand out."""
    wanted = []
    for corner, is_joint in enumerate(joints):
        (x0, y0), (x1, y1) = edge_of(on_leaf, corner)
        # an edge that crosses the grain at more than 30 degrees splinters like an end
        is_end = abs(x1 - x0) > 0.5 * hypot(x1 - x0, y1 - y0)
        over = allowances.end_overhang_mm if is_end else allowances.overhang_mm
        wanted.append(0.0 if is_joint else over)
    return wanted


def overhang_words(pieces: Sequence[CutPiece]) -> str:
    """Return a sentence on the leaves too small for the overhang, empty if there are none."""
    short: dict[str, float] = {}
    for piece in pieces:
        if piece.lacking_mm > SHORT_MM:
            leaf = piece.place.leaf
            short[leaf] = max(short.get(leaf, 0.0), piece.lacking_mm)
    if not short:
        return ""
    named = ", ".join(f"{leaf} ({lack:.0f} mm)" for leaf, lack in list(short.items())[:6])
    more = f" and {len(short) - 6} more" if len(short) > 6 else ""
    return (
        f"The overhang for pressing is cut short for want of wood at the rim: leaf {named}{more} "
        "lacking. Make the face a little smaller, or take care in laying."
    )


def _cut_piece(number: int, place: Placement, leaf: LeafExtent, allowances: Allowances) -> CutPiece:
    outline, joints = list(place.on_leaf_mm), list(place.joint_edges)
    if area_mm2(outline) < 0:  # cut clockwise on every leaf: turned pieces run the other way
        outline = [outline[0], *outline[:0:-1]]
        joints = joints[::-1]
    wanted = overhangs(outline, joints, allowances)
    given = _as_far_as_the_leaf(outline, wanted, leaf)
    cut_to = grown(outline, given)
    cuts = tuple(
        Cut(
            *edge_of(cut_to, corner),
            CutUse.JOINT if joint else CutUse.RIM,
            KeepSide.RIGHT,
            given[corner],
        )
        for corner, joint in enumerate(joints)
    )
    lacking = max(want - give for want, give in zip(wanted, given, strict=True))
    return CutPiece(number, place, cuts, lacking)


def _as_far_as_the_leaf(
    outline: Sequence[Point], wanted: Sequence[float], leaf: LeafExtent
) -> list[float]:
    """Return the overhang of each edge, as wanted or as far as the leaf reaches."""
    given = [0.0] * len(wanted)
    for corner, want in enumerate(wanted):
        low, high = 0.0, want
        if _is_on(grown(outline, _with(given, corner, want)), leaf):
            low = want
        for _ in range(30 if low < want else 0):
            middle = (low + high) / 2
            if _is_on(grown(outline, _with(given, corner, middle)), leaf):
                low = middle
            else:
                high = middle
        given[corner] = low
    return given


def _with(values: Sequence[float], at: int, value: float) -> list[float]:
    return [value if index == at else one for index, one in enumerate(values)]


def _is_on(outline: Sequence[Point], leaf: LeafExtent) -> bool:
    slack = 0.02  # a piece may be a hundredth larger than its leaf, see `vision.seat.sit`
    return all(
        -slack <= x <= leaf.width_mm + slack and -slack <= y <= leaf.length_mm + slack
        for x, y in outline
    )
