"""Where the leaves of a match go."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.drawn_seats import wedge_angle_deg
from vision.errors import MatchNotPossible
from vision.match_layout import LAYINGS, LeafExtent, Match, lay_out
from vision.shot import Laid

RUN = [
    LeafExtent("01", 240.0, 2000.0),
    LeafExtent("02", 238.5, 1995.0),
    LeafExtent("03", 239.0, 2004.0),
    LeafExtent("04", 237.5, 1990.0),
]
extents = st.lists(
    st.builds(LeafExtent, st.just("x"), st.floats(1, 600), st.floats(1, 5000)),
    min_size=1,
    max_size=40,
)


def test_book_turns_every_other_leaf_over_its_long_edge() -> None:
    layout = lay_out(RUN, Match.BOOK)

    assert [place.laid for place in layout.placements] == [
        Laid.AS_LIES,
        Laid.FACE_OVER,
        Laid.AS_LIES,
        Laid.FACE_OVER,
    ]


def test_slip_leaves_every_leaf_as_it_lies() -> None:
    layout = lay_out(RUN, Match.SLIP)

    assert {place.laid for place in layout.placements} == {Laid.AS_LIES}


def test_each_leaf_starts_where_its_neighbour_ends() -> None:
    layout = lay_out(RUN, Match.BOOK)

    assert [place.x_mm for place in layout.placements] == [0.0, 240.0, 478.5, 717.5]
    assert layout.width_mm == 955.0


def test_the_top_ends_are_in_line_and_the_longest_leaf_sets_the_length() -> None:
    layout = lay_out(RUN, Match.SLIP)

    assert {place.y_mm for place in layout.placements} == {0.0}
    assert layout.length_mm == 2004.0


def test_joints_name_the_pair_and_reach_as_far_as_the_shorter_leaf() -> None:
    layout = lay_out(RUN, Match.BOOK)

    told = [(joint.left, joint.right, joint.x_mm, joint.length_mm) for joint in layout.joints]
    assert told == [
        ("01", "02", 240.0, 1995.0),
        ("02", "03", 478.5, 1995.0),
        ("03", "04", 717.5, 1990.0),
    ]
    assert (layout.joints[1].left_laid, layout.joints[1].right_laid) == (
        Laid.FACE_OVER,
        Laid.AS_LIES,
    )


def test_a_single_leaf_has_no_joint() -> None:
    layout = lay_out(RUN[:1], Match.BOOK)

    assert layout.joints == ()
    assert layout.width_mm == 240.0


@given(extents, st.sampled_from(list(LAYINGS)))
def test_leaves_never_overlap_nor_leave_a_gap(run: list[LeafExtent], match: Match) -> None:
    layout = lay_out(run, match)

    ends = [place.x_mm + place.width_mm for place in layout.placements]
    assert [place.x_mm for place in layout.placements[1:]] == pytest.approx(ends[:-1])
    assert layout.width_mm == pytest.approx(ends[-1])
    assert all(place.length_mm <= layout.length_mm for place in layout.placements)


def test_without_a_scale_the_layout_says_that_it_counts_pixels() -> None:
    assert lay_out(RUN, Match.BOOK, unit="px").unit == "px"


def test_no_leaf_is_refused_in_words() -> None:
    with pytest.raises(MatchNotPossible, match="at least one"):
        lay_out([], Match.BOOK)


def test_a_leaf_without_width_is_refused_by_name() -> None:
    with pytest.raises(MatchNotPossible, match="Leaf 07"):
        lay_out([LeafExtent("07", 0.0, 2000.0)], Match.SLIP)


@pytest.mark.parametrize(("pieces", "angle"), [(6, 60), (8, 45), (10, 36), (12, 30), (16, 22.5)])
def test_the_wedges_of_a_sunburst_share_the_circle(pieces: int, angle: float) -> None:
    assert wedge_angle_deg(pieces) == angle


def test_fewer_than_six_leaves_make_no_sunburst() -> None:
    with pytest.raises(MatchNotPossible, match="at least 6"):
        wedge_angle_deg(5)
