"""Cuts of a run chosen together: as good as trying everything, and for the reasons given."""

import itertools
import math
import secrets
from dataclasses import replace

import numpy as np
import pytest

from vision.errors import MatchNotPossible
from vision.joined_run import JoinedLeaf, joined_run
from vision.joint_cut import JointCut, RunCosts
from vision.layout import LeafExtent
from vision.match_names import Match
from vision.run_cuts import choose_cuts
from vision.shot import Laid

CASES = 300


def a_leaf(at: int, *, width: float = 240.0, length: float = 2000.0, down: float = 0.0):
    return JoinedLeaf(LeafExtent(f"{at:02}", width, length), Laid.AS_LIES, down)


def a_cut(score: float, *, slip=0.0, left=(3.0, 0.0), right=(3.0, 0.0)) -> JointCut:
    return JointCut(*left, *right, slip, score=score, straight_score=0.5)


def worth(
    leaves: list[JoinedLeaf],
    choices: list[list[JointCut]],
    cuts: tuple[JointCut, ...],
    costs: RunCosts,
) -> float | None:
    """Return what a run is worth, from the words of the settings; None if a leaf is cut away."""
    worth = sum(cut.score for cut in cuts)
    for joint, cut in zip(choices, cuts, strict=True):
        straight = [
            one.left_mm + one.right_mm
            for one in joint
            if (one.left_deg, one.right_deg, one.slip_mm) == (0.0, 0.0, 0.0)
        ]
        is_turned = (cut.left_deg, cut.right_deg) != (0.0, 0.0)
        is_slipped = cut.slip_mm != 0.0
        if is_turned:
            worth -= costs.set_out
        if is_slipped:
            worth -= costs.set_out
        if is_turned or is_slipped or cut.left_mm + cut.right_mm > min(straight):
            worth -= costs.trim
    turn = sum(math.radians(cut.left_deg + cut.right_deg) for cut in cuts)
    shortest = min(leaf.extent.length_mm for leaf in leaves)
    lost_width = sum(cut.left_mm + cut.right_mm for cut in cuts) + shortest / 2 * abs(turn)
    worth -= costs.width_per_mm * lost_width
    tops = [leaves[0].down_mm]
    for cut, leaf in zip(cuts, leaves[1:], strict=True):
        tops.append(leaf.down_mm + (tops[-1] - leaves[len(tops) - 1].down_mm) - cut.slip_mm)
    feet = [top + leaf.extent.length_mm for top, leaf in zip(tops, leaves, strict=True)]
    worth -= costs.length_per_mm * (shortest - (min(feet) - max(tops)))
    for at, leaf in enumerate(leaves):
        left = cuts[at - 1] if at else a_cut(0, right=(0, 0))
        right = cuts[at] if at < len(cuts) else a_cut(0, left=(0, 0))
        half = leaf.extent.length_mm / 2
        ends = [
            leaf.extent.width_mm
            - left.right_mm
            - right.left_mm
            - sign * half * (math.tan(math.radians(left.right_deg)))
            - sign * half * (math.tan(math.radians(right.left_deg)))
            for sign in (-1, 1)
        ]
        if min(ends) < 10.0:
            return None
        if 0 < at < len(cuts):
            worth -= costs.taper_per_mm * abs(ends[0] - ends[1])
    return worth


def random_case(rng: np.random.Generator):
    count = int(rng.integers(2, 7))
    narrow = rng.random() < 0.2
    leaves = [
        a_leaf(
            at,
            width=rng.uniform(35, 60) if narrow else rng.uniform(150, 300),
            length=rng.uniform(1500, 1530),
            down=rng.choice([0.0, rng.uniform(-20, 20)]),
        )
        for at in range(count)
    ]
    choices = [
        [
            a_cut(
                rng.uniform(0.8, 0.95),
                slip=rng.choice([0.0, rng.uniform(-12, 12)]),
                left=(rng.uniform(3, 18), rng.choice([0.0, rng.uniform(-0.5, 0.5)])),
                right=(rng.uniform(3, 18), rng.choice([0.0, rng.uniform(-0.5, 0.5)])),
            )
            for _ in range(rng.integers(1, 6))
        ]
        for _ in range(count - 1)
    ]
    costs = RunCosts(
        *(rng.uniform(0.1, 3.0) * cost for cost in (0.002, 0.001, 0.0005, 0.01, 0.003))
    )
    return leaves, choices, costs


