"""Where the pieces of a layout meet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

from vision.layout import LEAN_DEG, Joint, JointKind, Placement
from vision.piece import NEAR_MM, Box, Point, box_of, edge_of, shared_part


def joints_between(placements: Sequence[Placement]) -> tuple[Joint, ...]:
    """Return every joint of a layout: where the finished outlines of two pieces meet.

    In reading order of the pieces; of two pieces side by side the left one comes first, of two
    end to end the upper one.
    """
    found = []
    boxes = [box_of(place.outline_mm) for place in placements]
    edges = [_straight_edges(place) for place in placements]
    for one, other in combinations(range(len(placements)), 2):
        if _apart(boxes[one], boxes[other]) or placements[one].panel != placements[other].panel:
            continue
        shared = (shared_part(a, b) for a in edges[one] for b in edges[other])
        part = next((part for part in shared if part is not None), None)
        if part is not None:
            found.append(_joint(placements, one, other, part))
    return tuple(found)


def meeting_edges(
    blanks: Sequence[Sequence[Point]], panels: Sequence[int]
) -> list[tuple[bool, ...]]:
    """Return, piece by piece, which edges of its blank meet that of another piece of its panel."""
    marked = []
    boxes = [box_of(blank) for blank in blanks]
    for at, blank in enumerate(blanks):
        beside = [
            other
            for index, other in enumerate(blanks)
            if index != at and panels[index] == panels[at] and not _apart(boxes[at], boxes[index])
        ]
        edges = [edge_of(blank, corner) for corner in range(len(blank))]
        marked.append(tuple(any(_shared_edge(edge, other) for other in beside) for edge in edges))
    return marked


def _apart(one: Box, other: Box) -> bool:
    return (
        one.left > other.right + NEAR_MM
        or other.left > one.right + NEAR_MM
        or one.top > other.bottom + NEAR_MM
        or other.top > one.bottom + NEAR_MM
    )


def _straight_edges(place: Placement) -> list[tuple[Point, Point]]:
    """Return the finished edges that can be joints: not the steps of a round rim."""
    edges = [edge_of(place.outline_mm, at) for at in range(len(place.outline_mm))]
    if place.blank_mm == place.outline_mm:
        return edges
    return [edge for edge in edges if _shared_edge(edge, place.blank_mm) is not None]


def _shared_edge(edge: tuple[Point, Point], outline: Sequence[Point]) -> tuple[Point, Point] | None:
    for corner in range(len(outline)):
        part = shared_part(edge, edge_of(outline, corner))
        if part is not None:
            return part
    return None


def _joint(
    placements: Sequence[Placement], one: int, other: int, part: tuple[Point, Point]
) -> Joint:
    (x0, y0), (x1, y1) = start, end = sorted(part, key=lambda point: (point[1], point[0]))
    first, second = one, other
    middles = [box_of(placements[at].outline_mm) for at in (one, other)]
    is_level = abs(y1 - y0) < abs(x1 - x0)
    ahead = [box.top + box.bottom if is_level else box.left + box.right for box in middles]
    if ahead[0] > ahead[1]:
        first, second = other, one
    left, right = placements[first], placements[second]
    return Joint(
        left=left.leaf,
        right=right.leaf,
        left_laid=left.laid,
        right_laid=right.laid,
        x_mm=min(x0, x1),
        length_mm=math.hypot(x1 - x0, y1 - y0),
        kind=_kind(math.degrees(math.atan2(x0 - x1, y1 - y0)), left, right),
        left_at=first,
        right_at=second,
        start_mm=start,
        end_mm=end,
    )


def _kind(joint_deg: float, left: Placement, right: Placement) -> JointKind:
    """Return how a joint meets the grain; 0 degrees is straight down, as for a piece's turn."""
    off = [abs((place.turned_deg - joint_deg + 90.0) % 180.0 - 90.0) for place in (left, right)]
    if max(off) < LEAN_DEG:
        return JointKind.SIDE
    return JointKind.END if min(off) > 90.0 - 1e-3 else JointKind.MITRE
