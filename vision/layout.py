"""What a match is made of: pieces of leaves in their places, and the joints between them.

Values only. `vision.match_layout` decides where the pieces go, by way of `vision.seat` and
`vision.joints`; `vision.match_render` and `vision.piece_render` paint them; `vision.cuts` says how
to cut them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from vision.joint_cut import JointCut
from vision.match_names import Match
from vision.piece import Box, Move, Point, area_mm2
from vision.shot import Laid

SHOOT_MM = 3.0
"""Taken off each side of a leaf before pieces are cut from it, so that joint edges can be shot
straight: 3 to 6 mm (common practice)."""
OVERHANG_MM = 15.0
"""By which a piece stands out beyond the trimmed edge of a panel for pressing: 10 to 25 mm beside
the grain (common practice)."""
END_OVERHANG_MM = 30.0
"""The same at the ends of the grain: 25 to 50 mm (common practice)."""
LEAN_DEG = 3.0
"""A piece turned by less still lies along the panel: light from a lamp past its end meets the
fibres as in a piece that stands straight, to a seven-hundredth (1 - cos 3 degrees)."""


@dataclass(frozen=True, slots=True)
class Allowances:
    """What is cut away in shooting and trimming, mm."""

    shoot_mm: float = SHOOT_MM
    overhang_mm: float = OVERHANG_MM
    end_overhang_mm: float = END_OVERHANG_MM


@dataclass(frozen=True, slots=True)
class LeafExtent:
    """The straight-edged size of one leaf, as it goes into a match."""

    label: str
    width_mm: float
    length_mm: float
    lab: tuple[float, float, float] | None = None
    """Its mean colour in CIELAB, for a match that goes by colour."""


@dataclass(frozen=True, slots=True)
class Placement:
    """One piece of a leaf in its place; x runs right and y down from the top left of the match."""

    leaf: str
    laid: Laid
    x_mm: float
    y_mm: float
    width_mm: float
    """Of the smallest upright rectangle round the piece, like ``length_mm``."""
    length_mm: float
    outline_mm: tuple[Point, ...]
    """The finished piece, clockwise; the rim of a round face in short straight steps."""
    blank_mm: tuple[Point, ...]
    """What is cut, before the panel is trimmed and without overhang; differs from the finished
    piece only where the rim is round."""
    to_panel: Move
    """From the leaf as it lies (its straightened top left corner is 0, 0) to the match."""
    turned_deg: float = 0.0
    """By how much the leaf is turned in the plane, clockwise, over its laying; above -90 to 90."""
    panel: int = 0
    joint_edges: tuple[bool, ...] = ()
    """Which edges of the blank meet another piece; the others are trimmed after pressing."""

    @property
    def is_upright(self) -> bool:
        """Whether the piece is a rectangle whose grain runs up and down the match."""
        return (
            self.turned_deg == 0.0
            and len(self.outline_mm) == 4
            and math.isclose(area_mm2(self.outline_mm), self.width_mm * self.length_mm)
        )

    @property
    def on_leaf_mm(self) -> tuple[Point, ...]:
        """The blank on the leaf as it lies."""
        back = self.to_panel.back()
        return tuple(back(point) for point in self.blank_mm)


class JointKind(StrEnum):
    """How a joint runs against the grain of the two pieces that meet there."""

    SIDE = "side"
    """Along the grain of both, to within `LEAN_DEG`."""
    END = "end"
    """Across the grain of both."""
    MITRE = "mitre"
    """At a slant, or along the grain of one and across that of the other."""


@dataclass(frozen=True, slots=True)
class Joint:
    """Where two neighbours meet; of an end joint ``left`` is the upper one."""

    left: str
    right: str
    left_laid: Laid
    right_laid: Laid
    x_mm: float
    length_mm: float
    """How far both reach along it."""
    kind: JointKind = JointKind.SIDE
    left_at: int = 0
    """Which placement of the layout the left piece is."""
    right_at: int = 0
    start_mm: Point = (0.0, 0.0)
    end_mm: Point = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Panel:
    """One face of a layout; most layouts have one."""

    name: str
    box: Box
    is_round: bool = False


@dataclass(frozen=True, slots=True)
class Layout:
    """A whole match, left to right."""

    match: Match
    placements: tuple[Placement, ...]
    joints: tuple[Joint, ...]
    width_mm: float
    length_mm: float
    unit: str = "mm"
    """``mm``; ``px`` where a leaf has no scale: every ``_mm`` then counts picture pixels."""
    panels: tuple[Panel, ...] = ()
    notes: tuple[str, ...] = ()
    """Sentences on what to look at: overhang too small, leaves left over."""
    is_slipped: bool = False
    """Leaves slipped where the match would otherwise turn every other one over."""
    trims: tuple[JointCut, ...] = ()
    """Of a run whose joints are cut where the figure meets: how, one a joint."""

    @property
    def is_upright(self) -> bool:
        """Whether every piece is a rectangle whose grain runs up and down."""
        return all(place.is_upright for place in self.placements)

    @property
    def lies_along(self) -> bool:
        """Whether the grain of every piece runs up and down the match, give or take `LEAN_DEG`."""
        return all(abs(place.turned_deg) < LEAN_DEG for place in self.placements)

    @property
    def is_one_row(self) -> bool:
        """Whether all pieces stand side by side, each from the top."""
        if not (self.is_upright or self.trims):
            return False
        return all(place.y_mm == 0.0 for place in self.placements)
