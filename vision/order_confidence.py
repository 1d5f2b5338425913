"""How sure an order is, joint by joint: against all orders that one change makes of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.order_solver import move_gains, reversal_gains

Doubles = NDArray[np.float64]
Order = NDArray[np.int64]

DOUBLED, SHARED = 2.0, 0.3
"""What the evidence of a change counts by likeness, and by the chances of distances. A leaf badly
trimmed or lit shifts all its chances together, so that their sum is less sure than it looks."""
BY_LIKENESS, BY_CHANCES, HEAD_START = 0.68, 0.62, 0.95
"""Log odds of a joint: a head start, and both kinds of evidence times their slopes. Fitted to the
joints of 240 drawn stacks of 16 to 44 leaves, cut half to twice as thick as usual, under good and
poor photographs (logistic regression; head start 1.52, drawn back);
`tests.accuracy.sequence` prints how often such odds come true."""
ALONE, HEAD_START_ALONE, MOST_ALONE = 1.09, 1.4, 0.97
"""The same by likeness alone, for stacks too small to learn chances from (fitted 1.09, 1.98). Their
scale is learnt from a handful of pairs, so that no joint is surer than the last: of places told
0.98 in stacks of 6 and 8 leaves 94 % were right."""
GAP_SLOPE, GAP_OFFSET = 1.3, -2.6
"""Log odds of a missing leaf: against deviations below the likeness expected of a joint."""
CHANCE_FROM, CHANCE_TO = 0.1, 0.3
"""An order that betters chance by less than the first share is a guess; above the second it is
believed as far as its joints are."""
LAYING_NEAR = 4
LAYING_SLOPE = 2.0
"""Log odds of a laying for each standard deviation by which it leads the next."""
LEAST_JOINTS = 5
TWIN_BANDS = slice(3, 7)
TWIN_DEVIATIONS = 3.5
"""One leaf twice is as likely as not at so many standard deviations above other neighbours, if it
also comes half the way from theirs to full likeness."""
STRETCH_FROM = 4
"""A run of so many leaves is called a stretch; fewer are leaves out of place."""


@dataclass(frozen=True, slots=True, eq=False)
class Doubt:
    """What speaks against an order.

    Parameters
    ----------
    joints : ndarray, shape (leaves - 1,)
        Chance that the two leaves at a joint are neighbours.
    stretches : tuple of (first place, last place, chance)
        Runs that may lie the other way round.
    """

    joints: Doubles
    stretches: tuple[tuple[int, int, float], ...]


def doubt_order(
    cost: Doubles,
    chances: Doubles | None,
    order: Order,
    same_cut: NDArray[np.bool_],
    *,
    scale: float,
) -> Doubt:
    """Return how sure each joint of an order is.

    Parameters
    ----------
    cost : ndarray, shape (reach, leaves, leaves)
        By likeness alone.
    chances : ndarray, shape (reach, leaves, leaves), or None
        As the order was found with. Learnt from that very order, they speak for it too well; a
        joint is sure where likeness alone agrees.
    order : ndarray of int
    same_cut : ndarray of bool, shape (leaves - 1,)
        Joints whose two leaves show the same cut: exchanging them is no mistake.
    scale : float
        Log odds of one unit of ``cost``.
    """
    turned, moved = _changes(cost, order, same_cut, DOUBLED * scale)
    by_likeness = _evidence(turned, moved)
    if chances is None:
        joints = np.minimum(_chance(ALONE * by_likeness + HEAD_START_ALONE), MOST_ALONE)
    else:
        by_chances = _evidence(*_changes(chances, order, same_cut, SHARED))
        joints = _chance(BY_LIKENESS * by_likeness + BY_CHANCES * by_chances + HEAD_START)
    stretches = []
    for start, end in zip(*np.nonzero(turned > 0.05), strict=True):
        if end - start + 1 >= STRETCH_FROM:
            odds = float(turned[start, end])
            stretches.append((int(start), int(end), odds / (1 + odds)))
    stretches.sort(key=lambda one: -one[2])
    return Doubt(joints, _apart(stretches))


def _chance(log_odds: Doubles) -> Doubles:
    return np.asarray(1 / (1 + np.exp(-log_odds)))


def _changes(
    cost: Doubles, order: Order, same_cut: NDArray[np.bool_], scale: float
) -> tuple[Doubles, Doubles]:
    """Return the odds of reversing places a..b, shape (a, b), and of moving (from, to)."""
    turned, moved = reversal_gains(cost, order), move_gains(cost, order)
    turned[0, -1] = np.inf
    for at in np.flatnonzero(same_cut):
        turned[at, at + 1] = np.inf
        moved[at, at + 1] = moved[at + 1, at] = np.inf
    return _odds(turned, scale), _odds(moved, scale)


def _evidence(turned: Doubles, moved: Doubles) -> Doubles:
    """Return the log odds of each joint against all changes that part it, shape (leaves - 1,)."""
    against = np.zeros(len(turned) - 1)
    for joint in range(len(against)):
        against[joint] = turned[joint + 1].sum() + turned[:, joint].sum()
        against[joint] += moved[joint].sum() + moved[joint + 1].sum()
        before, after = moved[: joint + 1, joint], moved[joint + 1 :, joint + 1]
        against[joint] += before.sum() + after.sum()
    return np.asarray(-np.log(against + 1e-12))


def _odds(gains: Doubles, scale: float) -> Doubles:
    held = np.where(np.isfinite(gains), gains, 0.0)
    return np.where(np.isfinite(gains), np.exp(-np.clip(scale * held, 0, 60)), 0.0)


def _apart(
    stretches: list[tuple[int, int, float]],
) -> tuple[tuple[int, int, float], ...]:
    """Return the likeliest of stretches that overlap, at most five."""
    kept: list[tuple[int, int, float]] = []
    for start, end, chance in stretches:
        if all(end < first or start > last for first, last, _ in kept):
            kept.append((start, end, chance))
    return tuple(kept[:5])


def trust_in(alike: Doubles, cost: float, solve: Callable[[Doubles], float]) -> float:
    """Return how far an order goes beyond what chance gives, 0 to 1.

    The best order of leaves without any order in them looks ordered too. So the same likenesses
    are dealt out anew by chance, and ordered: what that gives is worth nothing.

    Parameters
    ----------
    alike : ndarray, shape (leaves, leaves)
    cost : float
        Of the order found.
    solve : callable
        Returns the cost of the best order of other likenesses.
    """
    upper = np.triu_indices(len(alike), 1)
    if float(alike[upper].std()) < 0.5:
        return 0.0
    dealt = np.zeros_like(alike)
    dealt[upper] = np.random.default_rng(0).permutation(alike[upper])
    by_chance = solve(dealt + dealt.T)
    beyond = (by_chance - cost) / (abs(by_chance) + 1e-9)
    return float(np.clip((beyond - CHANCE_FROM) / (CHANCE_TO - CHANCE_FROM), 0, 1))


def scale_of(alike: Doubles, order: Order) -> float:
    """Return the log odds that one unit of likeness is worth between neighbours and the next.

    With neighbours and leaves two to five apart each spread normally and alike, the log odds of a
    likeness are linear in it, with the difference of means over the variance as slope.
    """
    near = alike[order[:-1], order[1:]]
    far = np.concatenate(
        [alike[order[:-s], order[s:]] for s in range(2, min(6, len(order)))] or [near]
    )
    variance = 0.5 * (near.var() + far.var()) + 1e-3
    return float(max(near.mean() - far.mean(), 0.0) / variance)


def gap_odds(alike: Doubles, order: Order, faces: NDArray[np.bool_]) -> Doubles:
    """Return the chance of missing leaves at each joint, shape (leaves - 1,).

    Leaves with the other face up show the cut of a neighbour, so that one of their joints is
    closer and one wider than usual; each joint is held against what its faces let expect.

    Parameters
    ----------
    alike : ndarray, shape (leaves, leaves)
    order : ndarray of int
    faces : ndarray of bool, shape (leaves,)
        Whether a leaf shows its other face.
    """
    count = len(order)
    if count < 5:
        return np.full(max(count - 1, 0), 0.05)
    expected, _ = expected_steps(alike, order, faces)
    left = expected - alike[order[:-1], order[1:]]
    local = np.array([np.median(left[max(0, k - 6) : k + 7]) for k in range(count - 1)])
    left = left - np.clip(local, 0, None)
    spread = 1.4826 * float(np.median(np.abs(left - np.median(left)))) + 0.05
    near, next_but_one = _usual_likeness(alike, order)
    skip = max(near - next_but_one, spread)
    return np.asarray(
        1 / (1 + np.exp(-(GAP_SLOPE * left / spread + GAP_OFFSET - 0.3 * (skip / spread < 1))))
    )


def _usual_likeness(alike: Doubles, order: Order) -> tuple[float, float]:
    """Return the middle likeness of neighbours, and of leaves two places apart."""
    near = float(np.median(alike[order[:-1], order[1:]]))
    return near, float(np.median(alike[order[:-2], order[2:]])) if len(order) > 2 else near


def expected_steps(
    alike: Doubles, order: Order, faces: NDArray[np.bool_]
) -> tuple[Doubles, NDArray[np.bool_]]:
    """Return the likeness to expect of each joint, and which joints show the same cut.

    Where the face changes, the cuts lie none or two slices apart; which of the two kinds of change
    is the close one is the same throughout a stack, and is taken as the likeness says.

    Parameters
    ----------
    alike : ndarray, shape (leaves, leaves)
    order : ndarray of int
    faces : ndarray of bool, shape (leaves,)
        Whether a leaf shows its other face.
    """
    near, next_but_one = _usual_likeness(alike, order)
    joints, faces = alike[order[:-1], order[1:]], faces[order]
    close = near + max(near - next_but_one, 0.0)
    up, down = faces[1:] & ~faces[:-1], ~faces[1:] & faces[:-1]
    found = []
    for narrow, wide in ((up, down), (down, up)):
        expected = np.where(narrow, close, np.where(wide, next_but_one, near))
        found.append((float(np.abs(joints - expected).sum()), expected, narrow))
    best = min(found, key=lambda one: one[0])
    return best[1], best[2]


def laying_odds(outstanding: Doubles, laid: NDArray[np.int64], order: Order) -> Doubles:
    """Return the chance that each leaf lies as told, shape (leaves,), by its nearest in the order.

    Parameters
    ----------
    outstanding : ndarray, shape (4, leaves, leaves)
        Likeness in each laying, in standard deviations of what chance gives.
    laid : ndarray of int, shape (leaves,)
    order : ndarray of int
    """
    count = len(order)
    chance = np.ones(count)
    for at, leaf in enumerate(order):
        near = order[max(0, at - LAYING_NEAR) : at + LAYING_NEAR + 1]
        near = near[near != leaf]
        if not len(near):
            continue
        ways = [
            float(np.mean(outstanding[laid[leaf] ^ turn ^ laid[near], leaf, near]))
            for turn in range(4)
        ]
        lead = ways[0] - max(ways[1:])
        chance[leaf] = 1 / (1 + np.exp(-np.clip(LAYING_SLOPE * lead, -30, 30)))
    return chance


def twin_odds(
    bands: Doubles, order: Order, faces: NDArray[np.bool_], opposed: NDArray[np.bool_]
) -> Doubles:
    """Return the chance at each joint that one leaf was photographed twice, shape (leaves - 1,).

    Pores and the finest figure belong to one cut alone: where two leaves with the same face up
    share them, far beyond what other neighbours share, they are one.

    Parameters
    ----------
    bands : ndarray, shape (bands, leaves, leaves)
        Correlations by band.
    order : ndarray of int
    faces : ndarray of bool, shape (leaves,)
        Whether a leaf shows its other face.
    opposed : ndarray of bool, shape (leaves, leaves)
        Pairs whose fibres rise against each other.
    """
    one, other = order[:-1], order[1:]
    alike = ~opposed[one, other] & (faces[one] == faces[other])
    chance = np.zeros(len(one))
    if alike.sum() < LEAST_JOINTS:
        return chance
    fine = bands[TWIN_BANDS][:, one, other].mean(axis=0)
    usual = fine[alike]
    middle = float(np.median(usual))
    spread = 1.4826 * float(np.median(np.abs(usual - middle))) + 0.02
    rise = (fine - middle) / (1 - middle + 1e-2)
    ahead = np.minimum((fine - middle) / spread - TWIN_DEVIATIONS, 16 * rise - 8)
    chance[alike] = 1 / (1 + np.exp(-np.clip(ahead[alike], -30, 30)))
    return chance
