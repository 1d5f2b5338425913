"""Loose leaves drawn afresh for this very run; `tests.accuracy.loose_leaf` judges many more.

Few leaves leave room for chance: the levels to reach (98 % of flitches, 90 % of places, 95 % of
foreign leaves refused) are shown by the script, these would catch what breaks them.
"""

import secrets

import numpy as np
import pytest

from tests.accuracy.loose_leaf import draw_all, judge


@pytest.fixture(scope="module")
def asked():
    judged = []
    for first in (4000, secrets.randbelow(2**30)):
        drawn = draw_all(first, flitches=12, foreign=2, leaves=11, asked=2)
        judged += [(first, one) for one in judge(drawn)]
    return judged


def test_a_loose_leaf_finds_its_flitch(asked):
    own = [(seed, one) for seed, one in asked if not one.is_foreign]

    assert len(own) == 2 * 12 * 2
    right = [one.told_in and one.right_flitch for _, one in own]
    assert np.mean(right) >= 0.95, own


def test_a_plain_leaf_is_placed_to_within_one_leaf_and_its_laying_told(asked):
    found = [
        (seed, one)
        for seed, one in asked
        if one.right_flitch and one.told_in and one.figure == "none"
    ]

    assert np.mean([one.off <= 1 for _, one in found]) >= 0.8, found
    assert np.mean([one.laid_right for _, one in found]) >= 0.9, found


def test_a_foreign_leaf_is_refused(asked):
    foreign = [(seed, one) for seed, one in asked if one.is_foreign]

    assert len(foreign) == 2 * 2 * 3
    assert np.mean([not one.told_in for _, one in foreign]) >= 0.8, foreign