def test_the_choice_is_as_good_as_trying_every_combination():
    rng = np.random.default_rng(secrets.randbelow(2**32))
    refused = 0
    for _ in range(CASES):
        leaves, choices, costs = random_case(rng)
        tried = [worth(leaves, choices, cuts, costs) for cuts in itertools.product(*choices)]
        possible = [one for one in tried if one is not None]
        if not possible:
            refused += 1
            with pytest.raises(MatchNotPossible, match="Allow less loss"):
                choose_cuts(leaves, choices, costs=costs)
            continue

        chosen = choose_cuts(leaves, choices, costs=costs)

        found = worth(leaves, choices, chosen, costs)
        assert found is not None
        assert found == pytest.approx(max(possible), abs=1e-9)
    assert refused < CASES / 3


def test_slips_that_could_go_either_way_do_not_add_up():
    leaves = [a_leaf(at) for at in range(6)]
    choices = [[a_cut(0.91, slip=8.0), a_cut(0.90, slip=-8.0)] for _ in leaves[1:]]

    chosen = choose_cuts(leaves, choices)

    assert [cut.slip_mm for cut in chosen] == [8.0, -8.0, 8.0, -8.0, 8.0]
    alone = joined_run(leaves, [cuts[0] for cuts in choices], match=Match.SLIP)
    together = joined_run(leaves, chosen, match=Match.SLIP)
    assert (alone.length_mm, together.length_mm) == (1960.0, 1992.0)


def test_a_slip_that_a_longer_leaf_has_to_spare_costs_no_length():
    equal = [a_leaf(0), a_leaf(1), a_leaf(2)]
    longer = [a_leaf(0), a_leaf(1, length=2030.0), a_leaf(2)]
    there, back = [[a_cut(0.920, slip=slip), a_cut(0.90)] for slip in (10.0, -10.0)]

    assert [cut.slip_mm for cut in choose_cuts(longer, [there, back])] == [10.0, -10.0]
    assert [cut.slip_mm for cut in choose_cuts(equal, [there, back])] == [0.0, 0.0]


def test_leaves_moved_by_hand_count_with_the_slips():
    moved = [a_leaf(0), a_leaf(1, down=8.0)]
    up, down = a_cut(0.90, slip=8.0), a_cut(0.90, slip=-8.0)

    assert choose_cuts(moved, [[down, up]]) == (up,)


def test_a_joint_is_left_straight_where_a_turn_or_a_slip_gains_less_than_shows():
    leaves, plain = [a_leaf(0), a_leaf(1)], a_cut(0.980)
    turned = a_cut(0.992, left=(3.9, 0.05), right=(3.9, -0.05))
    deeper = a_cut(0.989, left=(3.1, 0.0))

    assert choose_cuts(leaves, [[turned, deeper, plain]]) == (plain,)
    assert choose_cuts(leaves, [[replace(turned, score=1.0), plain]]) != (plain,)


def test_both_edges_of_a_leaf_are_cut_to_run_along_each_other():
    leaves = [a_leaf(at) for at in range(3)]
    one = a_cut(0.9, right=(6.0, 0.3), left=(6.0, -0.3))
    other = a_cut(0.9, right=(6.0, -0.3), left=(6.0, 0.3))

    first, second = choose_cuts(leaves, [[one], [other, one]])

    assert first.right_deg + second.left_deg == 0.0


def test_turns_of_a_run_cancel_out_so_that_its_rims_stay_whole():
    leaves = [a_leaf(at) for at in range(5)]
    there, back = [a_cut(score, left=(9.0, turn)) for score, turn in ((0.91, 0.3), (0.90, -0.3))]

    chosen = choose_cuts(leaves, [[there, back]] * 4)

    assert sum(cut.turn_deg for cut in chosen) == pytest.approx(0.0)
    alone = joined_run(leaves, [there] * 4, match=Match.SLIP)
    assert joined_run(leaves, chosen, match=Match.SLIP).width_mm > alone.width_mm + 20.0


def test_a_narrow_leaf_is_not_cut_away_from_both_sides():
    leaves = [a_leaf(0), a_leaf(1, width=40.0), a_leaf(2)]
    deep_right, deep_left = a_cut(0.99, right=(18.0, 0.0)), a_cut(0.99, left=(18.0, 0.0))
    shallow = a_cut(0.9)

    chosen = choose_cuts(leaves, [[deep_right, shallow], [deep_left, shallow]])

    assert (chosen[0].right_mm, chosen[1].left_mm) in ((18.0, 3.0), (3.0, 18.0))
    with pytest.raises(MatchNotPossible, match="leaf 01"):
        choose_cuts(leaves, [[deep_right], [deep_left]])
