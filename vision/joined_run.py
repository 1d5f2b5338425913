"""A run of whole leaves laid by the lines at which each two of them are cut and meet.

The first leaf stays; each further one is turned and slipped so that its line comes to lie on its
neighbour's. The whole run is then turned back by half of what the last leaf is turned, so that the
lean is shared by both ends, and trued to the largest upright face that stays inside every leaf.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vision.errors import MatchNotPossible
from vision.joint_cut import JointLines
from vision.joints import joints_between
from vision.laying import shows_other_face
from vision.layout import Layout, LeafExtent, Panel, Placement
from vision.match_names import Match
from vision.piece import Box, Move, Point, lay, shift, turn_about
from vision.shot import Laid

Line = tuple[Point, Point]
"""Two points of a straight line, the upper one first."""
LEAST_PIECE_MM = 10.0
LEAST_TOLD_MM = 0.5
LEAST_LEAN_DEG = 0.05


@dataclass(frozen=True, slots=True)
class JoinedLeaf:
    """One leaf of the run: how it lies, and by how much it is moved down along its grain."""

    extent: LeafExtent
    laid: Laid
    down_mm: float = 0.0


def joined_run(
    leaves: Sequence[JoinedLeaf], lines: Sequence[JointLines], *, match: Match, unit: str = "mm"
) -> Layout:
    """Return a run of leaves cut and laid by the lines at which they meet.

    Parameters
    ----------
    leaves : sequence of JoinedLeaf
        From the left.
    lines : sequence of JointLines
        One between each two leaves.
    match : Match
        What the layout is called.
    unit : str

    Raises
    ------
    MatchNotPossible
        If the cuts leave nothing of a leaf, or the leaves are moved so far that no face is left.

    Examples
    --------
    >>> two = [JoinedLeaf(LeafExtent(one, 200.0, 2000.0), Laid.AS_LIES) for one in ("01", "02")]
    >>> trimmed = joined_run(two, [JointLines(8.0, 0.0, 6.0, 0.0, 20.0)], match=Match.SLIP)
    >>> trimmed.width_mm, trimmed.length_mm, trimmed.placements[1].x_mm
    (386.0, 1980.0, 192.0)
    """
    moves = _moves(leaves, lines)
    edges = _edges(leaves, lines, moves)
    face = _face(leaves, moves, edges)
    corner = shift(-face.left, -face.top)
    bounds = [
        ((_at(edge, face.top), face.top), (_at(edge, face.bottom), face.bottom))
        for edge in edges[1:-1]
    ]
    rims = [((x, face.top), (x, face.bottom)) for x in (face.left, face.right)]
    bounds = [rims[0], *bounds, rims[1]]
    placements = tuple(
        _placement(leaf, corner.after(move), (bounds[at], bounds[at + 1]), at, len(leaves), corner)
        for at, (leaf, move) in enumerate(zip(leaves, moves, strict=True))
    )
    box = Box(0.0, 0.0, face.width, face.height)
    return Layout(
        match,
        placements,
        joints_between(placements),
        width_mm=face.width,
        length_mm=face.height,
        unit=unit,
        panels=(Panel("Face", box),),
    )


def joined_words(layout: Layout, leaves: Sequence[LeafExtent]) -> tuple[str, ...]:
    """Return what trimming joints and moving leaves costs, in sentences.

    Parameters
    ----------
    layout : Layout
        From `joined_run`.
    leaves : sequence of LeafExtent
        As they went in.
    """
    unit, said = layout.unit, []
    if layout.trims:
        said.append(_trim_words(layout))
    wide, joints = sum(leaf.width_mm for leaf in leaves), sum(one.loss_mm for one in layout.trims)
    if wide - layout.width_mm >= LEAST_TOLD_MM:
        rest = wide - layout.width_mm - joints
        rims = f" and {rest:.0f} at the trued rims" if rest >= LEAST_TOLD_MM else ""
        said.append(
            f"The face is {layout.width_mm:.0f} {unit} wide: of {wide:.0f} {unit} of leaves "
            f"{joints:.0f} go at {len(layout.joints)} joints{rims}."
        )
    short = min(leaf.length_mm for leaf in leaves) - layout.length_mm
    if short >= LEAST_TOLD_MM:
        said.append(
            f"It is {layout.length_mm:.0f} {unit} long, as far as every leaf reaches: {short:.0f} "
            "less than the shortest leaf, for leaves moved along the grain."
        )
    most = max(layout.placements, key=lambda place: abs(place.turned_deg))
    if abs(most.turned_deg) >= LEAST_LEAN_DEG:
        said.append(f"Leaf {most.leaf} leans most, by {abs(most.turned_deg):.1f}°.")
    said.append("The face takes all the wood there is: little or no overhang is left at its rims.")
    return tuple(said)


def _trim_words(layout: Layout) -> str:
    """Return which joints are trimmed to meet, and whether they are mirror images still."""
    joints, straight = len(layout.trims), sum(cut.is_straight for cut in layout.trims)
    if straight == 0:
        words = "Each joint is cut where lines and tone meet best, all of them chosen together."
    else:
        which = "Each joint is" if straight == joints else f"{straight} of {joints} joints are"
        words = f"{which} cut straight, for a turn or a slip would gain nothing that shows"
        words += "." if straight == joints else "; the others where lines and tone meet best."
    is_mirrored = all(
        cut.left_mm == cut.right_mm and cut.left_deg == cut.right_deg and not cut.slip_mm
        for cut in layout.trims
    )
    faces = {shows_other_face(place.laid) for place in layout.placements}
    if len(faces) > 1 and not is_mirrored:
        words += " The two sides of a joint are no longer mirror images."
    return words


def _moves(leaves: Sequence[JoinedLeaf], lines: Sequence[JointLines]) -> list[Move]:
    """Return where each leaf goes, from its own frame as it lies in the match."""
    whole_turn = sum(joint.turn_deg for joint in lines)
    turn = -whole_turn / 2
    moves = [turn_about((0.0, 0.0), turn, mirrored=False).after(shift(0.0, leaves[0].down_mm))]
    for at, joint in enumerate(lines):
        left, right = leaves[at], leaves[at + 1]
        middle = min(left.extent.length_mm, right.extent.length_mm) / 2
        slip = joint.slip_mm + left.down_mm - right.down_mm
        turn += joint.turn_deg
        turned = turn_about((0.0, 0.0), turn, mirrored=False)
        meets = moves[-1]((left.extent.width_mm - joint.left_mm, middle))
        lean = math.tan(math.radians(joint.right_deg))
        x, y = turned((joint.right_mm + lean * slip, middle + slip))
        moves.append(shift(meets[0] - x, meets[1] - y).after(turned))
    return moves


def _edges(
    leaves: Sequence[JoinedLeaf], lines: Sequence[JointLines], moves: Sequence[Move]
) -> list[Line]:
    """Return the left edge of the run, each joint and the right edge."""
    first, last = leaves[0].extent, leaves[-1].extent
    edges = [(moves[0]((0.0, 0.0)), moves[0]((0.0, first.length_mm)))]
    for at, joint in enumerate(lines):
        left = leaves[at].extent
        middle = min(left.length_mm, leaves[at + 1].extent.length_mm) / 2
        lean = math.tan(math.radians(joint.left_deg))
        deep = left.width_mm - joint.left_mm
        ends = ((deep + lean * middle, 0.0), (deep - lean * middle, 2 * middle))
        edges.append((moves[at](ends[0]), moves[at](ends[1])))
    wide = last.width_mm
    return [*edges, (moves[-1]((wide, 0.0)), moves[-1]((wide, last.length_mm)))]


def _face(leaves: Sequence[JoinedLeaf], moves: Sequence[Move], edges: Sequence[Line]) -> Box:
    """Return the largest upright face that stays inside every leaf."""
    top, bottom = -math.inf, math.inf
    for at, (leaf, move) in enumerate(zip(leaves, moves, strict=True)):
        size = leaf.extent
        ends = [(move((0.0, y)), move((size.width_mm, y))) for y in (0.0, size.length_mm)]
        top = max(top, *(_crossing_y(edge, ends[0]) for edge in edges[at : at + 2]))
        bottom = min(bottom, *(_crossing_y(edge, ends[1]) for edge in edges[at : at + 2]))
    if bottom - top <= 0:
        raise MatchNotPossible(
            "The leaves are moved so far along the grain that no height is left which all of them "
            "reach. Move them less."
        )
    for edge, beside, leaf in zip(edges, edges[1:], leaves, strict=False):
        narrow = min(_at(beside, y) - _at(edge, y) for y in (top, bottom))
        if narrow < LEAST_PIECE_MM:
            raise MatchNotPossible(
                f"The cuts leave {max(narrow, 0.0):.0f} mm of leaf {leaf.extent.label}; "
                f"{LEAST_PIECE_MM:.0f} are needed. Allow less loss at the joints, or leave it out."
            )
    left = max(_at(edges[0], top), _at(edges[0], bottom))
    right = min(_at(edges[-1], top), _at(edges[-1], bottom))
    return Box(left, top, right, bottom)


def _placement(
    leaf: JoinedLeaf,
    move: Move,
    bounds: tuple[Line, Line],
    at: int,
    count: int,
    corner: Move,
) -> Placement:
    (left, right), size = bounds, leaf.extent
    outline = tuple(corner(point) for point in (left[0], right[0], right[1], left[1]))
    to_panel = move.after(lay(leaf.laid, size.width_mm, size.length_mm))
    _, turned_deg = to_panel.laying()
    xs = [x for x, _ in outline]
    return Placement(
        leaf=size.label,
        laid=leaf.laid,
        x_mm=min(xs),
        y_mm=outline[0][1],
        width_mm=max(xs) - min(xs),
        length_mm=outline[2][1] - outline[0][1],
        outline_mm=outline,
        blank_mm=outline,
        to_panel=to_panel,
        turned_deg=turned_deg,
        joint_edges=(False, at < count - 1, False, at > 0),
    )


def _at(line: Line, y: float) -> float:
    """Return where a nearly upright line is at a height."""
    (x0, y0), (x1, y1) = line
    return x0 + (x1 - x0) * (y - y0) / (y1 - y0)


def _crossing_y(upright: Line, level: Line) -> float:
    """Return at what height a nearly upright line crosses a nearly level one."""
    (x0, y0), (x1, y1) = level
    slope = (y1 - y0) / (x1 - x0)
    (u0, v0), (u1, v1) = upright
    lean = (u1 - u0) / (v1 - v0)
    # y = y0 + slope (x - x0) and x = u0 + lean (y - v0)
    return (y0 + slope * (u0 - lean * v0 - x0)) / (1.0 - slope * lean)
