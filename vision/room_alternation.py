"""Light and dark between neighbours in a light that was never photographed.

The fit of each leaf (`vision.slope_fit`) says how its fibres slope and how they shine, and how
sure that is; from it the light of every slice is worked out for a lamp, a window or a sky anywhere,
and an eye anywhere. Both leaves are looked at in the same place, the middle of the panel, so that
the step is theirs and not the light's fall-off from one to the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from vision.alternation import SeenLeaf, laid_in, not_measured, views_by_leaf
from vision.finish import Finish, finished
from vision.laying import reverses_rows
from vision.leaf_lighting import Lighting, slice_places
from vision.piece import cos_sin
from vision.readings import SLICES, PairAlternation
from vision.room_lights import Room
from vision.room_sides import (
    RoomSide,
    Sides,
    judge_sides,
    light_at,
    show_places,
    sloped_back,
)
from vision.settings import VisionSettings
from vision.shot import Laid
from vision.slope_fit import SlopeFit, fit_flitch

Doubles = NDArray[np.float64]

USUAL_LENGTH_MM = 2000.0
"""Taken where no photograph tells how long the leaves are."""


def predict_rooms(
    order: Sequence[str],
    seen: Sequence[SeenLeaf],
    *,
    rooms: Sequence[Room],
    match: str = "book",
    length_mm: float | None = None,
    finish: Finish | None = None,
    settings: VisionSettings,
) -> tuple[PairAlternation, ...]:
    """Return light and dark for each pair of neighbours in each room.

    Parameters
    ----------
    order : sequence of str
        Leaf labels in the order they lie; each and the next are neighbours.
    seen : sequence of SeenLeaf
        Every photograph of those leaves that was read.
    rooms : sequence of Room
        From `vision.room_lights`.
    match : str
        One of `vision.alternation.TURNED_IN`.
    length_mm : float or None
        Of the leaves; `USUAL_LENGTH_MM` where it is not known.
    finish : Finish or None
        Said of the leaves with that finish; as photographed without one.
    settings : VisionSettings
        For the limits of the flags.

    Returns
    -------
    tuple of PairAlternation
        One entry a pair and room, pair by pair. ``not-measured`` where a leaf was not photographed
        with its slope both toward and away from a lamp.
    """
    laid = laid_in(match)
    fits = fit_leaves(order, seen, finish=finish)
    length = length_mm or USUAL_LENGTH_MM
    return tuple(
        judge_in_room(
            (left, right),
            (fits[left], fits[right]),
            laid,
            room,
            match=match,
            length_mm=length,
            settings=settings,
        )
        for left, right in pairwise(order)
        for room in rooms
    )


def fit_leaves(
    order: Sequence[str], seen: Sequence[SeenLeaf], *, finish: Finish | None = None
) -> dict[str, SlopeFit | None]:
    """Return the fit of each leaf of a flitch, all fitted together; with a finish if any."""
    views = views_by_leaf(seen)
    labels = tuple(dict.fromkeys(order))
    fits = fit_flitch(tuple(tuple(views.get(label, ())) for label in labels))
    known = dict(zip(labels, fits, strict=True))
    if finish is None:
        return known
    return {leaf: None if fit is None else finished(fit, finish) for leaf, fit in known.items()}


def judge_in_room(
    labels: tuple[str, str],
    fits: tuple[SlopeFit | None, SlopeFit | None],
    laid: tuple[Laid, Laid],
    room: Room,
    *,
    match: str,
    length_mm: float,
    settings: VisionSettings,
    turned_deg: tuple[float, float] = (0.0, 0.0),
) -> PairAlternation:
    """Return light and dark of one pair, so laid and then turned, in one room."""
    left, right = fits
    if left is None or right is None:
        return not_measured(*labels, match=match, light=room.name)

    def both(one: SlopeFit, other: SlopeFit) -> Sides:
        shown = [
            show_in_room(fit, how, room, length_mm=length_mm, turned_deg=turned)
            for fit, how, turned in zip((one, other), laid, turned_deg, strict=True)
        ]
        return shown[0], shown[1]

    sides = both(left, right)
    against = both(sloped_back(left), sloped_back(right))
    return judge_sides(labels, sides, against, match=match, light=room.name, settings=settings)


def show_in_room(
    fit: SlopeFit, laid: Laid, room: Room, *, length_mm: float, turned_deg: float = 0.0
) -> RoomSide:
    """Return how a leaf so laid, and then turned about the middle of the panel, will look.

    Parameters
    ----------
    fit : SlopeFit
    laid : Laid
    room : Room
    length_mm : float
        Of the leaf.
    turned_deg : float
        Clockwise as seen.
    """
    lit = light_in_room(laid, room, length_mm=length_mm, turned_deg=turned_deg)
    side = show_places(fit, laid, lit, np.eye(SLICES), turned_deg=turned_deg)
    return side.from_below() if reverses_rows(laid) else side


def light_in_room(laid: Laid, room: Room, *, length_mm: float, turned_deg: float = 0.0) -> Lighting:
    """Return from where each slice of a leaf in the middle of the panel is lit and seen."""
    up = (0.5 - slice_places(laid)) * length_mm
    cos, sin = cos_sin(turned_deg)
    at = np.stack([up * sin, up * cos, np.zeros(SLICES)], axis=-1)
    return light_at(at, laid, room, turned_deg=turned_deg)
