"""What is known of an order beforehand: every order that is tried keeps to it."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, permutations

import numpy as np
from numpy.typing import NDArray

from vision.errors import OrderNotPossible
from vision.stack_order import Known

Order = NDArray[np.int64]
MOST_TRIES = 720
"""Orders of bundles that are tried: all of six."""


@dataclass(frozen=True, slots=True, eq=False)
class Limits:
    """`Known` by index of leaf; ``numbers`` is nan, the others -1 where nothing is known."""

    numbers: NDArray[np.float64]
    bundles: NDArray[np.int64]
    places: NDArray[np.int64]

    @property
    def holds_anything(self) -> bool:
        """Tell whether any order is left out."""
        return bool(
            np.isfinite(self.numbers).sum() > 1 or (self.bundles >= 0).any() or self.holds_places
        )

    @property
    def holds_places(self) -> bool:
        """Tell whether some leaf has its place."""
        return bool((self.places >= 0).any())

    def allow(self, order: Order) -> bool:
        """Tell whether an order keeps to all that is known."""
        if (order[self.places[self.places >= 0]] != np.flatnonzero(self.places >= 0)).any():
            return False
        numbers = self.numbers[order]
        if (np.diff(numbers[np.isfinite(numbers)]) < 0).any():
            return False
        placed = self.bundles[order]
        changes = int((np.diff(placed) != 0).sum())
        alone = int(((np.diff(placed) == 0) & (placed[1:] < 0)).sum())
        groups = len(np.unique(placed[placed >= 0])) + int((placed < 0).sum())
        return changes + alone + 1 <= max(groups, 1)

    def backwards(self) -> Limits:
        """Return the limits for numbers that fall along the order."""
        return Limits(-self.numbers, self.bundles, self.places)

    def fitted(self, wish: Order) -> Order | None:
        """Return an allowed order near the wished one; None if there is none."""
        if not self.holds_anything:
            return wish
        rank = np.empty(len(wish), np.int64)
        rank[wish] = np.arange(len(wish))
        for blocks in self._block_orders(rank):
            windows = self._windows(blocks)
            order = None if windows is None else _fill(windows, rank, self.numbers)
            if order is not None:
                return order
        return None

    def _block_orders(self, rank: Order) -> Sequence[Sequence[Order]]:
        """Return the ways to lay bundles one after the other, the likeliest first."""
        named = [np.flatnonzero(self.bundles == one) for one in np.unique(self.bundles) if one >= 0]
        if not named:
            return [[np.arange(len(rank))]]
        blocks = named + [np.array([one]) for one in np.flatnonzero(self.bundles < 0)]
        blocks.sort(key=lambda block: self._wished_place(block, rank))
        return list(islice(permutations(blocks), MOST_TRIES))

    def _wished_place(self, block: Order, rank: Order) -> float:
        pinned = self.places[block][self.places[block] >= 0]
        return float(pinned.mean() if len(pinned) else rank[block].mean())

    def _windows(self, blocks: Sequence[Order]) -> NDArray[np.int64] | None:
        """Return the first and the last place each leaf may take, shape (leaves, 2)."""
        count = len(self.places)
        windows = np.zeros((count, 2), np.int64)
        start = 0
        for block in blocks:
            windows[block] = start, start + len(block) - 1
            start += len(block)
        for leaf in np.flatnonzero(self.places >= 0):
            place = self.places[leaf]
            if not windows[leaf, 0] <= place <= windows[leaf, 1]:
                return None
            windows[leaf] = place
        numbered = np.flatnonzero(np.isfinite(self.numbers))
        levels = np.unique(self.numbers[numbered])
        for level in levels[1:]:
            earlier = numbered[self.numbers[numbered] < level]
            here = numbered[self.numbers[numbered] == level]
            earliest = max(int(windows[earlier, 0].max()) + 1, _packed(windows[earlier, 0]))
            windows[here, 0] = np.maximum(windows[here, 0], earliest)
        for level in levels[-2::-1]:
            later = numbered[self.numbers[numbered] > level]
            here = numbered[self.numbers[numbered] == level]
            latest = min(int(windows[later, 1].min()) - 1, -_packed(-windows[later, 1]))
            windows[here, 1] = np.minimum(windows[here, 1], latest)
        return windows


def _packed(earliest: NDArray[np.int64]) -> int:
    """Return the first place after leaves that may start there or later, one a place."""
    place = -(10**9)
    for start in np.sort(earliest):
        place = max(place + 1, int(start))
    return place + 1


def _fill(windows: NDArray[np.int64], rank: Order, numbers: NDArray[np.float64]) -> Order | None:
    """Return who takes which place, near the wished ranks; None if it cannot be.

    A numbered leaf waits until none with a smaller number is left. An order that keeps to that
    always remains: of two leaves whose numbers differ the windows of the earlier one begin and end
    sooner, so the rule of the earliest deadline takes it first.
    """
    if _earliest_deadline(windows, np.arange(len(rank)), 0) is None:
        return None
    left = list(np.argsort(rank).tolist())
    order: list[int] = []
    for place in range(len(rank)):
        waits = min((numbers[one] for one in left if np.isfinite(numbers[one])), default=np.inf)
        for leaf in left:
            if windows[leaf, 0] > place or windows[leaf, 1] < place or numbers[leaf] > waits:
                continue
            rest = np.array([one for one in left if one != leaf], np.int64)
            if _earliest_deadline(windows, rest, place + 1) is not None:
                order.append(leaf)
                left.remove(leaf)
                break
        else:
            return None
    return np.array(order, np.int64)


def _earliest_deadline(
    windows: NDArray[np.int64], leaves: NDArray[np.int64], place: int
) -> list[int] | None:
    """Return an order of leaves from a place on, each in its window; None if there is none.

    With one leaf a place the rule of the earliest deadline finds an order whenever there is one
    (Horn, *Naval Research Logistics Quarterly* 21, 1974).
    """
    waiting = sorted((int(windows[leaf, 0]), int(windows[leaf, 1]), int(leaf)) for leaf in leaves)
    ready: list[tuple[int, int]] = []
    order: list[int] = []
    index = 0
    while len(order) < len(waiting):
        while index < len(waiting) and waiting[index][0] <= place:
            heapq.heappush(ready, waiting[index][1:])
            index += 1
        if not ready or ready[0][0] < place:
            return None
        order.append(heapq.heappop(ready)[1])
        place += 1
    return order


def limits_of(names: Sequence[str], known: Known) -> Limits:
    """Return what is known by index of leaf.

    Raises
    ------
    OrderNotPossible
        If a leaf is named that is not in the stack, or a place twice or outside of it.
    """
    index = {name: at for at, name in enumerate(names)}
    for told in (known.numbers, known.bundles, known.places, known.laid):
        for name in told:
            if name not in index:
                raise OrderNotPossible(
                    f"Something is told of leaf {name}, which is not in this stack. Correct the "
                    "name, or leave it out."
                )
    places = _by_index(known.places, index, empty=-1)
    taken = places[places >= 0]
    if len(np.unique(taken)) != len(taken) or (taken >= len(names)).any():
        raise OrderNotPossible(
            f"Two leaves are given one place, or a place lies beyond the {len(names)} leaves of "
            "the stack. Give each leaf a place of its own."
        )
    numbers = np.full(len(names), np.nan)
    for name, number in known.numbers.items():
        numbers[index[name]] = number
    marks = {bundle: at for at, bundle in enumerate(dict.fromkeys(known.bundles.values()))}
    bundles = _by_index({name: marks[one] for name, one in known.bundles.items()}, index, empty=-1)
    return Limits(numbers, bundles, places)


def _by_index(
    told: Mapping[str, int], index: Mapping[str, int], *, empty: int
) -> NDArray[np.int64]:
    found = np.full(len(index), empty, np.int64)
    for name, value in told.items():
        found[index[name]] = value
    return found
