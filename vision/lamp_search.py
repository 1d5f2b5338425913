"""In which light a match shows worst, and where a lamp must hang so that it vanishes.

One lamp is carried over a dome about the middle of the panel, the eye where someone stands before
it; at each place light and dark of every pair is worked out from the fits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from vision.alternation import SeenLeaf, laid_in
from vision.finish import Finish
from vision.room_alternation import USUAL_LENGTH_MM, fit_leaves, judge_in_room
from vision.room_lights import STANDING_EYE_MM, Triple, free_room
from vision.settings import VisionSettings

DOME_MM = 2500.0
"""How far the lamp is from the middle of the panel: a room's height."""
SLANTS_DEG = (10.0, 25.0, 40.0, 55.0, 70.0, 80.0)
"""From straight before the panel."""
TURNS_DEG = tuple(float(turn) for turn in range(0, 360, 30))
"""From the upper end of the grain, to the right."""


@dataclass(frozen=True, slots=True)
class LampPlace:
    """One place of the lamp and what the pairs show there."""

    slant_deg: float
    turn_deg: float
    lamp_mm: Triple
    delta_e00: float
    """CIEDE2000 of the worst fifth, the mean over the pairs."""
    delta_e00_high: float
    """The same of the upper ends of the intervals."""


@dataclass(frozen=True, slots=True)
class LampSearch:
    """Every place of the lamp that was tried, none where no pair could be judged."""

    places: tuple[LampPlace, ...]

    @property
    def worst(self) -> LampPlace | None:
        """Where light and dark is strongest."""
        return max(self.places, key=lambda place: place.delta_e00, default=None)

    def quiet(self, settings: VisionSettings) -> tuple[LampPlace, ...]:
        """Return the places where it does not show, the surest first."""
        calm = [place for place in self.places if place.delta_e00 < settings.slight_from]
        return tuple(sorted(calm, key=lambda place: place.delta_e00_high))


def search_lamps(
    order: Sequence[str],
    seen: Sequence[SeenLeaf],
    *,
    match: str = "book",
    length_mm: float | None = None,
    eye_mm: Triple = STANDING_EYE_MM,
    finish: Finish | None = None,
    settings: VisionSettings,
) -> LampSearch:
    """Return what a match shows with one lamp at each place of a dome; terms of `predict_rooms`."""
    fits = fit_leaves(order, seen, finish=finish)
    laid, length = laid_in(match), length_mm or USUAL_LENGTH_MM
    known = [pair for pair in pairwise(order) if fits[pair[0]] and fits[pair[1]]]
    places = []
    for slant in SLANTS_DEG if known else ():
        for turn in TURNS_DEG:
            lamp = _on_dome(slant, turn)
            judged = [
                judge_in_room(
                    pair,
                    (fits[pair[0]], fits[pair[1]]),
                    laid,
                    free_room(lamp, eye_mm),
                    match=match,
                    length_mm=length,
                    settings=settings,
                )
                for pair in known
            ]
            middle, high = (_mean([getattr(one, name) for one in judged]) for name in _DELTAS)
            places.append(LampPlace(slant, turn, lamp, middle, high))
    return LampSearch(tuple(places))


_DELTAS = ("delta_e00", "delta_e00_high")


def _on_dome(slant_deg: float, turn_deg: float) -> Triple:
    slant, turn = np.deg2rad([slant_deg, turn_deg])
    x, y, z = DOME_MM * np.array(
        [np.sin(slant) * np.sin(turn), np.sin(slant) * np.cos(turn), np.cos(slant)]
    )
    return float(x), float(y), float(z)


def _mean(values: Sequence[float]) -> float:
    found: NDArray[np.float64] = np.array(values)
    return float(found.mean())
