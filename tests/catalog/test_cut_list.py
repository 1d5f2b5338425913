"""The cut list as it is printed."""

import csv
import io

import pytest

from catalog.cut_list import cut_list_csv
from vision.cuts import cut_pieces
from vision.joint_cut import JointCut
from vision.match_layout import Allowances, LeafExtent, Match, lay_out

RUN = [LeafExtent(f"{at:02}", 240.0, 2000.0) for at in (1, 2)]


@pytest.mark.parametrize(
    ("turn", "printed"), [(0.0, "0.000"), (0.0006, "0.000"), (-0.0006, "0.000"), (0.5, "0.250")]
)
def test_a_turn_of_nothing_at_the_digits_printed_bears_no_sign(turn, printed):
    cut = JointCut(6.0, turn, 6.0, 0.0, 0.0, score=0.9, straight_score=0.5)
    layout = lay_out(RUN, Match.SLIP, trims=[cut])
    none = Allowances(0.0, 0.0, 0.0)

    text = cut_list_csv(layout, cut_pieces(layout.placements, RUN, allowances=none))

    rows = list(csv.DictReader(io.StringIO(text)))
    assert {row["turned_deg"].lstrip("-") for row in rows} == {printed}
    assert "-0.000" not in text
    assert "-0.00," not in text
