import numpy as np
import pytest

from tests.outlines import overlap
from tests.vision.made_scenes import BOARDS, WOODS, MadeLeaf, Scene
from vision.board import find_board
from vision.errors import BoardNotFound, LeafNotFound
from vision.outline import choose_leaves, find_leaves


@pytest.mark.parametrize("board", BOARDS)
@pytest.mark.parametrize("wood", WOODS)
def test_the_outline_of_every_wood_is_found_on_every_board(wood, board):
    scene = Scene((MadeLeaf(WOODS[wood]),), board=(BOARDS[board],) * 3, turned_deg=1.2)

    (found,) = find_leaves(find_board(scene.paint()))

    assert overlap(found.points, scene.outlines[0]) > 0.985
    assert not found.touches_frame


def test_a_coloured_board_is_a_board_too():
    scene = Scene((MadeLeaf(WOODS["oak"]),), board=(0.10, 0.18, 0.10))

    (found,) = find_leaves(find_board(scene.paint()))

    assert overlap(found.points, scene.outlines[0]) > 0.98


def test_a_leaf_of_the_boards_own_hue_is_found_by_its_lightness():
    scene = Scene((MadeLeaf(WOODS["maple"]),), board=(0.30, 0.24, 0.166))

    (found,) = find_leaves(find_board(scene.paint()))

    assert overlap(found.points, scene.outlines[0]) > 0.98


def test_a_sapwood_edge_near_the_boards_lightness_belongs_to_the_leaf():
    scene = Scene((MadeLeaf((0.27, 0.20, 0.12)),), board=(0.21, 0.21, 0.21), strip=False)

    (found,) = find_leaves(find_board(scene.paint()))

    assert overlap(found.points, scene.outlines[0]) > 0.985


def test_strip_and_shadow_are_not_leaf():
    scene = Scene((MadeLeaf(WOODS["walnut"]),), strip=True)
    picture = scene.paint().astype(np.float32)
    corners = scene.outlines[0]
    right = int(corners[:, 0].max()) + 1
    picture[110:790, right : right + 6] *= 0.75

    (found,) = find_leaves(find_board(picture.astype(np.uint8)))

    assert overlap(found.points, corners) > 0.98


@pytest.mark.parametrize("strip", [False, True])
def test_a_bare_board_has_no_leaf(strip):
    picture = Scene((), strip=strip).paint()

    with pytest.raises(LeafNotFound, match=r"No leaf was found.*Lay one leaf"):
        find_leaves(find_board(picture))


def test_two_leaves_apart_are_two_and_refused_unless_a_pair_was_promised():
    scene = Scene((MadeLeaf(WOODS["oak"], 1), MadeLeaf(WOODS["oak"], 2)), gap_mm=60, strip=False)

    found = find_leaves(find_board(scene.paint()))

    assert len(choose_leaves(found, pair=True)) == 2
    with pytest.raises(LeafNotFound, match="2 leaves lie in the picture, one needed"):
        choose_leaves(found, pair=False)


@pytest.mark.parametrize("shift", [(0, -200), (0, 200), (-240, 0)])
def test_a_leaf_cut_by_the_frame_is_refused(shift):
    scene = Scene((MadeLeaf(WOODS["cherry"]),), shifted_px=shift, strip=False)

    found = find_leaves(find_board(scene.paint()))

    with pytest.raises(LeafNotFound, match="edge of the picture cuts the leaf"):
        choose_leaves(found, pair=False)


def test_a_picture_without_a_plain_board_is_refused():
    rng = np.random.default_rng(1)
    picture = rng.integers(0, 255, (40, 30, 3), dtype=np.uint8).repeat(20, 0).repeat(20, 1)

    with pytest.raises(BoardNotFound, match="plain board"):
        find_board(np.ascontiguousarray(picture))
