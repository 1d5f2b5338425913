"""The rosette as pieces: each shows the wood that the two mirrors showed there."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.cuts import CutUse, cut_pieces
from vision.layout import Allowances, LeafExtent
from vision.rosette_layout import rosette_layout
from vision.wedge import Wedge, rosette_to_leaf
from vision.wedge_follow import Followed

LEAF = LeafExtent("01", 300.0, 2000.0)
HERE = Followed(0.0, 0.0, 1.0)


@given(
    pieces=st.sampled_from([6, 8, 10, 12, 16]),
    turn=st.floats(-180, 180),
    booked=st.booleans(),
    starts=st.booleans(),
)
def test_every_piece_shows_the_wood_the_mirrors_showed(pieces, turn, booked, starts):
    wedge = Wedge(150.0, 900.0, turn, 120.0, pieces, is_booked=booked, starts_turned=starts)
    layout = rosette_layout(wedge, [LEAF], [HERE])

    for piece, place in enumerate(layout.placements):
        inside = np.mean(place.outline_mm, axis=0)
        places, found = rosette_to_leaf(wedge, inside - wedge.radius_mm)
        assert found == piece
        assert place.to_panel.back()(tuple(inside)) == pytest.approx(places)


def test_wedges_of_leaves_in_order_go_round_and_each_is_cut_where_its_figure_lies():
    wedge = Wedge(150.0, 900.0, 90.0, 120.0, 6)
    leaves = [LeafExtent(name, 300.0, 2000.0) for name in ("01", "02", "03")]
    moved = [HERE, Followed(25.0, -4.0, 0.9), Followed(-10.0, 2.0, 0.9)]

    layout = rosette_layout(wedge, leaves, moved)

    assert [place.leaf for place in layout.placements] == ["01", "02", "03", "01", "02", "03"]
    assert layout.placements[1].on_leaf_mm[0] == pytest.approx((146.0, 925.0))
    assert layout.placements[2].on_leaf_mm[0] == pytest.approx((152.0, 890.0))


def test_both_edges_from_the_tip_are_joints_and_the_rim_stands_out():
    wedge = Wedge(150.0, 900.0, 90.0, 120.0, 12)
    layout = rosette_layout(wedge, [LEAF], [HERE])

    pieces = cut_pieces(layout.placements, [LEAF], allowances=Allowances())

    assert {tuple(sorted(cut.use for cut in piece.cuts)) for piece in pieces} == {
        (CutUse.JOINT, CutUse.JOINT, CutUse.RIM)
    }
    assert {cut.overhang_mm > 0 for piece in pieces for cut in piece.cuts if cut.use == "rim"} == {
        True
    }
    assert len(layout.joints) == 12
