"""Turned pieces, foretold from photograph files through the intake, on fresh seeds.

Leaves of one flitch share how its faces differ, which no interval here can know, so whether steps
are held is asked of many small flitches. `tests.accuracy.slanted` does the same for more leaves.
"""

import numpy as np
import pytest

from tests.accuracy.rooms import EVIDENCE, rms, room_plan
from tests.accuracy.slanted import turned_rows

FLITCHES = 9


@pytest.fixture(scope="module")
def rows():
    evidence = {"all": EVIDENCE["lamp swap and side"]}
    return [
        (title, row)
        for index in range(FLITCHES)
        for (title, _way, turn), row in turned_rows(room_plan(index, leaves=2, evidence=evidence))
        if turn > 0
    ]


@pytest.mark.parametrize(("title", "most"), [("lamp swap", 0.8), ("lamp swap and side", 0.5)])
def test_the_step_of_turned_pieces_is_foretold(rows, title, most):
    found = [row for evidence, row in rows if evidence == title]

    assert len(found) == 40 * FLITCHES
    assert rms([row.error for row in found]) <= most
    assert np.mean([row.is_held for row in found]) >= 0.93
    assert np.mean([row.range_holds for row in found]) >= 0.93


def test_the_lighter_piece_is_named_rightly_wherever_it_matters(rows):
    large = [row for _, row in rows if abs(row.truth) > 1.5]

    assert len(large) > 100
    assert np.mean([row.truth * (row.truth + row.error) > 0 for row in large]) >= 0.98
