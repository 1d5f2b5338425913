"""Good joints of two leaves, and runs whose cuts are chosen among them."""

import math
import secrets

import numpy as np
import pytest

from tests.accuracy.joined_runs import both_ways, drawn_run, planted_run
from tests.accuracy.joint_leaves import PX_PER_MM, SPECIES, bent_grain, noisy, plant
from vision.errors import MatchNotPossible
from vision.joint_choices import joint_choices
from vision.joint_cut import JointLimits

RUNS = 4
MAY_MISS = 1
"""5 in 100."""
AS_GOOD = 0.01
"""By so much the mean score may fall: what a joint differs by between photographs."""


def test_a_run_chosen_together_keeps_what_was_planted_and_loses_less_of_the_face():
    missed, saved, behind = 0.0, [], []
    for seed in [1, 2, *(secrets.randbelow(2**32) for _ in range(RUNS - 2))]:
        rng = np.random.default_rng(seed)
        leaves, truth = planted_run(rng, bent_grain(rng, length_mm=800.0))

        alone, together = both_ways(leaves, truth, mirrored=True)

        missed += (1.0 - together.recovered) * len(truth)
        saved.append(alone.length_lost_mm - together.length_lost_mm)
        behind.append(alone.score - together.score)
        assert together.width_lost_mm < alone.width_lost_mm
    assert missed <= MAY_MISS + 1e-9
    assert np.mean(saved) > 0.0
    assert max(behind) < AS_GOOD


@pytest.mark.parametrize("mirrored", [True, False])
def test_neighbours_of_a_flitch_meet_as_well_on_a_longer_face(mirrored):
    saved, behind = [], []
    for seed, species in zip((1912, 3188, 5085), SPECIES, strict=True):
        alone, together = both_ways(drawn_run(seed, species, mirrored=mirrored), mirrored=mirrored)

        saved.append(alone.length_lost_mm - together.length_lost_mm)
        behind.append(alone.score - together.score)
    assert np.mean(saved) > 5.0
    assert max(behind) < AS_GOOD


@pytest.mark.parametrize("mirrored", [True, False])
def test_every_choice_keeps_within_what_may_be_lost(mirrored):
    limits = JointLimits(least_cut_mm=4.0, most_loss_mm=20.0, most_angle_deg=0.5, most_slip_mm=6.0)
    rng = np.random.default_rng(secrets.randbelow(2**32))
    left, right, _truth = plant(bent_grain(rng, length_mm=800.0), rng)

    choices = joint_choices(left, right, px_per_mm=PX_PER_MM, mirrored=mirrored, limits=limits)

    near = 0.05
    for joint in choices:
        for sign in (-1, 1):
            lost = [
                depth + sign * 400.0 * math.tan(math.radians(angle))
                for depth, angle in (
                    (joint.left_mm, joint.left_deg),
                    (joint.right_mm, joint.right_deg),
                )
            ]
            assert min(lost) >= 4.0 - near
            assert sum(lost) <= 20.0 + near
        assert abs(joint.slip_mm) <= 6.0 + near
        assert max(abs(joint.left_deg), abs(joint.right_deg)) <= 0.5 + near
    assert choices[-1].is_straight
    assert choices[-1].loss_mm == 8.0
    assert len({joint.slip_mm for joint in choices}) >= 6


def test_angles_and_slips_are_what_a_bench_sets_out():
    rng = np.random.default_rng(secrets.randbelow(2**32))
    left, right, _truth = plant(bent_grain(rng, length_mm=800.0), rng)

    for joint in joint_choices(left, right, px_per_mm=PX_PER_MM, mirrored=True):
        for angle in (joint.left_deg, joint.right_deg):
            assert angle == pytest.approx(round(angle, 2), abs=1e-9)
        assert joint.slip_mm == pytest.approx(round(joint.slip_mm, 1), abs=1e-9)


def test_leaves_that_lie_alike_are_cut_straight_and_as_little_as_may_be():
    rng = np.random.default_rng(secrets.randbelow(2**32))
    wood = bent_grain(rng, length_mm=800.0)
    leaves = [noisy(wood[:, ::-1] if at % 2 else wood, rng) for at in range(6)]

    _alone, together = both_ways(leaves, mirrored=True)

    assert together.set_out == 0.0
    assert together.length_lost_mm == pytest.approx(0.0, abs=1e-6)
    assert together.width_lost_mm == pytest.approx(5 * 6.0, abs=0.5)
    assert together.score > 0.95


def test_leaves_too_small_are_refused():
    wood = np.ones((50, 200))

    with pytest.raises(MatchNotPossible):
        joint_choices(wood, wood, px_per_mm=1.0, mirrored=True)
