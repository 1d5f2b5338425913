"""A bundle photographed again, held against its record: which photograph is which leaf.

A leaf by itself is hard to tell from its neighbours; a stack is not. So the photographs are put in
log order among themselves, and that order, like the one in which they came, is laid along the
record with leaves left out where they are gone; the fit that agrees best with the likeness of each
to each says which is which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from vision.loose_leaf import LAYING_SLOPE, chance_of_wood, logistic
from vision.order_leaves import order_leaves
from vision.record_match import RecordMatch, match_to_record
from vision.record_places import RecordPlaces, find_places
from vision.shot import Laid
from vision.stack_alignment import LAYINGS
from vision.stack_order import StackLeaf

OF_THIS_WOOD = 0.5
PERHAPS_OF_IT, WHERE_IT_FITS = 0.05, 0.9
"""A leaf turned under one lamp shines otherwise and looks strange: it is still taken for one of the
bundle where the stack wants it just where it fits by itself, with so high a chance."""
LEAST_CHANCE = 1e-4
GONE_COST, ASIDE_COST = 2.5, 5.0
"""Log odds against a leaf being gone, and against a photograph lying out of the order tried."""
REORDERED_COST = 3.0
"""Log odds against the stack lying in another order than the photographs came in."""

Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Recognised:
    """One photographed leaf, held against the record."""

    name: str
    """As it is called among the photographs."""
    leaf: str | None
    """The leaf of the record that it is; None where it is none of them."""
    laid: Laid
    """How it lies against the photograph of the record (of the nearest leaf if it is none)."""
    laid_chance: float
    wood_chance: float
    """Chance that it is of this flitch at all."""
    chance: float
    """Chance that it is this leaf, asked of it alone; neighbours in the stack make it surer."""
    before: str | None
    """The leaf of the record that comes before its place."""
    after: str | None

    @property
    def is_foreign(self) -> bool:
        """Tell whether it is likelier of another flitch."""
        return self.leaf is None and self.wood_chance < OF_THIS_WOOD


@dataclass(frozen=True, slots=True)
class RecordCheck:
    """What became of a bundle since its record was made."""

    photographed: tuple[Recognised, ...]
    """In the order in which they came."""
    gone: tuple[str, ...]
    """Leaves of the record that no photograph shows, in its order."""
    record: tuple[str, ...]
    """All leaves of the record, in its order."""

    @property
    def came(self) -> tuple[str, ...]:
        """The leaves of the record that were photographed, in the order in which they came."""
        return tuple(one.leaf for one in self.photographed if one.leaf is not None)

    @property
    def usual(self) -> Laid:
        """How most leaves lie against the record."""
        layings = [one.laid for one in self.photographed if one.leaf is not None]
        return max(layings, key=layings.count) if layings else Laid.AS_LIES

    @property
    def is_reversed(self) -> bool:
        """Tell whether the stack as a whole came last leaf first."""
        at = [self.record.index(name) for name in self.came]
        return len(_longest_run(at[::-1])) > len(_longest_run(at))

    @property
    def moved(self) -> tuple[str, ...]:
        """The fewest leaves that lie out of order, whichever way the stack is read."""
        at = [self.record.index(name) for name in self.came]
        kept = _longest_run(at[::-1] if self.is_reversed else at)
        return tuple(name for name in self.came if self.record.index(name) not in kept)


def _longest_run(values: Sequence[int]) -> set[int]:
    """Return the longest rising run within a sequence of different numbers."""
    best: list[list[int]] = []
    for at, value in enumerate(values):
        before = [best[other] for other in range(at) if values[other] < value]
        best.append([*_longest(before), value])
    return set(_longest(best))


def _longest(runs: Sequence[list[int]]) -> list[int]:
    return max(runs, key=lambda run: len(run), default=[])


def check_record(photographed: Sequence[StackLeaf], record: Sequence[StackLeaf]) -> RecordCheck:
    """Return which leaf of the record each photographed leaf is.

    Parameters
    ----------
    photographed : sequence of StackLeaf
        In the order in which they came; names must differ.
    record : sequence of StackLeaf
        At least one leaf, in order.
    """
    match = match_to_record(photographed, record)
    places = [find_places(one, match.in_record) for one in match.to_record]
    wood = np.array([chance_of_wood(one) for one in places])
    own = np.flatnonzero(wood >= PERHAPS_OF_IT)
    score = np.log(np.maximum([one.chances[1::2] for one in places], LEAST_CHANCE))
    which = np.full(len(photographed), -1)
    which[own] = _assign(score[own], [photographed[at] for at in own.tolist()])
    for at in np.flatnonzero((wood < OF_THIS_WOOD) & (which >= 0)).tolist():
        if places[at].chance_near(float(which[at])) < WHERE_IT_FITS:
            which[at] = -1
    seen = [
        _recognise(leaf, at, int(which[at]), places[at], match, record)
        for at, leaf in enumerate(photographed)
    ]
    names = tuple(leaf.name for leaf in record)
    found = {one.leaf for one in seen}
    return RecordCheck(tuple(seen), tuple(name for name in names if name not in found), names)


def _recognise(
    leaf: StackLeaf,
    at: int,
    which: int,
    places: RecordPlaces,
    match: RecordMatch,
    record: Sequence[StackLeaf],
) -> Recognised:
    place = float(which) if which >= 0 else places.likeliest
    nearest = int(np.clip(round(place), 0, len(record) - 1))
    before, after = int(np.ceil(place)) - 1, int(np.floor(place)) + 1
    return Recognised(
        name=leaf.name,
        leaf=record[which].name if which >= 0 else None,
        laid=LAYINGS[int(match.laid[at, nearest])],
        laid_chance=logistic(LAYING_SLOPE * float(match.leads[at])),
        wood_chance=chance_of_wood(places),
        chance=places.chance_near(place, 0.0),
        before=record[before].name if before >= 0 else None,
        after=record[after].name if after < len(record) else None,
    )


def _assign(score: Doubles, leaves: Sequence[StackLeaf]) -> NDArray[np.int64]:
    """Return the leaf of the record that each photographed one is, -1 for none.

    Parameters
    ----------
    score : ndarray, shape (leaves, record)
        Log chance that each is each.
    """
    if not len(leaves):
        return np.zeros(0, np.int64)
    came = np.arange(len(leaves))
    number = {leaf.name: at for at, leaf in enumerate(leaves)}
    placed = np.array([number[one.name] for one in order_leaves(leaves).leaves])
    tried = [(came, 0.0), (came[::-1], 0.0)]
    tried += [(order, REORDERED_COST) for order in (placed, placed[::-1])]
    found = []
    for order, cost in tried:
        total, along = _lay_along(score[order])
        which = np.full(len(leaves), -1)
        which[order] = along
        found.append((total - cost, which))
    _, best = max(found, key=lambda one: one[0])
    return _place_rest(score, best)


def _lay_along(score: Doubles) -> tuple[float, NDArray[np.int64]]:
    """Return the best rising run of leaves, and which each photographed one is (-1 aside)."""
    count, leaves = score.shape
    total = np.zeros((count + 1, leaves + 1))
    total[:, 0] = -ASIDE_COST * np.arange(count + 1)
    total[0] = -GONE_COST * np.arange(leaves + 1)
    for at in range(count):
        for leaf in range(leaves):
            total[at + 1, leaf + 1] = max(
                total[at, leaf] + score[at, leaf],
                total[at, leaf + 1] - ASIDE_COST,
                total[at + 1, leaf] - GONE_COST,
            )
    which = np.full(count, -1)
    at, leaf = count, leaves
    while at and leaf:
        here = total[at, leaf]
        if here == total[at - 1, leaf - 1] + score[at - 1, leaf - 1]:
            at, leaf = at - 1, leaf - 1
            which[at] = leaf
        elif here == total[at - 1, leaf] - ASIDE_COST:
            at -= 1
        else:
            leaf -= 1
    return float(total[count, leaves]), which


def _place_rest(score: Doubles, which: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give leaves that lie out of the run what is left of the record, where that is likely."""
    aside = np.flatnonzero(which < 0)
    left = np.setdiff1d(np.arange(score.shape[1]), which)
    if not len(aside) or not len(left):
        return which
    part = score[np.ix_(aside, left)]
    filled = which.copy()
    for one, leaf in zip(*linear_sum_assignment(-part), strict=True):
        if part[one, leaf] > -GONE_COST:
            filled[aside[one]] = left[leaf]
    return filled
