"""The light of a leaf along its length, less its ends and edges."""

import numpy as np
import pytest

from vision.errors import LeafNotFound
from vision.leaf_image import LeafImage
from vision.light_profile import HeldAgainst, measure_light
from vision.readings import SLICES, LampAndEye, LightReference

HELD = HeldAgainst(0.5, LampAndEye(-0.7, 0.0, 1.0, 1.0), LightReference.BOARD, 0.004, 0.01)
ROWS, COLUMNS = 1000, 120


def profile_of(light):
    image = LeafImage(light, np.ones(light.shape[:2], bool), px_per_mm=0.5)
    return np.array(measure_light(image, HELD).slices)


def test_slices_are_the_means_of_equal_parts_of_the_length():
    light = np.zeros((ROWS, COLUMNS, 3), np.float32)
    light[:] = np.repeat(np.arange(SLICES) + 1.0, ROWS // SLICES)[:, None, None] / 40

    slices = profile_of(light)

    assert slices == pytest.approx(np.repeat((np.arange(SLICES)[:, None] + 1) / 40, 3, axis=1))


def test_ends_that_lift_off_the_board_do_not_count():
    light = np.full((ROWS, COLUMNS, 3), 0.3, np.float32)
    light[:25] *= 1.05
    light[-25:] *= 0.95

    assert profile_of(light) == pytest.approx(np.full((SLICES, 3), 0.3), rel=1e-5)


def test_a_leaf_with_a_part_missing_is_refused():
    light = np.full((ROWS, COLUMNS, 3), 0.3, np.float32)
    on_leaf = np.ones((ROWS, COLUMNS), bool)
    on_leaf[400:460] = False

    with pytest.raises(LeafNotFound, match="no wood"):
        measure_light(LeafImage(light, on_leaf, px_per_mm=0.5), HELD)
