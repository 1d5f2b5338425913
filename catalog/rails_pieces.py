"""The pieces of the printed rails that are cut out and glued, and what stands on each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from vision.colour_space import linear_to_srgb8
from vision.rail_plan import MARKER_MM, RIGHT_FROM, SIDES, GreyPatch, Holder, RailPlan

Part = Literal["left", "right", "stop", "holder"]
LETTERS: dict[Part, str] = {"left": "L", "right": "R", "stop": "S", "holder": "H"}
Kind = Literal["marker", "grey", "white", "chart patch"]


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece to cut out: a stretch of a rail or of the stop, or a part of the chart holder."""

    part: Part
    number: int
    """1 for the first of its part."""
    count: int
    start_mm: float
    end_mm: float
    """Along the rail (y), along the stop or across the holder (x), without the flap."""
    page: int
    x0_mm: float
    y0_mm: float
    """The page's mm at which the part's own (0, 0) would lie."""

    @property
    def code(self) -> str:
        """Such as L3/17."""
        return f"{LETTERS[self.part]}{self.number}/{self.count}"

    @property
    def is_last(self) -> bool:
        """Tell whether nothing is glued to its end."""
        return self.number == self.count


@dataclass(frozen=True, slots=True)
class RailItem:
    """One marker, grey, white or chart patch: its place on its part and on its page."""

    kind: Kind
    name: str
    part: Part
    x_mm: float
    y_mm: float
    """Its centre: from the rail's centre line and first marker, or from the window's middle."""
    width_mm: float
    height_mm: float
    reflectance: float | None
    marker_id: int | None
    grey_level: int | None
    """The printed level, 0 to 255, sRGB."""
    piece: str
    page: int
    page_x_mm: float
    page_y_mm: float


def rail_items(plan: RailPlan, pieces: tuple[Piece, ...]) -> Iterator[RailItem]:
    """Yield markers, greys and whites of both rails, piece by piece."""
    patches = (*plan.grey_patches(), *plan.white_patches())
    for piece in pieces:
        for side, first in zip(SIDES, (0, RIGHT_FROM), strict=True):
            if piece.part != side:
                continue
            for index in range(plan.markers):
                y = index * plan.pitch_mm
                if piece.start_mm <= y < piece.end_mm:
                    yield _marker(piece, first + index, 0.0, y)
            for patch in patches:
                if patch.rail == side and piece.start_mm <= patch.y_mm < piece.end_mm:
                    yield _patch(piece, patch)


def holder_items(holder: Holder, pieces: tuple[Piece, ...]) -> Iterator[RailItem]:
    """Yield markers of the chart holder, and where the patches of the chart will be."""
    for piece in pieces:
        for number, (x, y) in holder.marker_centres().items():
            if piece.start_mm <= x < piece.end_mm:
                yield _marker(piece, number, x, y)
        for index, (x, y) in enumerate(holder.patch_centres(), start=1):
            if piece.start_mm <= x < piece.end_mm:
                side = holder.patch_pitch_mm
                name = f"chart patch {index}"
                yield _item(piece, "chart patch", name, (x, y), (side, side))


def _marker(piece: Piece, number: int, x: float, y: float) -> RailItem:
    side = (MARKER_MM, MARKER_MM)
    return _item(piece, "marker", f"marker {number}", (x, y), side, marker_id=number)


def _patch(piece: Piece, patch: GreyPatch) -> RailItem:
    return _item(
        piece,
        "white" if patch.reflectance is None else "grey",
        patch.name,
        (patch.x_mm, patch.y_mm),
        (patch.width_mm, patch.height_mm),
        reflectance=patch.reflectance,
    )


def _item(
    piece: Piece,
    kind: Kind,
    name: str,
    centre: tuple[float, float],
    size: tuple[float, float],
    *,
    reflectance: float | None = None,
    marker_id: int | None = None,
) -> RailItem:
    level = None if reflectance is None else int(linear_to_srgb8(np.array([reflectance]))[0])
    return RailItem(
        kind=kind,
        name=name,
        part=piece.part,
        x_mm=centre[0],
        y_mm=centre[1],
        width_mm=size[0],
        height_mm=size[1],
        reflectance=reflectance,
        marker_id=marker_id,
        grey_level=level,
        piece=piece.code,
        page=piece.page,
        page_x_mm=piece.x0_mm + centre[0],
        page_y_mm=piece.y0_mm + centre[1],
    )
