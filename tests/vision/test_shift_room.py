"""How far leaves can be moved: exactly as far as the layout still takes."""

import pytest

from vision.errors import MatchNotPossible
from vision.match_layout import FaceWish, LeafExtent, Match, lay_out
from vision.seat import TURN_OF_LAID
from vision.shift_room import shift_room

RUN = [LeafExtent(f"{at:02}", 240.0, 2000.0 + 10 * at) for at in range(1, 9)]


@pytest.mark.parametrize("start", list(TURN_OF_LAID))
@pytest.mark.parametrize("match", [Match.CENTRE_BALANCE, Match.BOOK_AND_BUTT, Match.DIAMOND])
def test_a_leaf_goes_as_far_as_told_and_not_a_millimetre_further(match, start):
    size = (200.0, 300.0) if match is Match.DIAMOND else (400.0, 750.0)
    width = None if match is Match.BOOK_AND_BUTT else size[0]
    asked = {"width_mm": width, "length_mm": size[1], "start": start}
    leaf = lay_out(RUN, match, wish=FaceWish(**asked)).placements[1].leaf
    first = FaceWish(**asked, shifts_mm=((leaf, 7.0),))

    layout = lay_out(RUN, match, wish=first)
    up, down = shift_room(layout, RUN, first.shifts_mm)[leaf]

    assert up > 20
    assert down > 20
    for moved in (-up, down):
        lay_out(RUN, match, wish=FaceWish(**asked, shifts_mm=((leaf, moved),)))
    for moved in (-up - 1.0, down + 1.0):
        with pytest.raises(MatchNotPossible, match=f"Leaf {leaf} can be moved"):
            lay_out(RUN, match, wish=FaceWish(**asked, shifts_mm=((leaf, moved),)))
