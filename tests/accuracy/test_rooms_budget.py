"""Lights that were never photographed, foretold from photograph files through the command line.

Seeds are drawn afresh for this very run; `tests.accuracy.rooms` does the same for a hundred pairs.
"""

import numpy as np
import pytest

from tests.accuracy.rooms import EVIDENCE, judge_flitch, rms, room_plan


@pytest.fixture(scope="module")
def rows():
    evidence = {"lamp swap": EVIDENCE["lamp swap"]}
    return [
        row
        for index in (0, 3)
        for _key, row in judge_flitch(room_plan(index, leaves=4, evidence=evidence), evidence)
    ]


def told(rows):
    """The worst few, for the reader of a failure."""
    worst = sorted(rows, key=lambda row: -abs(row.error))[:5]
    return [(row.pair["light"], row.pair["left"], round(row.error, 2)) for row in worst]


def test_the_slope_s_part_of_a_step_in_a_room_is_foretold_to_half_a_unit(rows):
    assert len(rows) == 36
    assert rms([row.error for row in rows]) <= 0.5, told(rows)


def test_the_interval_holds_the_true_step_though_one_face_was_never_seen(rows):
    assert np.mean([row.is_held for row in rows]) >= 0.93, told(rows)


def test_the_lighter_leaf_is_named_rightly_wherever_it_matters(rows):
    large = [row for row in rows if abs(row.truth) > 1]

    assert all(row.pair["lightness_step"] * row.truth > 0 for row in large), told(large)


def test_the_flag_s_range_holds_the_true_flag(rows):
    assert np.mean([row.range_holds for row in rows]) >= 0.93
