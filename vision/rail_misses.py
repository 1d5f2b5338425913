"""How far the markers lie from where the fit puts them, and what that says of the rails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision import rail_solve
from vision.errors import RailsUnfit
from vision.marker_search import Markers
from vision.rail_solve import Known
from vision.readings import MarkerMiss
from vision.table_map import TableMap

MOST_RMS_MM = 0.5
MOST_BOW_MM = 1.5
"""Bow of a rail from which it is called bent: a leaf beside it would be shifted about as much in
its middle."""
SEEN_BOW_MM = 0.25
"""Bow left in the misses of a rail from which it is asked whether the rail is bent."""
TRIED_BOWS_MM = (-6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0)
"""Bows that are tried; the best lies on a parabola through the best of them and its neighbours."""
BOW_SHARE = 0.5
"""Share of all squared misses that a bow must explain."""
WORST_NAMED = 3


def misses_of(
    table: TableMap, markers: Markers, places_mm: NDArray[np.float64]
) -> tuple[MarkerMiss, ...]:
    """Return for every marker where it is seen less where it should lie, mm on the table."""
    off = table.to_mm(markers.centres_px) - places_mm
    return tuple(
        MarkerMiss(int(number), float(x), float(y), float(dx), float(dy))
        for number, (x, y), (dx, dy) in zip(markers.ids, markers.centres_px, off, strict=True)
    )


def rms_of(misses: Sequence[MarkerMiss]) -> float:
    """Return the root mean square of the misses' lengths, mm."""
    return float(np.sqrt(np.mean([miss.dx_mm**2 + miss.dy_mm**2 for miss in misses])))


def judge(misses: Sequence[MarkerMiss], known: Known, values: NDArray[np.float64]) -> None:
    """Refuse rails that the fit cannot explain.

    Parameters
    ----------
    misses : sequence of MarkerMiss
    known, values
        What was fitted, and how.

    Raises
    ------
    RailsUnfit
        If the misses are above `MOST_RMS_MM` or a rail is bent by more than `MOST_BOW_MM`; the
        bent rail or the worst markers are named.
    """
    rms = rms_of(misses)
    if rms > MOST_RMS_MM or _looks_bowed(misses, known):
        _refuse_bent(rms, known, values)
    if rms <= MOST_RMS_MM:
        return
    worst = sorted(misses, key=lambda m: m.dx_mm**2 + m.dy_mm**2, reverse=True)[:WORST_NAMED]
    names = ", ".join(f"marker {m.number} ({np.hypot(m.dx_mm, m.dy_mm):.1f} mm)" for m in worst)
    raise RailsUnfit(
        f"The markers miss their places by {rms:.1f} mm (root mean square); {MOST_RMS_MM} mm is "
        f"allowed. Worst: {names}. See whether these are covered, lifted or glued off their "
        "place, and whether the rails' tape lengths are right."
    )


def _looks_bowed(misses: Sequence[MarkerMiss], known: Known) -> bool:
    across = np.array([miss.dx_mm for miss in misses])
    for on_rail in (~known.is_right, known.is_right):
        t = known.along[on_rail] / float(np.ptp(known.along[on_rail]))
        if abs(np.polyfit(t, across[on_rail], 2)[0]) / 4 > SEEN_BOW_MM:
            return True
    return False


def _refuse_bent(rms: float, known: Known, values: NDArray[np.float64]) -> None:
    """Refuse if letting one rail bow explains most of what the fit misses.

    The lens's terms take up a part of any bow, and of the rest each rail shows one half, so that
    the misses alone do not tell which rail it is. Fitting a bow to either does.
    """
    straight = rail_solve.cost_of(known, values)
    told = {side: _bow_told(known, values, index) for index, side in enumerate(("left", "right"))}
    side = min(told, key=lambda name: told[name][1])
    bow, cost = told[side]
    if abs(bow) < MOST_BOW_MM or cost > (1 - BOW_SHARE) * straight:
        return
    way = "right" if bow > 0 else "left"
    raise RailsUnfit(
        f"The {side} rail is bent: its middle lies {abs(bow):.1f} mm too far to the {way}, "
        f"{MOST_BOW_MM:g} mm is allowed (misses {rms:.1f} mm, root mean square). Lay the rails "
        "against a straight edge, flat on the table, and photograph again."
    )


def _bow_told(known: Known, values: NDArray[np.float64], index: int) -> tuple[float, float]:
    """Return the bow of one rail, mm, with which everything fits best, and the cost then."""
    costs = [_cost_with_bow(known, values, index, bow) for bow in TRIED_BOWS_MM]
    at = min(max(int(np.argmin(costs)), 1), len(costs) - 2)
    near = slice(at - 1, at + 2)
    a, b, _ = np.polyfit(TRIED_BOWS_MM[near], costs[near], 2)
    lowest = float(-b / (2 * a)) if a > 0 else TRIED_BOWS_MM[int(np.argmin(costs))]
    best = float(np.clip(lowest, TRIED_BOWS_MM[at - 1], TRIED_BOWS_MM[at + 1]))
    return best, _cost_with_bow(known, values, index, best)


def _cost_with_bow(known: Known, values: NDArray[np.float64], index: int, bow_mm: float) -> float:
    bowed = replace(known, bows_mm=(bow_mm, 0.0) if index == 0 else (0.0, bow_mm))
    return rail_solve.cost_of(bowed, rail_solve.solve(bowed, values, huber=False)[0])
