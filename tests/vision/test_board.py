from dataclasses import replace

import numpy as np
import pytest

from tests.vision.made_scenes import BOARDS, GREYS, WOODS, MadeLeaf, Scene
from vision.board import find_board, shrink
from vision.errors import BoardNotFound
from vision.grey_strip import read_strip


def light_error(scene: Scene, blank: Scene | None = None) -> float:
    """RMS error, as a fraction, of the board's light under the leaf, level left aside."""
    board = find_board(scene.paint(), blank=None if blank is None else blank.paint())
    x, y = np.meshgrid(np.arange(250.0, 350, 10), np.arange(120.0, 780, 10))
    found = board.field.at(x, y)[..., 1]
    true = scene.light()[y.astype(int), x.astype(int)]
    ratio = np.log(found / true)
    return float(np.sqrt(np.mean((ratio - ratio.mean()) ** 2)))


@pytest.mark.parametrize("board", BOARDS.values())
def test_the_light_under_the_leaf_is_known_to_half_a_hundredth(board):
    scene = Scene((MadeLeaf(WOODS["walnut"]),), board=(board,) * 3)

    assert light_error(scene) < 0.005


def test_a_blank_frame_brings_the_shape_of_the_light():
    scene = Scene((MadeLeaf(WOODS["oak"]),), exposure=0.9, seed=1)

    assert light_error(scene, Scene((), strip=False, seed=2)) < 0.005


@pytest.mark.parametrize("table", [(20, 20, 20), (150, 100, 60)])
@pytest.mark.parametrize("past", [np.s_[:, :50], np.s_[:, -50:], np.s_[-70:], np.s_[:70]])
def test_a_table_seen_past_one_side_of_the_board_does_not_bend_its_light(past, table):
    rgb = Scene((MadeLeaf(WOODS["oak"]),), strip=False).paint()
    x, y = np.meshgrid(np.arange(80.0, 520, 40), np.arange(100.0, 800, 50))
    alone = find_board(rgb).field.at(x, y)
    rgb[past] = table

    beside_table = find_board(rgb).field.at(x, y)

    assert np.abs(np.log(beside_table / alone)).max() < 0.02


def test_a_blank_frame_of_another_camera_is_refused():
    scene = Scene((MadeLeaf(WOODS["oak"]),))

    with pytest.raises(BoardNotFound, match="300 x 450 pixels"):
        find_board(scene.paint(), blank=Scene((), size_px=(300, 450)).paint())


@pytest.mark.parametrize("grey", [0.20, 0.36, 0.75])
def test_the_grey_strip_tells_what_the_board_reflects_even_where_a_step_vanishes_in_it(grey):
    scene = Scene((MadeLeaf(WOODS["cherry"]),), board=(grey, grey, grey * 0.95), exposure=0.8)

    found = read_strip(find_board(scene.paint()), GREYS)

    assert found is not None
    assert found.board_rgb == pytest.approx([grey, grey, grey * 0.95], rel=0.03)


@pytest.mark.parametrize(
    ("grey", "scene"),
    [
        pytest.param(0.88, Scene((MadeLeaf(WOODS["cherry"]),), exposure=0.8), id="end-step-unseen"),
        pytest.param(0.20, Scene((MadeLeaf(WOODS["cherry"]),), exposure=1.6), id="end-step-burnt"),
        pytest.param(0.20, Scene((MadeLeaf(WOODS["oak"]),), noise=0.08), id="coarse-board"),
        pytest.param(
            0.20, Scene((MadeLeaf(WOODS["maple"]),), shifted_px=(31.0, 0.0)), id="leaf-touches"
        ),
    ],
)
def test_the_strip_is_read_though_a_step_is_lost_the_board_coarse_or_the_leaf_touches(grey, scene):
    on_grey = replace(scene, board=(grey, grey, grey))

    found = read_strip(find_board(on_grey.paint()), GREYS)

    assert found is not None
    assert found.board_rgb == pytest.approx([grey] * 3, rel=0.04)


def test_a_camera_that_deepens_contrast_shows_in_the_strips_misfit():
    scene = Scene((MadeLeaf(WOODS["cherry"]),), exposure=0.8)
    rgb = scene.paint()
    deeper = np.rint(255 * (rgb / 255) ** 1.08).astype(np.uint8)

    as_it_is, deepened = (read_strip(find_board(one), GREYS) for one in (rgb, deeper))

    assert as_it_is is not None
    assert as_it_is.misfit < 0.02
    assert deepened is not None
    assert deepened.misfit > 0.05


def test_without_the_strip_nothing_is_taken_for_it():
    scene = Scene((MadeLeaf(WOODS["cherry"]),), strip=False)

    assert read_strip(find_board(scene.paint()), GREYS) is None


def test_a_strip_of_other_greys_is_not_taken_for_ours():
    scene = Scene((MadeLeaf(WOODS["cherry"]),))

    assert read_strip(find_board(scene.paint()), (0.9, 0.1, 0.9, 0.1, 0.9, 0.1)) is None


def test_a_large_picture_made_smaller_grows_neither_lighter_nor_darker():
    rng = np.random.default_rng(4)
    rgb = rng.integers(60, 190, (6000, 400, 3), dtype=np.uint8)

    small, step = shrink(rgb, 1500)

    means = rgb.reshape(1500, 4, 100, 4, 3).mean(axis=(1, 3))
    assert step == 4
    assert float((small - means).mean()) == pytest.approx(0.0, abs=0.01)
    assert float(np.abs(small - means).max()) <= 1.0
