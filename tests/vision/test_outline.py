import cv2
import numpy as np
import pytest

from tests.outlines import overlap
from tests.vision.made_scenes import BOARDS, WOODS, MadeLeaf, Scene
from vision.board import find_board
from vision.colour_space import linear_to_srgb8, srgb_to_linear
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


def test_a_wooden_rule_on_the_bare_board_is_no_leaf():
    rule = Scene((MadeLeaf(WOODS["oak"]),), leaf_mm=(30.0, 1600.0), strip=False)

    with pytest.raises(LeafNotFound, match="No leaf was found"):
        find_leaves(find_board(rule.paint()))


def test_a_picture_without_a_plain_board_is_refused():
    rng = np.random.default_rng(1)
    picture = rng.integers(0, 255, (40, 30, 3), dtype=np.uint8).repeat(20, 0).repeat(20, 1)

    with pytest.raises(BoardNotFound, match="plain board"):
        find_board(np.ascontiguousarray(picture))


def test_sapwood_of_a_brown_boards_hue_belongs_to_the_leaf():
    brown = (0.26, 0.185, 0.115)
    scene = Scene((MadeLeaf(WOODS["mahogany"]),), board=brown, strip=False)
    picture = scene.paint()
    (x0, y0), _, (x1, y1), _ = scene.outlines[0].round().astype(int)
    pale = Scene((MadeLeaf(tuple(2.2 * channel for channel in brown)),), board=brown, strip=False)
    picture[:, x1 - 16 :] = pale.paint()[:, x1 - 16 :]

    (found,) = find_leaves(find_board(picture))

    assert overlap(found.points, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])) > 0.97


def test_board_burnt_by_a_near_warm_lamp_is_not_a_leaf():
    scene = Scene(
        (MadeLeaf(WOODS["walnut"]),),
        board=(0.86, 0.72, 0.5),
        exposure=1.4,
        strip=False,
        leaf_mm=(240.0, 1000.0),
    )
    rgb = scene.paint()
    assert (rgb[..., 0] == 255).mean() > 0.05

    (found,) = find_leaves(find_board(rgb))

    assert overlap(found.points, scene.outlines[0]) > 0.98


def test_a_strip_in_warm_light_is_not_a_leaf():
    scene = Scene((MadeLeaf(WOODS["maple"]),), board=(0.26, 0.185, 0.115), leaf_mm=(120, 1400))
    warm = scene.paint() * np.array([1.06, 1.0, 1.0])

    found = find_leaves(find_board(np.clip(warm, 0, 255).astype(np.uint8)))

    assert len(found) == 1


def test_a_patch_of_wood_nearly_of_the_boards_tone_belongs_to_the_leaf():
    brown = np.array([0.26, 0.185, 0.115])
    redder = np.array([0.05, 0.0, -0.05])
    dark, like_board = 0.6 * brown * np.exp(1.6 * redder), brown * np.exp(redder)
    leaf, patch = (
        Scene((MadeLeaf(tuple(wood)),), board=tuple(brown), strip=False)
        for wood in (dark, like_board)
    )
    picture = leaf.paint()
    x0 = int(leaf.outlines[0][0, 0])
    picture[300:500, x0 - 2 : x0 + 30] = patch.paint()[300:500, x0 - 2 : x0 + 30]

    (found,) = find_leaves(find_board(picture))

    assert overlap(found.points, leaf.outlines[0]) > 0.97


@pytest.mark.parametrize("turned_deg", [0.0, 1.5])
def test_two_leaves_a_few_millimetres_apart_are_both_kept(turned_deg):
    leaves = (MadeLeaf(WOODS["walnut"]), MadeLeaf(WOODS["walnut"], mirrored=True))
    scene = Scene(leaves, gap_mm=6.0, turned_deg=turned_deg, leaf_mm=(200.0, 1400.0))

    found = find_leaves(find_board(scene.paint()))

    assert len(choose_leaves(found, pair=True)) == 2
    assert [leaf.area_px for leaf in found] == pytest.approx([100 * 700] * 2, rel=0.02)


@pytest.mark.parametrize("past", [np.s_[:, :50], np.s_[-70:]])
def test_a_wooden_table_past_one_side_of_the_board_is_not_a_leaf_that_the_frame_cuts(past):
    rgb = Scene((MadeLeaf(WOODS["oak"]),)).paint()
    rgb[past] = (150, 100, 60)

    (leaf,) = choose_leaves(find_leaves(find_board(rgb)), pair=False)

    assert leaf.area_px == pytest.approx(120 * 700, rel=0.02)


@pytest.mark.parametrize(("wood", "board"), [("maple", "dark"), ("walnut", "light")])
def test_an_unsharp_edge_is_set_where_half_the_light_is_woods(wood, board):
    scene = Scene((MadeLeaf(WOODS[wood]),), board=(BOARDS[board],) * 3, strip=False)
    light = cv2.GaussianBlur(srgb_to_linear(scene.paint()), (0, 0), 1.5)

    (leaf,) = find_leaves(find_board(linear_to_srgb8(light)))

    width = leaf.area_px / 700
    assert width == pytest.approx(120, abs=0.8)
