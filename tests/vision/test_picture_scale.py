"""Smaller pictures keep their light."""

import numpy as np
import pytest

from vision.colour_space import srgb_to_linear
from vision.picture_scale import scale_cover, scale_picture


def test_every_level_survives_the_way_to_linear_light_and_back() -> None:
    every_level = np.arange(256, dtype=np.uint8).reshape(256, 1)
    bands = np.dstack([every_level.repeat(4, axis=0).repeat(4, axis=1)] * 3)

    smaller = scale_picture(bands, rows=1024, columns=1)

    assert np.array_equal(smaller[:, 0, 0], every_level.repeat(4, axis=0)[:, 0])


@pytest.mark.parametrize("size", [(100, 40), (37, 23), (9, 7), (1, 1)])
def test_the_mean_light_of_coarse_wood_stays(size: tuple[int, int]) -> None:
    rgb = np.random.default_rng(2).choice([60, 190], (300, 120, 3), p=[0.3, 0.7]).astype(np.uint8)

    smaller = scale_picture(rgb, rows=size[0], columns=size[1])

    assert smaller.shape == (*size, 3)
    light = srgb_to_linear(smaller).mean(axis=(0, 1))
    assert light == pytest.approx(srgb_to_linear(rgb).mean(axis=(0, 1)), rel=0.02)


def test_lines_finer_than_a_pixel_leave_no_pattern() -> None:
    lines = np.zeros((700, 700, 3), np.uint8)
    lines[:, ::2] = 200

    smaller = scale_picture(lines, rows=96, columns=96)

    assert np.ptp(smaller.astype(int)) <= 30


def test_a_picture_of_the_right_size_is_left_alone() -> None:
    rgb = np.random.default_rng(2).integers(0, 256, (8, 9, 3), dtype=np.uint8)

    assert scale_picture(rgb, rows=8, columns=9) is rgb


def test_cover_is_the_share_of_the_pixel_that_is_leaf() -> None:
    mask = np.zeros((8, 8), bool)
    mask[:, :2] = True

    assert scale_cover(mask, rows=2, columns=2).tolist() == [[128, 0], [128, 0]]
