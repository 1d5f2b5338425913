"""Put a stack of leaves back in log order: the order, how each leaf lies, and how sure it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.errors import OrderNotPossible
from vision.leaf_stack import LeafStack, lay_on_grid
from vision.order_chances import distance_costs, spread_out
from vision.order_confidence import (
    doubt_order,
    expected_steps,
    gap_odds,
    laying_odds,
    scale_of,
    trust_in,
    twin_odds,
)
from vision.order_limits import Limits, limits_of
from vision.order_solver import anything, first_orders, improve, total
from vision.pair_evidence import (
    compare_bands,
    first_weights,
    likeness,
    match_ranks,
    weigh,
    weighted,
)
from vision.shot import Laid
from vision.slip import find_slip, move
from vision.stack_alignment import LAYINGS, compare_all, settle_layings, standing_out
from vision.stack_order import Gap, Known, PlacedLeaf, StackLeaf, StackOrder, Step, Stretch, Twins

REACH = (1.0, 0.8, 0.65, 0.5, 0.4, 0.3, 0.2, 0.1)
"""What likeness of leaves 1, 2, 3, ... places apart counts in the sum that an order makes: the near
ones tell neighbours, the far ones keep whole stretches from being turned or misplaced."""
ROUNDS = 3
"""Times the bands are weighed anew by the order found."""
CHANCE_ROUNDS = 4
"""Times, after that, that the order is sought by chances learnt from the one before."""
LEAST_LEAVES = 3
TWINS_FROM = 0.2
FEW_LEAVES = 8
"""From so few leaves no weights are learnt."""
STEPS = 5 + ROUNDS + CHANCE_ROUNDS
_OPPOSED = np.array([False, True, True, False])
_OTHER_FACE = np.array([False, False, True, True])
_FLIPS = ((1, 1), (-1, -1), (1, -1), (-1, 1))
"""Steps through rows and columns; parallel to `LAYINGS`, as the two above."""

Doubles = NDArray[np.float64]
Order = NDArray[np.int64]
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class _Views:
    """All photographed faces of a stack, and whose they are."""

    stack: LeafStack
    owner: NDArray[np.int64]
    is_back: NDArray[np.bool_]


def order_leaves(leaves: Sequence[StackLeaf], known: Known | None = None) -> StackOrder:
    """Return a stack in log order, up to the reversal of the whole; see `order_in_steps`."""
    *_, last = order_in_steps(leaves, known)
    if not isinstance(last, StackOrder):
        raise TypeError("The last step is no order.")
    return last


def order_in_steps(
    leaves: Sequence[StackLeaf], known: Known | None = None
) -> Iterator[Step | StackOrder]:
    """Yield how far the work has come, and at last the order.

    Parameters
    ----------
    leaves : sequence of StackLeaf
        In any order; names must differ.
    known : Known or None
        What every answer has to keep to.

    Raises
    ------
    OrderNotPossible
        If two leaves bear one name, or what is known contradicts itself.
    """
    known = known or Known()
    names = [leaf.name for leaf in leaves]
    if len(set(names)) != len(names):
        double = next(name for name in names if names.count(name) > 1)
        raise OrderNotPossible(
            f"Two leaves are called {double}. Give each leaf of the stack a name of its own."
        )
    limits = limits_of(names, known)
    given = [
        None if (one := known.laid.get(name)) is None else LAYINGS.index(one) for name in names
    ]
    if len(leaves) < LEAST_LEAVES and not limits.holds_anything:
        yield _too_few(leaves, given)
        return
    yield Step(0, STEPS, "Laying the drawings on one grid")
    views = _gather(leaves)
    yield Step(1, STEPS, "Comparing every two leaves in four layings")
    best = compare_all(views.stack).best
    by_leaf = _by_leaf(best, views)
    outstanding = standing_out(by_leaf)
    laid = settle_layings(outstanding, given)
    yield Step(2, STEPS, "Taking out slip")
    cells = _turned(views, laid)
    alike = _pick(by_leaf, laid)
    views_alike = alike[np.ix_(views.owner, views.owner)]
    slip = find_slip(cells[0], views_alike)
    cells = move(LeafStack(cells, views.stack.row_pitch, views.stack.column_pitch), slip)
    yield Step(3, STEPS, "Comparing the figure, from coarse to fine")
    bands = np.concatenate([_by_leaf(compare_bands(cells), views), alike[None]])
    opposed = _OPPOSED[laid][:, None] != _OPPOSED[laid][None, :]
    start = match_ranks((alike + alike.T).astype(np.float64) / 2, opposed)
    for step in _search(bands, opposed, start, limits):
        if isinstance(step, _Found):
            both = np.array([leaf.back is not None for leaf in leaves])
            yield _told(names, _Laid(laid, outstanding, opposed, bands, both), step)
        else:
            yield Step(4 + step, STEPS, "Trying orders")


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    order: Order
    alike: Doubles
    chances: Doubles | None
    limits: Limits


def _gather(leaves: Sequence[StackLeaf]) -> _Views:
    faces, owner, is_back = [], [], []
    for index, leaf in enumerate(leaves):
        for face, back in ((leaf.front, False), (leaf.back, True)):
            if face is not None:
                faces.append(face)
                owner.append(index)
                is_back.append(back)
    return _Views(lay_on_grid(faces), np.array(owner), np.array(is_back))


def _sharing(views: _Views) -> Doubles:
    """Return which share each view has in its leaf, shape (leaves, views)."""
    leaves = int(views.owner[-1]) + 1
    share = (views.owner[None, :] == np.arange(leaves)[:, None]).astype(np.float64)
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def _by_leaf(tables: Floats, views: _Views) -> Floats:
    """Return tables of views (..., views, views) as means over the views of each two leaves."""
    if not views.is_back.any():
        return tables
    share = _sharing(views).astype(np.float32)
    return np.asarray(share @ tables @ share.T, np.float32)


def _turned(views: _Views, laid: NDArray[np.int64]) -> Floats:
    """Return the cells with every view turned as its leaf lies."""
    cells = np.empty_like(views.stack.cells)
    for view, leaf in enumerate(views.owner):
        rows, columns = _FLIPS[laid[leaf]]
        cells[:, view] = views.stack.cells[:, view, ::rows, ::columns]
    return cells


def _pick(by_laid: Floats, laid: NDArray[np.int64]) -> Floats:
    """Return the likeness of all pairs as they lie."""
    leaves = np.arange(len(laid))
    ways = laid[:, None] ^ laid[None, :]
    return np.asarray(by_laid[ways, leaves[:, None], leaves[None, :]], np.float32)


def _search(
    bands: Floats, opposed: NDArray[np.bool_], start: Doubles, limits: Limits
) -> Iterator[int | _Found]:
    """Yield the number of each round, and at last what was found."""
    before = first_weights()
    alike = likeness(bands, opposed, before)
    ways = [limits] if not np.isfinite(limits.numbers).any() else [limits, limits.backwards()]
    fitting = [way for way in ways if way.fitted(np.arange(len(alike))) is not None]
    if not fitting:
        raise OrderNotPossible(
            "No order keeps to all that is told of this stack: numbers, bundles and leaves marked "
            "as right contradict each other. Take one of them back."
        )
    starts = [*first_orders(start), *first_orders(alike)]
    best, way = _best_order(_cost(alike), starts, fitting)
    for number in range(ROUNDS):
        yield number
        if len(alike) > FEW_LEAVES:
            alike = likeness(bands, opposed, weigh(bands, opposed, best, before))
            best, way = _best_order(_cost(alike), [best, *first_orders(alike)], [way])
    even, cost = spread_out(bands), None
    for number in range(ROUNDS, ROUNDS + CHANCE_ROUNDS):
        yield number
        if len(alike) <= FEW_LEAVES:
            break
        values = weighted(even, opposed, weigh(even, opposed, best, before))
        cost, last = distance_costs(values, opposed, best), best
        best, way = _best_order(cost, [best, *first_orders(-cost[0])], [way])
        if (best == last).all():
            break
    if len(ways) > 1 and not limits.holds_places and way is not limits:
        best, way = best[::-1].copy(), limits
    yield _Found(best, alike, cost, way)


def _cost(alike: Doubles) -> Doubles:
    return np.stack([-share * alike for share in REACH])


def _best_cost(alike: Doubles) -> float:
    cost = _cost(alike)
    starts = sorted(
        (improve(cost[:1], start) for start in first_orders(alike)),
        key=lambda order: total(cost, order),
    )
    return total(cost, improve(cost, starts[0]))


def _best_order(
    cost: Doubles, starts: Sequence[Order], ways: Sequence[Limits]
) -> tuple[Order, Limits]:
    found: list[tuple[float, Order, Limits]] = []
    for way in ways:
        allowed = way.allow if way.holds_anything else anything
        tried = []
        for start in starts:
            fitted = way.fitted(start)
            if fitted is not None:
                tried.append(improve(cost[:1], fitted, allowed))
        if way.holds_places:
            tried += [
                improve(cost[:1], other, allowed)
                for start in starts
                if (other := way.fitted(start[::-1])) is not None
            ]
        tried.sort(key=lambda order: total(cost, order))
        for order in tried[:2]:
            better = improve(cost, order, allowed)
            found.append((total(cost, better), better, way))
    _, order, way = min(found, key=lambda one: one[0])
    return order, way


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    laid: NDArray[np.int64]
    outstanding: Floats
    opposed: NDArray[np.bool_]
    bands: Floats
    both: NDArray[np.bool_]
    """Leaves photographed on both faces: what lies up is then no matter."""


def _told(names: Sequence[str], seen: _Laid, found: _Found) -> StackOrder:
    """Return an order with all that is sure and doubtful about it."""
    order, alike, laid = found.order, found.alike, seen.laid
    faces = _OTHER_FACE[laid] & ~seen.both
    count = len(order)
    _, same_cut = expected_steps(alike, order, faces)
    cost = _cost(alike)
    doubt = doubt_order(cost, found.chances, order, same_cut, scale=scale_of(alike, order))
    gaps = gap_odds(alike, order, faces)
    twins = twin_odds(seen.bands.astype(np.float64), order, faces, seen.opposed)
    at_left, at_right = np.append(1.0, doubt.joints), np.append(doubt.joints, 1.0)
    lies = laying_odds(seen.outstanding.astype(np.float64), laid, order)[order]
    trust = trust_in(alike, total(cost, order), _best_cost)
    sure = np.minimum(at_left * at_right, lies) * trust
    kept = found.limits.places[order] >= 0
    first = laid[order[0]]
    name = [names[leaf] for leaf in order]
    return StackOrder(
        leaves=tuple(
            PlacedLeaf(
                names[leaf], at, LAYINGS[laid[leaf] ^ first], 1.0 if kept[at] else float(sure[at])
            )
            for at, leaf in enumerate(order)
        ),
        gaps=tuple(Gap(name[at], name[at + 1], float(gaps[at])) for at in range(count - 1)),
        twins=tuple(
            Twins(name[at], name[at + 1], float(twins[at]))
            for at in np.flatnonzero(twins >= TWINS_FROM)
        ),
        stretches=tuple(
            Stretch(name[start], name[end], chance) for start, end, chance in doubt.stretches
        ),
        same_cut=tuple((name[at], name[at + 1]) for at in np.flatnonzero(same_cut)),
    )


def _too_few(leaves: Sequence[StackLeaf], given: Sequence[int | None]) -> StackOrder:
    """Return one or two leaves as they came: nothing tells their order."""
    placed = tuple(
        PlacedLeaf(
            leaf.name, at, Laid.AS_LIES if given[at] is None else LAYINGS[given[at] or 0], 0.5
        )
        for at, leaf in enumerate(leaves)
    )
    return StackOrder(placed)
