"""The cuts of a run chosen together: one of the good joints between each two leaves.

What is made large is the sum of the joints' scores less what the cuts cost (`RunCosts`): the
length of face that slips along the grain take off, the width lost at joints and at the trued rims,
leaves that taper, and cuts that have to be set out for nothing. Slips only shorten the face by as
much as the leaves then stand apart, so a slip up pays for a slip down; what the joints turn adds
up in the same way and is lost at the rims. A leaf is cut on both sides, so two joints that share
one are chosen with regard to each other.

The search goes along the run. Of the ways that end in the same cut it keeps every one that some
rest of the run could still make the best, and lets go the others: nothing better is lost.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.errors import MatchNotPossible
from vision.joined_run import LEAST_PIECE_MM, JoinedLeaf
from vision.joint_cut import JointCut, RunCosts

Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """Ways to cut the run so far, one a row; all end in the same cut of the last joint."""

    value: Doubles
    """Scores less all costs but those of length and of the rims."""
    top: Doubles
    """Height of the last leaf's top end, down from that of a leaf that is not moved, mm."""
    lowest_top: Doubles
    highest_foot: Doubles
    turn: Doubles
    """By how much the last leaf is turned, radians."""
    cuts: NDArray[np.int64]
    """Which choice was taken at each joint."""

    def only(self, kept: NDArray[np.bool_] | NDArray[np.int64]) -> _Ways:
        return _Ways(
            self.value[kept],
            self.top[kept],
            self.lowest_top[kept],
            self.highest_foot[kept],
            self.turn[kept],
            self.cuts[kept],
        )


def choose_cuts(
    leaves: Sequence[JoinedLeaf],
    choices: Sequence[Sequence[JointCut]],
    *,
    costs: RunCosts | None = None,
) -> tuple[JointCut, ...]:
    """Return the cut to take at each joint of a run, the best of all combinations.

    Parameters
    ----------
    leaves : sequence of JoinedLeaf
        From the left.
    choices : sequence of sequence of JointCut
        Good joints of each two neighbours, see `vision.joint_choices`.
    costs : RunCosts or None

    Raises
    ------
    MatchNotPossible
        If no combination leaves every leaf at least a narrow piece.

    Examples
    --------
    >>> from vision.layout import LeafExtent
    >>> from vision.shot import Laid
    >>> run = [JoinedLeaf(LeafExtent(n, 200.0, 2000.0), Laid.AS_LIES) for n in ("01", "02", "03")]
    >>> def cut(slip, score):
    ...     return JointCut(3.0, 0.0, 3.0, 0.0, slip, score=score, straight_score=0.5)
    >>> first, second = [cut(8.0, 0.90), cut(0.0, 0.85)], [cut(8.0, 0.91), cut(-8.0, 0.905)]
    >>> [joint.slip_mm for joint in choose_cuts(run, [first, second])]
    [8.0, -8.0]
    """
    costs = costs or RunCosts()
    if not choices:
        return ()
    length = min(leaf.extent.length_mm for leaf in leaves)
    first = leaves[0]
    start = _Ways(
        np.zeros(1),
        np.full(1, first.down_mm),
        np.full(1, first.down_mm),
        np.full(1, first.down_mm + first.extent.length_mm),
        np.zeros(1),
        np.zeros((1, 0), dtype=np.int64),
    )
    before: list[tuple[JointCut | None, _Ways]] = [(None, start)]
    for at, joint in enumerate(choices):
        straight = [cut.loss_mm for cut in joint if cut.is_straight]
        plain_mm = min(straight, default=math.inf)
        pair = leaves[at], leaves[at + 1]
        is_last = at == len(choices) - 1
        after: list[tuple[JointCut | None, _Ways]] = []
        for index, cut in enumerate(joint):
            if is_last and not _leaves_enough(pair[1], cut, None):
                continue
            ways = [
                _further(ways, (before_cut, cut), index, pair=pair, plain_mm=plain_mm, costs=costs)
                for before_cut, ways in before
                if _leaves_enough(pair[0], before_cut, cut)
            ]
            if ways:
                after.append((cut, _worth_keeping(_together(ways), length, costs)))
        if not after:
            raise MatchNotPossible(
                f"No joints leave {LEAST_PIECE_MM:.0f} mm of leaf {pair[0].extent.label}. Allow "
                "less loss at the joints, or leave it out."
            )
        before = after
    ended = _together([ways for _, ways in before])
    worth = ended.value - _lost(ended, length, costs)
    best = ended.cuts[int(np.argmax(worth))]
    return tuple(joint[int(index)] for joint, index in zip(choices, best, strict=True))


