"""Ends drawn to the rims of compression's blocks, and ends that are not."""

import numpy as np
import pytest

from vision.block_rims import off_rims

ACROSS = np.array([0.0, 1.0])


def a_leaf(low, *, tilt_px=2.4, columns=330):
    """Return outline, normals and which points are the lower end, near row ``low``."""
    x = np.arange(40.0, 40.0 + columns, 2.7)
    end = np.column_stack([x, low + tilt_px * (x - x.mean()) / columns])
    side = np.arange(40.0, low, 2.7)
    left = np.column_stack([np.full(len(side), 40.0), side])
    right = np.column_stack([np.full(len(side), 40.0 + columns), side])
    points = np.vstack([end, left, right])
    normals = np.vstack(
        [np.tile(way, (len(part), 1)) for way, part in
         ((ACROSS, end), ((-1.0, 0.0), left), ((1.0, 0.0), right))]
    )  # fmt: skip
    return points, normals, np.arange(len(points)) < len(end)


def test_a_straight_end_at_a_rim_is_set_where_its_light_says_and_sides_stay():
    rng = np.random.default_rng()
    points, normals, is_end = a_leaf(3359.5)  # the rim between the rows 3359 and 3360
    half_way = np.where(is_end, np.clip(3359.5 - points[:, 1], -1, 1), 0.0)
    by_area = 0.35 + 0.4 * rng.standard_normal(len(points))  # true place, and a bias of all

    added = off_rims(points, normals, half_way, by_area)

    assert np.abs((half_way + added)[is_end]).max() < 0.4
    assert np.abs(half_way[is_end]).max() > 0.9
    assert added[~is_end] == pytest.approx(np.zeros(np.count_nonzero(~is_end)))


def test_an_end_far_from_any_rim_is_left_alone():
    points, normals, _ = a_leaf(3363.5)
    half_way = 0.1 * np.random.default_rng().standard_normal(len(points))

    assert not off_rims(points, normals, half_way, half_way + 0.5).any()


def test_a_torn_end_and_one_that_cannot_be_told_are_left_alone():
    rng = np.random.default_rng()
    points, normals, is_end = a_leaf(3359.5)
    torn = np.where(is_end, 2.0 * rng.standard_normal(len(points)), 0.0)

    assert not off_rims(points, normals, torn, torn).any()
    assert not off_rims(points, normals, np.full(len(points), np.nan), torn).any()


def test_an_end_that_crosses_a_rim_steeply_is_set_back_where_it_was_drawn_to_it():
    rng = np.random.default_rng()
    points, normals, is_end = a_leaf(3359.5, tilt_px=5.0)
    off = 3359.5 - points[:, 1]
    half_way = np.where(is_end & (np.abs(off) < 1.4), off, 0.0)
    by_area = 0.2 + 0.3 * rng.standard_normal(len(points))

    added = off_rims(points, normals, half_way, by_area)

    assert np.abs(half_way[is_end]).max() > 0.9
    near = is_end & (np.abs(off) < 1.4)
    assert np.abs((half_way + added)[near]).max() < 0.45
