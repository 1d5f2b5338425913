import numpy as np
import pytest

from tests.accuracy.outlines import judge_kinds


@pytest.fixture(scope="module")
def judged():
    return list(judge_kinds(20, first_seed=4100))


def test_leaves_of_every_kind_are_cut_out(judged):
    values = [one.overlap for one in judged]

    assert np.median(values) >= 0.99
    assert np.percentile(values, 5) >= 0.96


def test_knot_holes_are_measured(judged):
    holed = [one for one in judged if one.kind == "holes"]

    found, true = (sum(getattr(one, name) for one in holed) for name in NAMES)

    assert found == pytest.approx(true, rel=0.2)


def test_leaves_without_openings_have_none_to_speak_of(judged):
    whole = [one for one in judged if one.true_open_px == 0]

    leaf_px = [one.plan.length_mm * one.plan.width_mm * 0.8 for one in whole]
    assert max(one.found_open_px / px for one, px in zip(whole, leaf_px, strict=True)) < 0.004


NAMES = ("found_open_px", "true_open_px")
