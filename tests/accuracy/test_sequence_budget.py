"""Stacks drawn afresh for this very run, put in order; `tests.accuracy.sequence` prints more.

A run draws few flitches, and what goes wrong in one goes wrong together; so levels are asked of
flitches pooled. Figures seen over 20 fresh flitches of 48 leaves under good photographs say what is
not asked. Kendall's tau of 0.99 in every flitch without figure: median 0.997, worst 0.955, where a
stretch lay reversed. 93 % true neighbours in crotch: 81 %. A median tau of 0.98 in flake: 0.948 and
0.996 in the only two. 95 % true neighbours without figure were reached (97 %), but single flitches
fall to 91 %. Of places called sure 98.5 % were right (271 of 275; all four mistakes in one flitch);
one run is asked 95 %. Missing leaves want more gaps than a run has: area 0.82 over 108.
"""

import secrets

import numpy as np
import pytest

from sample_images import FlitchPlan, shuffle_stack
from tests.accuracy.sequence import QUALITIES, draw_leaves, judge

KINDS = (
    ("none", "walnut", "plain"),
    ("flake", "oak", "quarter"),
    ("fiddleback", "walnut", "plain"),
    ("crotch", "mahogany", "plain"),
)


@pytest.fixture(scope="module", params=["fixed", "fresh"])
def stacks(request):
    first = 100 if request.param == "fixed" else secrets.randbelow(2**30)
    judged = []
    for seed, (figure, species, cut) in enumerate(KINDS, start=first):
        plan = FlitchPlan(seed=seed, species=species, cut=cut, figure=figure, leaves=48, shots=())
        stack = shuffle_stack(plan, missing=4)
        judged.append((seed, judge(figure, draw_leaves(plan, stack, QUALITIES["good"]), stack)))
    return judged


def test_neighbours_are_true_neighbours(stacks):
    joints = [one.joints for _, one in stacks if one.kind != "crotch"]

    assert np.concatenate(joints).mean() >= 0.90, seen_of(stacks)


def test_neighbours_in_fiddleback_are_true_neighbours(stacks):
    (joints,) = (one.joints for _, one in stacks if one.kind == "fiddleback")

    assert joints.mean() >= 0.80, seen_of(stacks)


def test_stacks_lie_in_the_order_of_the_log(stacks):
    assert np.median([one.tau for _, one in stacks]) >= 0.95, seen_of(stacks)


def test_every_leaf_lies_as_it_is_told(stacks):
    laid = np.concatenate([one.laid for _, one in stacks])
    moved = np.concatenate([one.moved for _, one in stacks])

    assert laid.mean() >= 0.98, seen_of(stacks)
    assert (~laid[~moved]).mean() <= 0.01, seen_of(stacks)


def test_places_called_sure_are_right(stacks):
    sure = np.concatenate([one.sure >= 0.98 for _, one in stacks])
    right = np.concatenate([one.placed & one.laid for _, one in stacks])

    assert sure.sum() >= 10
    assert right[sure].mean() >= 0.95, seen_of(stacks)


def seen_of(stacks):
    return [
        (seed, one.kind, round(one.tau, 3), round(float(one.joints.mean()), 3))
        for seed, one in stacks
    ]
