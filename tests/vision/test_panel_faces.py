"""Faces by arithmetic: how many pieces, how wide, how laid."""

import pytest

from vision.errors import MatchNotPossible
from vision.match_layout import Match
from vision.panel_faces import columns_of, equal_pieces, joined_sides, running_pieces, slots_of
from vision.panel_job import Face, veneer_by_rule_m2
from vision.shot import Laid


@pytest.mark.parametrize(
    ("face", "columns", "width_mm"),
    [(Face.BALANCE, 7, 171.43), (Face.CENTRE_BALANCE, 8, 150.0), (Face.SLIP_CENTRE_BOOK, 8, 150.0)],
)
def test_1200_mm_from_180_mm_leaves_in_equal_pieces(face, columns, width_mm):
    assert equal_pieces(face, 1200.0, 180.0) == (columns, pytest.approx(width_mm, abs=0.005))


def test_1200_mm_from_180_mm_leaves_running_is_six_and_a_strip_of_120():
    assert running_pieces(1200.0, 180.0) == (6, pytest.approx(120.0))


def test_a_running_face_that_comes_out_even_has_no_strip():
    assert running_pieces(1080.0, 180.0) == (6, 0.0)


def test_the_rule_of_thumb_asks_for_three_times_the_face():
    assert veneer_by_rule_m2(10.0) == 30.0


def test_a_centre_balance_face_has_a_joint_on_its_centre_line():
    for leaves in range(2, 13, 2):
        columns = columns_of(Face.CENTRE_BALANCE, leaves)

        assert columns is not None
        assert columns % 2 == 0
    assert columns_of(Face.CENTRE_BALANCE, 7) is None


def test_slip_centre_book_is_slip_in_each_half_and_book_at_the_centre():
    laid = [slot.laid for slot in slots_of(Face.SLIP_CENTRE_BOOK, Match.BOOK, 6)]

    assert laid == [Laid.AS_LIES] * 3 + [Laid.FACE_OVER] * 3


@pytest.mark.parametrize("leaves", [1, 2, 3, 5])
def test_slip_centre_book_takes_an_even_number_from_four_up(leaves):
    with pytest.raises(MatchNotPossible):
        slots_of(Face.SLIP_CENTRE_BOOK, Match.SLIP, leaves)


def test_every_joint_of_a_four_way_face_is_mirrored():
    slots = slots_of(Face.FOUR_WAY, Match.BOOK, 8)
    laid = {(slot.column, slot.row): slot.laid for slot in slots}
    over = {Laid.AS_LIES: (0, 0), Laid.FACE_OVER: (0, 1), Laid.END_OVER: (1, 0)}
    over[Laid.END_TURNED] = (1, 1)

    for (column, row), own in laid.items():
        right, below = laid.get((column + 1, row)), laid.get((column, row + 1))
        if right is not None:
            assert over[right][1] != over[own][1]
            assert over[right][0] == over[own][0]
        if below is not None:
            assert over[below][0] != over[own][0]
            assert over[below][1] == over[own][1]


def test_the_joint_edges_of_a_booked_pair_are_the_same_edge_of_both_leaves():
    left, right = slots_of(Face.BALANCE, Match.BOOK, 2)

    assert joined_sides(left, columns=2, rows=1) == (False, False, True, False)
    assert joined_sides(right, columns=2, rows=1) == (False, False, True, False)
