"""The relit preview against photographs under lamps between the photographed ones, fresh seeds."""

import secrets

import numpy as np
import pytest

from tests.accuracy.relit import compare, plan_of

KINDS = (
    ("walnut", "plain", "none"),
    ("walnut", "quarter", "fiddleback"),
    ("oak", "quarter", "none"),
    ("cherry", "rift", "none"),
)


@pytest.fixture(scope="module")
def compared(tmp_path_factory):
    found = []
    for kind in KINDS:
        plan = plan_of(kind, secrets.randbelow(2**31))
        found += compare(plan, tmp_path_factory.mktemp("again"))
    return found


def test_it_equals_a_photograph_within_one_and_a_half(compared):
    pixels = [one.pixels for one in compared]

    assert len(compared) == 5 * len(KINDS)
    assert np.mean(pixels) <= 1.5, compared


def test_it_is_far_nearer_than_the_mean_of_the_two_photographs(compared):
    assert np.mean([one.pixels for one in compared]) < 0.6 * np.mean(
        [one.unmoved for one in compared]
    )


def test_it_says_how_sure_it_is(compared):
    within = [one.off <= 2 * one.sd for one in compared]

    assert np.mean(within) >= 0.9, compared
