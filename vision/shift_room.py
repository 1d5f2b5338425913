"""How far each leaf of a layout can be moved along its grain."""

from __future__ import annotations

import math
from collections.abc import Sequence

from vision.laying import reverses_rows
from vision.layout import Layout, LeafExtent
from vision.match_layout import WHOLE_LEAVES
from vision.piece import box_of

MOST_SHARE = 0.25
"""A leaf of a run of whole leaves is moved by at most this share of the shortest one's length."""


def shift_room(
    layout: Layout, leaves: Sequence[LeafExtent], shifts_mm: Sequence[tuple[str, float]] = ()
) -> dict[str, tuple[float, float]]:
    """Return how far up and how far down each leaf can be moved, counted from unmoved.

    Parameters
    ----------
    layout : Layout
        With the leaves already moved by ``shifts_mm``.
    leaves : sequence of LeafExtent
        Every leaf of the layout.
    shifts_mm : sequence of (str, float)
        Down is positive.

    Returns
    -------
    dict
        Leaf -> (up, down), both 0 or above, rounded down to a tenth.
    """
    if layout.match in WHOLE_LEAVES:
        most = MOST_SHARE * min(leaf.length_mm for leaf in leaves)
        return {leaf.label: (_floor(most), _floor(most)) for leaf in leaves}
    lengths, moved = {leaf.label: leaf.length_mm for leaf in leaves}, dict(shifts_mm)
    room = {leaf.label: (math.inf, math.inf) for leaf in leaves}
    for place in layout.placements:
        box = box_of(place.on_leaf_mm)
        up, down = lengths[place.leaf] - box.bottom, box.top
        if reverses_rows(place.laid):
            up, down = down, up
        by = moved.get(place.leaf, 0.0)
        room[place.leaf] = (min(room[place.leaf][0], up - by), min(room[place.leaf][1], down + by))
    return {
        leaf: (_floor(up), _floor(down)) if math.isfinite(up) else (0.0, 0.0)
        for leaf, (up, down) in room.items()
    }


def _floor(room: float) -> float:
    return max(0.0, math.floor(room * 10 + 1e-6) / 10)
