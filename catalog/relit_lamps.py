"""Where the lamps of a match's photographs stood, and which lamp places their evidence carries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np

from catalog.relit_views import LitTwice
from vision.laying import reverses_rows
from vision.layout import Layout, Placement
from vision.relight import Doubles, Standing
from vision.relit_sureness import (
    CARRIED_SD,
    explain,
    face_sd,
    lightness_sd,
    meets_as_photographed,
)
from vision.shot import Laid

REACH = 1.2
"""The lamp can be moved at least so many leaf lengths to either side of the eye's foot."""
LOWEST, HIGHEST = 0.3, 1.7
"""Leaf lengths over the leaves, the upper one at least."""
PAST_MARKS = 1.15
"""And so many times as far as it was photographed."""
GRID = (37, 15)
"""Lamp places along and up at which the evidence is asked."""


class Carried(StrEnum):
    """Whether the photographs carry a lamp place."""

    YES = "yes"
    FLAT = "flat"
    """The lamp meets part of the leaves more flatly than in any photograph."""
    OPEN = "open"
    """Highlights that explain the photographs alike part by too much here."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a lamp stood when the leaves were photographed; in units of the layout."""

    name: str
    words: str
    along: float
    """From the top of the match."""
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class LampGrid:
    """How surely a match can be shown, lamp place by lamp place.

    Parameters
    ----------
    along, height : ndarray
        In units of the layout; along from the top of the match.
    sd : ndarray, shape (heights, alongs)
        One standard deviation of a leaf's lightness, L*.
    face_sd : ndarray of that shape
        What the face that was not photographed adds, for leaves shown by their other face.
    carried : tuple of tuples of Carried, of that shape
    """

    along: Doubles
    height: Doubles
    sd: Doubles
    face_sd: Doubles
    carried: tuple[tuple[Carried, ...], ...]


def place_eye(twice: Sequence[LitTwice], layout: Layout) -> tuple[float, float]:
    """Return where the eye stands: along, from the top of the match, and height.

    Where it stood in the photographs, on average; over the middle where leaves lie end to end.
    """
    height = float(np.mean([_length(one) * seen.eye_height for one in twice for seen in one.seen]))
    if any(one.placement.y_mm > 0.25 * one.placement.length_mm for one in twice):
        return layout.length_mm / 2, height
    foot = [one.placement.y_mm + _length(one) * s.foot for one in twice for s in one.seen]
    return float(np.mean(foot)), height


def marks_of(twice: Sequence[LitTwice], eye: tuple[float, float]) -> tuple[Mark, ...]:
    """Return where the lamps stood that lit the leaves as they lie in the stack, top end first."""
    stood: dict[bool, list[tuple[float, float, Laid]]] = {True: [], False: []}
    for one in twice:
        for view, light in zip(one.views, one.lights, strict=True):
            if light.station is None:
                continue
            turned = reverses_rows(view.shot.laid)
            along = -light.station.lamp_along if turned else light.station.lamp_along
            length = _length(one)
            stood[along < 0].append(
                (along * length, light.station.lamp_height * length, view.shot.laid)
            )
    marks = []
    for top, name in ((True, "A"), (False, "B")):
        places = stood[top]
        if not places:
            continue
        turned = all(reverses_rows(laid) for _, _, laid in places)
        words = f"lamp {name}" if not turned else f"lamp {name}, by the leaf spun end for end"
        along, height = (float(np.mean([place[index] for place in places])) for index in (0, 1))
        marks.append(Mark(name, words, eye[0] + along, height))
    return tuple(marks)


@lru_cache(maxsize=8)
def lamp_grid(twice: tuple[LitTwice, ...], eye: tuple[float, float]) -> LampGrid:
    """Return how surely the match can be shown under lamps all over the plane of the grain."""
    unit = float(np.mean([_length(one) for one in twice]))
    marks = marks_of(twice, eye)
    reach = max(REACH * unit, *(PAST_MARKS * abs(mark.along - eye[0]) for mark in marks))
    highest = max(HIGHEST * unit, *(PAST_MARKS * mark.height for mark in marks))
    along = eye[0] + np.linspace(-reach, reach, GRID[0])
    height = np.linspace(LOWEST * unit, highest, GRID[1])
    squares, faces, met = [], [], []
    for one in twice:
        level_sd = max(light.level_sd for light in one.lights)
        explained = explain(one.log_light, one.seen, level_sd=level_sd)
        stood = [standing_over(one.placement, eye, (x, y)) for y in height for x in along]
        squares.append(lightness_sd(explained, stood) ** 2)
        met.append(meets_as_photographed(explained, stood))
        if not one.face_seen:
            faces.append(face_sd(one.slope, one.fit.strength, one.fit.width, explained, stood) ** 2)
    shape = (len(height), len(along))
    sd = np.sqrt(np.mean(squares, axis=0)).reshape(shape)
    everywhere = np.all(met, axis=0).reshape(shape)
    carried = tuple(
        tuple(
            Carried.FLAT if not met_here else Carried.OPEN if open_here else Carried.YES
            for met_here, open_here in zip(met_row, open_row, strict=True)
        )
        for met_row, open_row in zip(everywhere, sd > CARRIED_SD, strict=True)
    )
    face = np.sqrt(np.mean(faces, axis=0)).reshape(shape) if faces else np.zeros(shape)
    return LampGrid(along, height, sd, face, carried)


def standing_over(one: Placement, eye: tuple[float, float], lamp: tuple[float, float]) -> Standing:
    """Return where lamp and eye, each (along, height), stand over a leaf, in its own lengths."""
    return Standing(
        foot=(eye[0] - one.y_mm) / one.length_mm,
        lamp_along=(lamp[0] - eye[0]) / one.length_mm,
        lamp_across=0.0,
        lamp_height=lamp[1] / one.length_mm,
        eye_height=eye[1] / one.length_mm,
    )


def _length(one: LitTwice) -> float:
    return one.placement.length_mm
