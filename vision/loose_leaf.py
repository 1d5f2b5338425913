"""Which flitch is a loose leaf of? Its likeliest bundles, its place in them, and how sure that is.

First the leaf's trace is held against all traces. Then it is laid onto the leaves of the bundles
that came out likest, and how it stands among them tells its place. Whether it is of the catalogue
at all is told by two things that need no wood to be known: by how far its likest flitch leads the
next, and whether it is as alike to its neighbours there as those are to one another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from vision.leaf_trace import LeafTrace
from vision.record_match import match_to_record
from vision.record_places import RecordPlaces, find_places
from vision.shot import Laid
from vision.stack_alignment import LAYINGS
from vision.stack_order import StackLeaf
from vision.trace_search import search_traces

MOST_CANDIDATES = 3
CLEAR_LEAD = 4.0
"""A flitch that leads the next by so many standard deviations is the only candidate."""
WINDOW = 24
"""So many leaves around the likest of a bundle are laid on; of a shorter bundle all."""
LEAST_FLITCHES = 12
"""From fewer flitches chance cannot be read off the others."""
USUAL_SPREAD, SPREAD_FLITCHES = 0.045, 10.0
"""Of the likeness of flitches by chance on drawn wood; counts like so many flitches."""
MOST_LEAD = 5.0
LEAD_WEIGHT, SHARE_WEIGHT, OFFSET = 1.7, 10.0, -7.3
"""Log odds that a leaf is of the flitch that came out likest: per standard deviation of its lead,
per share of the likeness of neighbours. Logistic regression on drawn leaves of seeds kept for
that; `tests.accuracy.loose_leaf` prints what such odds are worth on others."""
LIKENESS_WEIGHT, LIKENESS_SHARE, FEW_OFFSET = 18.6, 5.3, -6.9
"""The same where there are too few flitches for a lead: per mean correlation over the bands, and
per share of the likeness of neighbours."""
LAYING_SLOPE = 2.0
"""Log odds of a laying for each standard deviation by which it leads, as in stacks put in order."""

Leaf = TypeVar("Leaf")
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Stock(Generic[Leaf]):
    """All leaves that are looked through, bundle by bundle in order; the four run parallel."""

    leaves: tuple[Leaf, ...]
    traces: tuple[LeafTrace, ...]
    bundles: tuple[int, ...]
    flitches: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Candidate(Generic[Leaf]):
    """A bundle that a loose leaf may belong to."""

    bundle: int
    flitch: int
    leaves: tuple[Leaf, ...]
    """Those to lay it onto, in order: the whole bundle, or its leaves around the likest."""
    lead: float | None
    """Over the likest other flitch, in standard deviations of all; None where too few tell."""


@dataclass(frozen=True, slots=True)
class Placing:
    """Where a loose leaf belongs, if it does."""

    bundle: int
    chance: float
    """Chance, 0 to 1, that it is of this bundle's flitch."""
    leaf: str | None
    """The leaf of the bundle that it is itself; None where it belongs between leaves."""
    before: str | None
    """The leaf before its place; None at the start of the bundle."""
    after: str | None
    laid: Laid
    """How it lies against the leaf it is, or else against the nearest."""
    place_chance: float
    """Chance that the place is right to within one leaf, taken that the flitch is."""
    exact_chance: float
    """Chance that it is this very leaf, or belongs in this very joint."""
    laid_chance: float

    @property
    def is_in_catalogue(self) -> bool:
        """Tell whether the flitch is likelier right than not."""
        return self.chance >= 0.5


def likely_bundles(wanted: LeafTrace, stock: Stock[Leaf]) -> tuple[Candidate[Leaf], ...]:
    """Return the bundles whose leaves are likest to a loose leaf, the likest first."""
    if not stock.leaves:
        return ()
    alike = search_traces(wanted, stock.traces).max(axis=1)
    bundles, flitches = np.array(stock.bundles), np.array(stock.flitches)
    ranked = sorted(
        dict.fromkeys(stock.bundles), key=lambda one: -float(alike[bundles == one].max())
    )
    by_flitch = {one: float(alike[flitches == one].max()) for one in set(stock.flitches)}
    found = []
    for bundle in ranked[:MOST_CANDIDATES]:
        members = np.flatnonzero(bundles == bundle)
        flitch = int(flitches[members[0]])
        best = int(alike[members].argmax())
        first = int(np.clip(best - WINDOW // 2, 0, max(len(members) - WINDOW, 0)))
        window = members[first : first + WINDOW]
        found.append(
            Candidate(
                bundle,
                flitch,
                tuple(stock.leaves[at] for at in window),
                lead=_lead(by_flitch, flitch),
            )
        )
    ahead = found[0].lead
    if ahead is not None and ahead >= CLEAR_LEAD:
        return tuple(one for one in found if one.flitch == found[0].flitch)
    return tuple(found)


def _lead(by_flitch: Mapping[int, float], flitch: int) -> float | None:
    others = np.array([alike for one, alike in by_flitch.items() if one != flitch])
    if len(others) < LEAST_FLITCHES - 1:
        return None
    middle = float(np.median(others))
    seen = 1.4826 * float(np.median(np.abs(others - middle)))
    known = SPREAD_FLITCHES * USUAL_SPREAD**2
    spread = np.sqrt((len(others) * seen**2 + known) / (len(others) + SPREAD_FLITCHES))
    return (by_flitch[flitch] - float(others.max())) / float(spread)


def place_leaf(
    wanted: StackLeaf,
    candidates: Sequence[Candidate[Leaf]],
    records: Sequence[Sequence[StackLeaf]],
) -> tuple[Placing, ...]:
    """Return the placing of a loose leaf in each candidate, the likeliest first.

    Parameters
    ----------
    wanted : StackLeaf
    candidates : sequence of Candidate
        From `likely_bundles`.
    records : sequence of sequence of StackLeaf
        The drawings of ``leaves`` of each candidate, in the same order.
    """
    placed = []
    for candidate, record in zip(candidates, records, strict=True):
        match = match_to_record([wanted], record)
        places = find_places(match.to_record[0], match.in_record)
        at = places.likeliest
        nearest = int(np.clip(round(at), 0, len(record) - 1))
        is_leaf = at == nearest
        before = int(np.ceil(at)) - 1
        after = int(np.floor(at)) + 1
        placed.append(
            Placing(
                bundle=candidate.bundle,
                chance=_chance(candidate.lead, places),
                leaf=record[nearest].name if is_leaf else None,
                before=record[before].name if before >= 0 else None,
                after=record[after].name if after < len(record) else None,
                laid=LAYINGS[int(match.laid[0, nearest])],
                place_chance=places.chance_near(at),
                exact_chance=places.chance_near(at, 0.0),
                laid_chance=logistic(LAYING_SLOPE * float(match.leads[0])),
            )
        )
    return tuple(sorted(placed, key=lambda one: -one.chance))


def _chance(lead: float | None, places: RecordPlaces) -> float:
    if lead is None:
        return chance_of_wood(places)
    held = float(np.clip(lead, -MOST_LEAD, MOST_LEAD))
    return logistic(LEAD_WEIGHT * held + SHARE_WEIGHT * places.share + OFFSET)


def chance_of_wood(places: RecordPlaces) -> float:
    """Return the chance that a leaf is of a record's flitch, by its likeness to it alone."""
    return logistic(LIKENESS_WEIGHT * places.likeness + LIKENESS_SHARE * places.share + FEW_OFFSET)


def logistic(odds: float) -> float:
    """Return the chance of which these are the log odds."""
    return float(1 / (1 + np.exp(-np.clip(odds, -30, 30))))
