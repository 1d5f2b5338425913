"""How large a match is, and how many pixels its photographs hold."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.kept_pictures import FLAT_LONG_PX
from catalog.records import LeafCard
from vision.match_layout import Layout

MOST_PX = 12_000
"""A picture of more pixels along a side is more than most programs open."""


def full_resolution_px(layout: Layout, leaves: Sequence[LeafCard]) -> int:
    """Return the long side, in pixels, at which a match shows all its photographs hold."""
    long_side = max(layout.width_mm, layout.length_mm)
    if layout.unit == "px":
        return min(MOST_PX, round(long_side))
    used = {placement.leaf for placement in layout.placements}
    finest = max(_kept_px_per_mm(leaf) for leaf in leaves if leaf.label in used)
    return min(MOST_PX, round(long_side * finest))


def _kept_px_per_mm(leaf: LeafCard) -> float:
    size = leaf.size
    if size.px_per_mm is None or size.length_mm is None:
        return 1.0
    return min(size.px_per_mm, FLAT_LONG_PX / size.length_mm)


def size_words(layout: Layout) -> str:
    """Return width and length of a match, in the unit in which they are known."""
    return f"{layout.width_mm:.0f} × {layout.length_mm:.0f} {layout.unit}"