def _further(
    ways: _Ways,
    cuts: tuple[JointCut | None, JointCut],
    index: int,
    *,
    pair: tuple[JoinedLeaf, JoinedLeaf],
    plain_mm: float,
    costs: RunCosts,
) -> _Ways:
    """Return ways with one more joint, after one that ended in a cut of its own."""
    before, cut = cuts
    left, right = pair
    value = cut.score - costs.width_per_mm * cut.loss_mm
    value -= costs.set_out * (cut.is_turned + bool(cut.slip_mm))
    value -= costs.trim * (not cut.is_straight or cut.loss_mm > plain_mm)
    if before is not None:
        # a leaf at a rim is trued there to the face, whatever its one cut
        value -= costs.taper_per_mm * abs(_taper_mm(left, before, cut))
    top = ways.top - left.down_mm + right.down_mm - cut.slip_mm
    return _Ways(
        ways.value + value,
        top,
        np.maximum(ways.lowest_top, top),
        np.minimum(ways.highest_foot, top + right.extent.length_mm),
        ways.turn + math.radians(cut.turn_deg),
        np.column_stack([ways.cuts, np.full(len(ways.cuts), index)]),
    )


def _lost(ways: _Ways, length_mm: float, costs: RunCosts) -> Doubles:
    """Return what the length taken off the face and the trued rims cost.

    Each rim leans by half of what the run turns, and is trued over half of its length.
    """
    short = length_mm - (ways.highest_foot - ways.lowest_top)
    return np.asarray(
        costs.length_per_mm * short + costs.width_per_mm * length_mm / 2 * np.abs(ways.turn)
    )


def _worth_keeping(ways: _Ways, length_mm: float, costs: RunCosts) -> _Ways:
    """Return the ways that some rest of the run could make the best.

    Whatever follows, one way ends at most so much worse than another as it is now behind in value
    and as its leaves stand further out or are turned otherwise; where that is less than what it
    is ahead, the other is let go.
    """
    ways = ways.only(np.argsort(-ways.value, kind="stable"))
    kept: list[int] = []
    open_ones = np.arange(len(ways.value))
    while open_ones.size:
        one, rest = open_ones[0], open_ones[1:]
        kept.append(int(one))
        higher = ways.top[one] - ways.top[rest]
        longer = np.maximum(np.maximum(ways.lowest_top[one] - ways.lowest_top[rest], higher), 0.0)
        longer += np.maximum(
            np.maximum(ways.highest_foot[rest] - ways.highest_foot[one], -higher), 0.0
        )
        turned = length_mm / 2 * np.abs(ways.turn[one] - ways.turn[rest])
        behind = costs.length_per_mm * longer + costs.width_per_mm * turned
        open_ones = rest[ways.value[rest] > ways.value[one] - behind]
    return ways.only(np.array(kept, dtype=np.int64))


def _together(ways: Sequence[_Ways]) -> _Ways:
    return _Ways(
        np.concatenate([one.value for one in ways]),
        np.concatenate([one.top for one in ways]),
        np.concatenate([one.lowest_top for one in ways]),
        np.concatenate([one.highest_foot for one in ways]),
        np.concatenate([one.turn for one in ways]),
        np.concatenate([one.cuts for one in ways]),
    )


def _taper_mm(leaf: JoinedLeaf, before: JointCut | None, after: JointCut | None) -> float:
    """Return by how much a leaf is narrower at its foot than at its top."""
    slope = math.tan(math.radians(before.right_deg)) if before else 0.0
    slope += math.tan(math.radians(after.left_deg)) if after else 0.0
    return leaf.extent.length_mm * slope


def _leaves_enough(leaf: JoinedLeaf, before: JointCut | None, after: JointCut | None) -> bool:
    """Tell whether both ends of a leaf keep a piece between its two cuts."""
    lost = (before.right_mm if before else 0.0) + (after.left_mm if after else 0.0)
    lost += abs(_taper_mm(leaf, before, after)) / 2
    return leaf.extent.width_mm - lost >= LEAST_PIECE_MM
