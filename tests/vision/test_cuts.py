"""Cuts of a piece: which side to keep, what stands out, where it lies on the leaf."""

import math

import numpy as np
import pytest

from vision.cuts import CutUse, KeepSide, cut_pieces, overhang_words
from vision.match_layout import Allowances, FaceWish, LeafExtent, Match, lay_out
from vision.piece import area_mm2

SPARE = Allowances(3.0, 15.0, 30.0)
ROOMY = [LeafExtent(f"{number:02}", 250.0, 2000.0, (60.0, 10.0, 20.0)) for number in range(1, 13)]
PANELS = ((600.0, 1800.0), (600.0, 1800.0))


def pieces_of(match: Match, wish: FaceWish | None = None, leaves: list[LeafExtent] = ROOMY):
    return cut_pieces(lay_out(leaves, match, wish=wish).placements, leaves, allowances=SPARE)


@pytest.mark.parametrize("match", list(Match))
def test_the_piece_lies_on_the_right_of_every_cut(match: Match) -> None:
    wish = FaceWish(panels=PANELS if match in (Match.SEQUENCE, Match.BLUEPRINT) else ())
    for piece in pieces_of(match, wish):
        middle = np.mean(piece.outline_mm, axis=0)
        assert area_mm2(piece.outline_mm) > 0
        for cut in piece.cuts:
            (x0, y0), (x1, y1) = cut.start_mm, cut.end_mm
            # with y down, the right of an arrow is where the cross product is positive
            assert (x1 - x0) * (middle[1] - y0) - (y1 - y0) * (middle[0] - x0) > 0
            assert cut.keep is KeepSide.RIGHT


def test_a_wedge_has_two_square_cuts_and_a_rim_that_stands_out() -> None:
    disc = FaceWish(width_mm=700.0, pieces=12)
    for piece in pieces_of(Match.SUNBURST, disc):
        rims = [cut for cut in piece.cuts if cut.use is CutUse.RIM]
        assert [cut.use for cut in piece.cuts].count(CutUse.JOINT) == 2
        assert [cut.overhang_mm for cut in rims] == [30.0]
        # the rim cut is a tangent 30 mm further out, so longer by 2 x 30 x tan(15 degrees)
        wanted = 700 * math.tan(math.radians(15)) + 60 * math.tan(math.radians(15))
        assert rims[0].length_mm == pytest.approx(wanted, abs=0.01)


def test_only_the_outer_leaves_of_a_balanced_face_stand_out_at_the_sides() -> None:
    pieces = pieces_of(Match.CENTRE_BALANCE, FaceWish(width_mm=1200.0, length_mm=1800.0))

    sides = [
        [cut.overhang_mm for cut in piece.cuts if cut.start_mm[0] == cut.end_mm[0]]
        for piece in pieces
    ]
    assert [sorted(each) for each in sides] == [[0, 15], [0, 0], [0, 0], [0, 0], [0, 0], [0, 15]]


def test_every_end_of_the_grain_at_the_rim_stands_out_further_than_the_sides() -> None:
    (piece, *_) = pieces_of(Match.BALANCE, FaceWish(width_mm=1200.0, length_mm=1800.0))

    ends = [cut.overhang_mm for cut in piece.cuts if cut.start_mm[1] == cut.end_mm[1]]
    assert ends == [30.0, 30.0]


def test_no_cut_leaves_the_leaf_and_what_lacks_is_said() -> None:
    wish = FaceWish(width_mm=732.0, length_mm=1980.0)
    layout = lay_out(ROOMY, Match.BALANCE, wish=wish)

    pieces = cut_pieces(layout.placements, ROOMY, allowances=SPARE)

    corners = np.array([corner for piece in pieces for corner in piece.outline_mm])
    assert corners.min() >= -0.05
    assert corners[:, 0].max() <= 250.05
    assert corners[:, 1].max() <= 2000.05
    assert "leaf 01 (20 mm)" in overhang_words(pieces)
    assert overhang_words(pieces) in layout.notes


def test_a_whole_leaf_is_cut_along_its_edges_and_nowhere_else() -> None:
    layout = lay_out(ROOMY[:2], Match.BOOK)

    (left, _) = cut_pieces(layout.placements, ROOMY, allowances=Allowances(0.0, 0.0, 0.0))

    assert sorted(left.outline_mm) == [(0.0, 0.0), (0.0, 2000.0), (250.0, 0.0), (250.0, 2000.0)]
    assert left.lacking_mm == 0.0
