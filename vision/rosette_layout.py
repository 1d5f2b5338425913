"""The rosette of a wedge as a layout: which wedge of which leaf goes where, and how it lies."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin

from vision.drawn_seats import wedge_blank, wedge_outline
from vision.joints import joints_between
from vision.layout import Layout, LeafExtent, Panel, Placement
from vision.match_names import Match
from vision.piece import Box, Move, box_of
from vision.wedge import Wedge
from vision.wedge_follow import Followed


def rosette_layout(
    wedge: Wedge, leaves: Sequence[LeafExtent], followed: Sequence[Followed]
) -> Layout:
    """Return every wedge of a rosette in its place.

    Parameters
    ----------
    wedge : Wedge
        On the first leaf.
    leaves : sequence of LeafExtent
        Piece after piece clockwise from the top, from the first again when they run out.
    followed : sequence of Followed
        One a leaf: by how much its wedge lies off that of the first.

    Examples
    --------
    >>> wedge = Wedge(100.0, 500.0, turn_deg=90.0, radius_mm=150.0, pieces=8)
    >>> leaf = LeafExtent("01", 240.0, 2000.0)
    >>> face = rosette_layout(wedge, [leaf], [Followed(0.0, 0.0, 1.0)])
    >>> len(face.placements), len(face.joints), face.width_mm
    (8, 8, 300.0)
    """
    radius = wedge.radius_mm
    placements = []
    for piece in range(wedge.pieces):
        at = piece % len(leaves)
        first = (piece - 0.5) * wedge.angle_deg
        outline = wedge_outline(radius, first, first + wedge.angle_deg)
        move = _to_panel(wedge, piece, followed[at])
        laid, turned_deg = move.laying()
        box = box_of(outline)
        placements.append(
            Placement(
                leaves[at].label,
                laid,
                box.left,
                box.top,
                box.width,
                box.height,
                outline_mm=outline,
                blank_mm=wedge_blank(radius, first, first + wedge.angle_deg),
                to_panel=move,
                turned_deg=turned_deg,
                joint_edges=(True, False, True),
            )
        )
    return Layout(
        Match.SUNBURST,
        tuple(placements),
        joints_between(placements),
        width_mm=2 * radius,
        length_mm=2 * radius,
        panels=(Panel("Rosette", Box(0.0, 0.0, 2 * radius, 2 * radius), is_round=True),),
        is_slipped=not wedge.is_booked,
    )


def _to_panel(wedge: Wedge, piece: int, followed: Followed) -> Move:
    """Return the move that brings the wedge's tip to the middle and its middle line outwards."""
    x, y = wedge.x_mm + followed.across_mm, wedge.y_mm + followed.along_mm
    outwards = piece * wedge.angle_deg - 90.0
    if wedge.is_turned(piece):
        turn = radians(outwards + wedge.turn_deg)
        xx, xy, yx, yy = cos(turn), sin(turn), sin(turn), -cos(turn)
    else:
        turn = radians(outwards - wedge.turn_deg)
        xx, xy, yx, yy = cos(turn), -sin(turn), sin(turn), cos(turn)
    radius = wedge.radius_mm
    return Move(xx, xy, yx, yy, radius - xx * x - xy * y, radius - yx * x - yy * y)
