import pytest

from tests.vision.made_scenes import WOODS, MadeLeaf, Scene
from vision.board import find_board
from vision.flatten import straighten
from vision.outline import find_leaves


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
