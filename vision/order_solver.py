"""Put leaves in the order that the evidence likes best: starts, then moves over the full range."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import leaves_list, linkage, optimal_leaf_ordering
from scipy.spatial.distance import squareform

Doubles = NDArray[np.float64]
Order = NDArray[np.int64]
LEAST_GAIN = 1e-7
MOST_TRIED = 2000
"""Changes looked at in one step, where most are not allowed."""

Allowed = Callable[[Order], bool]


def anything(_order: Order) -> bool:
    """Allow every order."""
    return True


def first_orders(alike: Doubles) -> list[Order]:
    """Return good starts: optimal leaf ordering of two clusterings, and a greedy chain."""
    count = len(alike)
    apart = alike.max() - alike
    np.fill_diagonal(apart, 0)
    apart = np.maximum((apart + apart.T) / 2, 0)
    flat = squareform(apart, checks=False)
    starts = [greedy_chain(alike)]
    for method in ("average", "single"):
        tree = linkage(flat, method)
        tree = optimal_leaf_ordering(tree, flat) if count <= 400 else tree
        starts.append(leaves_list(tree).astype(np.int64))
    return starts


def greedy_chain(alike: Doubles) -> Order:
    """Return a chain grown from the strongest links, each leaf with at most two."""
    count = len(alike)
    rows, columns = np.triu_indices(count, 1)
    links: list[list[int]] = [[] for _ in range(count)]
    group = list(range(count))

    def root(leaf: int) -> int:
        while group[leaf] != leaf:
            group[leaf] = group[group[leaf]]
            leaf = group[leaf]
        return leaf

    made = 0
    for index in np.argsort(-alike[rows, columns]):
        one, other = int(rows[index]), int(columns[index])
        if len(links[one]) < 2 and len(links[other]) < 2 and root(one) != root(other):
            links[one].append(other)
            links[other].append(one)
            group[root(one)] = root(other)
            made += 1
            if made == count - 1:
                break
    end = next(leaf for leaf in range(count) if len(links[leaf]) < 2)
    order, before = [end], -1
    while len(order) < count:
        following = [leaf for leaf in links[order[-1]] if leaf != before]
        before = order[-1]
        order.append(following[0])
    return np.array(order, np.int64)


def total(cost: Doubles, order: Order) -> float:
    """Return the cost of an order: ``cost[s - 1]`` summed over leaves s places apart."""
    return float(
        sum(
            cost[s - 1][order[:-s], order[s:]].sum()
            for s in range(1, len(cost) + 1)
            if s < len(order)
        )
    )


def improve(cost: Doubles, order: Order, allowed: Allowed = anything, *, most: int = 4000) -> Order:
    """Return the order bettered by reversals, moves and exchanges of leaves until none helps.

    Parameters
    ----------
    cost : ndarray, shape (reach, leaves, leaves)
        Symmetric; see `total`.
    order : ndarray of int
        Where to start; must be allowed.
    allowed : callable
        Tells whether an order may be taken at all.
    most : int
        Steps after which the search stops in any case.
    """
    cost = cost[: max(1, min(len(cost), len(order) - 1))]
    searches = [_best_reversal, _best_move]
    if allowed is not anything:
        searches.append(_best_exchange)
    for _ in range(most):
        for search in searches:
            better = search(cost, order, allowed)
            if better is not None:
                break
        else:
            return order
        order = better
    return order


def reversal_gains(cost: Doubles, order: Order) -> Doubles:
    """Return what reversing places a..b would add to the cost, shape (a, b); inf where a >= b."""
    count = len(order)
    change = np.zeros((count, count))
    for s, table in enumerate(cost[: count - 1], start=1):
        if not table.any():
            continue
        placed = table[np.ix_(order, order)]
        until, since = np.zeros(count), np.zeros(count)
        until[: count - s] = np.diagonal(placed, s)
        since[s:] = np.diagonal(placed, -s)
        for t in range(1, s + 1):
            u = s - t
            left = placed[: count - t, : count - u] - until[: count - t, None]
            change[t:, u:] += np.triu(left, t)
            right = placed.T[u:, t:] - since[None, t:]
            change[: count - u, : count - t] += np.triu(right, u)
    change[np.tril_indices(count)] = np.inf
    return change


def _best_reversal(cost: Doubles, order: Order, allowed: Allowed) -> Order | None:
    gains = reversal_gains(cost, order)
    gains[0, -1] = np.inf
    for start, end in _promising(gains):
        tried = order.copy()
        tried[start : end + 1] = tried[start : end + 1][::-1]
        if allowed(tried):
            return tried
    return None


def move_gains(cost: Doubles, order: Order) -> Doubles:
    """Return what moving the leaf at a place to another place would add, shape (from, to)."""
    count, reach = len(order), len(cost)
    places = np.arange(count)
    rest = np.stack([np.delete(order, place) for place in places])
    start, end = np.indices((count, count))
    change = np.zeros((count, count))
    for s in range(1, reach + 1):
        table = cost[s - 1]
        longer = cost[s] if s < reach else np.zeros_like(table)
        if not table.any() and not longer.any():
            continue
        for beside in (places - s, places + s - 1):
            ok = (beside >= 0) & (beside < count - 1)
            change[:, ok] += table[rest[:, beside[ok]], order[:, None]]
        for t in range(1, s + 1):
            left, right = places - t, places - t + s
            ok = (left >= 0) & (right < count - 1)
            one, other = rest[:, left[ok]], rest[:, right[ok]]
            change[:, ok] += longer[one, other] - table[one, other]
    gains = change - change[places, places][:, None]
    gains[start == end] = np.inf
    return gains


def _best_move(cost: Doubles, order: Order, allowed: Allowed) -> Order | None:
    gains = move_gains(cost, order)
    for start, end in _promising(gains):
        tried = np.insert(np.delete(order, start), end, order[start])
        if allowed(tried):
            return tried
    return None


def _best_exchange(cost: Doubles, order: Order, allowed: Allowed) -> Order | None:
    """Return the order with two leaves exchanged; the only step past leaves that keep a place."""
    count = len(order)
    at_place = np.zeros((count, count))
    for s, table in enumerate(cost, start=1):
        at_place[:, s:] += table[:, order[:-s]]
        at_place[:, :-s] += table[:, order[s:]]
    placed = at_place[order]
    own = np.diag(placed)
    gains = placed + placed.T - own[:, None] - own[None, :]
    gains[np.tril_indices(count)] = np.inf
    now = total(cost, order)
    for one, other in _promising(gains):
        tried = order.copy()
        tried[[one, other]] = tried[[other, one]]
        if allowed(tried) and total(cost, tried) < now - LEAST_GAIN:
            return tried
    return None


def _promising(gains: Doubles) -> Iterator[tuple[int, int]]:
    """Yield the pairs of places whose change lowers the cost, the best first."""
    flat = gains.ravel()
    found = np.flatnonzero(flat < -LEAST_GAIN)
    for index in found[np.argsort(flat[found])][:MOST_TRIED]:
        first, second = divmod(int(index), gains.shape[1])
        yield first, second
