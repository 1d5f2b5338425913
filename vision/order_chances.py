"""What a likeness says of how far apart two leaves lay: log odds, learnt from an order.

Likeness falls with distance in the log, in every stack at a pace of its own, and for leaves whose
fibres rise against each other from another level and with more scatter. A likeness near what
chance gives speaks for no distance; so weak evidence counts little instead of being stretched.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

REACH = 8
"""Leaves so many places apart are still likelier than others to look alike."""
FAR_FROM, FAR_TO = 9, 16
"""Leaves so many places apart show what chance gives."""
LEAST_FAR = 5
LIKE_THE_LAST = 4.0
"""Each distance is drawn to the one before as if by so many pairs."""
OF_NO_LEAF = 2.0
"""Shortfalls of a leaf are drawn to none as if by so many pairs."""
TURNS = 4
MOST_DEVIATIONS = 2.0
"""A likeness further out than this says no more."""
CLOSEST = 0.999
"""Correlations above are all one."""
LEAST_SPREAD = 1e-3

Doubles = NDArray[np.float64]
Order = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Pace:
    """How likeness falls with distance, for pairs alike (0) and opposed (1).

    Parameters
    ----------
    level : ndarray, shape (2, REACH + 1)
        Usual likeness far apart, then of leaves 1, 2, ... places apart; never rising.
    spread : ndarray, shape (2,)
        Standard deviation about it.
    """

    level: Doubles
    spread: Doubles


def spread_out(correlations: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return correlations on a scale on which they scatter evenly (Fisher's z)."""
    return np.asarray(np.arctanh(np.clip(correlations, -CLOSEST, CLOSEST)), np.float32)


def distance_costs(alike: Doubles, opposed: NDArray[np.bool_], order: Order) -> Doubles:
    """Return the cost of finding two leaves 1, 2, ... places apart, shape (REACH, leaves, leaves).

    Parameters
    ----------
    alike : ndarray, shape (leaves, leaves)
        Symmetric likeness.
    opposed : ndarray of bool, shape (leaves, leaves)
    order : ndarray of int
        An order nearly right, from which the pace is learnt.

    Returns
    -------
    ndarray
        Less the log odds of that distance against one far apart, likenesses taken as spread
        normally and alike at all distances.
    """
    alike = _without_shortfall(alike, opposed, order, _pace(alike, opposed, order))
    pace = _pace(alike, opposed, order)
    kind = opposed.astype(np.int64)
    far, spread = pace.level[kind, 0], pace.spread[kind]
    reach = MOST_DEVIATIONS * spread
    held = np.clip(alike, far - reach, pace.level[kind, 1] + reach)
    costs = []
    for apart in range(1, REACH + 1):
        level = pace.level[kind, apart]
        costs.append(((level**2 - far**2) / 2 - (level - far) * held) / spread**2)
    return np.stack(costs)


def _pace(alike: Doubles, opposed: NDArray[np.bool_], order: Order) -> Pace:
    placed, kinds = alike[np.ix_(order, order)], opposed[np.ix_(order, order)]
    level, spread = np.zeros((2, REACH + 1)), np.ones(2)
    for kind in (0, 1):
        by_distance = [
            np.diagonal(placed, apart)[np.diagonal(kinds, apart) == bool(kind)]
            for apart in range(1, len(order))
        ]
        far = np.concatenate([*by_distance[FAR_FROM - 1 : FAR_TO], np.zeros(0)])
        if len(far) < LEAST_FAR:
            far = np.concatenate(by_distance)
        if len(far):
            level[kind], spread[kind] = _pace_of(by_distance[:REACH], far)
    return Pace(level, spread)


def _pace_of(by_distance: list[Doubles], far: Doubles) -> tuple[Doubles, float]:
    """Return levels far apart and at each distance, and the spread about them."""
    usual = float(np.median(far))
    levels: list[float] = []
    for values in [*by_distance, *[np.zeros(0)] * (REACH - len(by_distance))]:
        drawn = LIKE_THE_LAST if levels or not len(values) else 0.0
        before = levels[-1] if levels else usual
        levels.append((float(values.sum()) + before * drawn) / (len(values) + drawn))
    falling = np.minimum.accumulate(np.maximum(levels, usual))
    left = [values - one for values, one in zip(by_distance, falling, strict=False)]
    about = np.concatenate([*left, far - usual])
    bound = 3 * float(about.std())
    spread = float(np.sqrt(np.mean(np.clip(about, -bound, bound) ** 2))) + LEAST_SPREAD
    return np.append(usual, falling), spread


def _without_shortfall(
    alike: Doubles, opposed: NDArray[np.bool_], order: Order, pace: Pace
) -> Doubles:
    """Return likeness less what single leaves fall short of, or exceed, with all their neighbours.

    A leaf trimmed, blurred or badly lit is less like every other one, and would drift to an end of
    the order, where it has the fewest neighbours.
    """
    place = np.argsort(order)
    apart = np.abs(place[:, None] - place[None, :])
    near = (apart >= 1) & (apart <= REACH)
    usual = pace.level[opposed.astype(np.int64), np.clip(apart, 0, REACH)]
    left = np.where(near, alike - usual, 0.0)
    short = np.zeros(len(order))
    for _ in range(TURNS):
        others = np.where(near, short[None, :], 0.0)
        short = (left - others).sum(axis=1) / (near.sum(axis=1) + OF_NO_LEAF)
    short -= short.mean()
    return alike - short[:, None] - short[None, :]
