import numpy as np
import pytest

from tests.vision.made_scenes import WOODS, MadeLeaf, Scene
from vision.board import find_board
from vision.flatten import flatten, straighten
from vision.outline import Outline, find_leaves


@pytest.mark.parametrize("turned_deg", [0.0, 0.5, 2.0])
@pytest.mark.parametrize("width_mm", [40.0, 60.0, 240.0])
def test_length_and_width_are_right_however_narrow_the_leaf(width_mm, turned_deg):
    scene = Scene(
        (MadeLeaf(WOODS["oak"]),),
        leaf_mm=(width_mm, 1500.0),
        turned_deg=turned_deg,
        strip=False,
        noise=0.03,
    )

    (leaf,) = find_leaves(find_board(scene.paint()))

    flat = straighten(leaf)
    assert flat.length_px == pytest.approx(750, abs=2.5)
    assert flat.width_px == pytest.approx(width_mm / 2, abs=1.0)


def test_bare_board_is_as_light_as_the_board_to_the_last_row_whatever_the_length():
    """Rows are lit in strips of 128, and four at a time within them: no remainder is lost."""
    photo = Scene((MadeLeaf(WOODS["oak"]),), leaf_mm=(60.0, 300.0), strip=False, noise=0.0).paint()
    board = find_board(photo)
    for long in range(250, 263):
        corners = np.array([[20.0, 20.0], [70.0, 20.0], [70.0, 20.0 + long], [20.0, 20.0 + long]])
        on_board = straighten(Outline(corners, 50.0 * long, touches_frame=False))

        flat = flatten(photo, board.field, on_board, board_rgb=(0.3, 0.2, 0.1), px_per_mm=None)

        rows = flat.light[:, 10:-10].mean(axis=1)  # of levels up to 3 % apart
        assert rows == pytest.approx(np.tile([0.3, 0.2, 0.1], (len(rows), 1)), rel=0.08)
