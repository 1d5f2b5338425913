"""The joint of opened pairs drawn in sight: one leaf, and its neighbour turned over beside it."""

import cv2
import numpy as np
import pytest

from vision.leaf_image import LeafImage
from vision.opened_pair import Joint, find_joint, split_outline, split_pair

ROWS, COLUMNS = 720, 300
"""Of a drawn pair; at 1.6 mm a pixel, two leaves of 240 mm x 1150 mm."""
WOOD = np.array([0.40, 0.30, 0.19], np.float32)


def smooth_noise(rng, sigma_x, sigma_y):
    noise = rng.standard_normal((ROWS, COLUMNS)).astype(np.float32)
    noise = cv2.GaussianBlur(noise, (0, 0), sigmaX=sigma_x, sigmaY=sigma_y)
    return noise / noise.std()


def draw_pair(*, seed=0, joint=150.0, slope=0.0, figure="grain", right_gain=1.0, alike=0.7):
    """Return a pair whose joint runs ``slope`` columns to the right from top to bottom.

    The neighbour shares a part ``alike`` of the grain. Stripes reverse in lightness across the
    joint: "fiddleback" across the leaf, "ribbon" along it.
    """
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(np.float32)
    off = x - (joint + slope * (y / (ROWS - 1) - 0.5))
    from_joint, is_right = np.abs(off), off > 0
    shared, own = smooth_noise(rng, 1.5, 40), smooth_noise(rng, 1.5, 40)
    tint = smooth_noise(rng, 4, 60)
    lines = [cv2.remap(field, from_joint, y, cv2.INTER_LINEAR) for field in (shared, own, tint)]
    grain = np.where(is_right, alike * lines[0] + np.sqrt(1 - alike**2) * lines[1], lines[0])
    waves = {
        "grain": np.zeros_like(x),
        "fiddleback": np.sin(y / 3.5 + smooth_noise(rng, 40, 20)),
        "ribbon": np.sin(from_joint / 5 + smooth_noise(rng, 8, 60)),
    }[figure]
    log_light = 0.06 * grain + 0.15 * waves * np.where(is_right, -1, 1)
    log_light = log_light[..., None] + 0.02 * lines[2][..., None] * np.array([1, 0, -1])
    light = WOOD * np.exp(log_light) * np.where(is_right, right_gain, 1.0)[..., None]
    light = light * (1 + 0.01 * rng.standard_normal(light.shape))
    return LeafImage(light.astype(np.float32), np.ones((ROWS, COLUMNS), bool), None)


def furthest_off(found, *, joint, slope=0.0):
    ends = (found.top_px - (joint - slope / 2), found.bottom_px - (joint + slope / 2))
    return max(abs(end) for end in ends)


@pytest.mark.parametrize("figure", ["grain", "fiddleback", "ribbon"])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_joint_is_found_though_stripes_reverse_across_it(figure, seed):
    pair = draw_pair(seed=seed, joint=152.5, figure=figure)

    found = find_joint(pair)

    assert furthest_off(found, joint=152.5) < 1.5
    assert found.is_sure


@pytest.mark.parametrize("right_gain", [0.7, 1.4])
def test_the_joint_is_found_in_unequal_light(right_gain):
    pair = draw_pair(seed=3, joint=147.0, figure="fiddleback", right_gain=right_gain)

    found = find_joint(pair)

    assert furthest_off(found, joint=147.0) < 1.5
    assert found.is_sure


@pytest.mark.parametrize("slope", [-3.0, 3.0])
def test_a_joint_that_runs_aslant_is_followed(slope):
    pair = draw_pair(seed=4, joint=150.0, slope=slope)

    found = find_joint(pair)

    assert furthest_off(found, joint=150.0, slope=slope) < 1.5


def test_leaves_of_unlike_figure_still_part_where_one_ends():
    pair = draw_pair(seed=5, joint=151.0, alike=0.0, figure="fiddleback")

    assert furthest_off(find_joint(pair), joint=151.0) < 2.0


def test_a_slit_of_board_shows_the_joint():
    pair = draw_pair(seed=6, joint=148.0, alike=0.0)
    light = pair.light.copy()
    light[:, 148] *= 0.6

    found = find_joint(LeafImage(light, pair.on_leaf.copy(), None))

    assert furthest_off(found, joint=148.0) < 1.5


def test_a_torn_edge_does_not_carry_the_joint_away():
    pair = draw_pair(seed=7, joint=150.0)
    torn = pair.on_leaf.copy()
    torn[300:420, :25] = False

    assert furthest_off(find_joint(LeafImage(pair.light.copy(), torn, None)), joint=150.0) < 1.5


def test_where_nothing_shows_the_joint_it_is_put_in_the_middle_and_called_uncertain():
    rng = np.random.default_rng(8)
    plain = WOOD * (1 + 0.01 * rng.standard_normal((ROWS, COLUMNS, 3)))
    pair = LeafImage(plain.astype(np.float32), np.ones((ROWS, COLUMNS), bool), None)

    found = find_joint(pair)

    assert not found.is_sure
    assert furthest_off(found, joint=149.5) < 0.03 * COLUMNS


def test_a_single_leaf_has_no_sure_joint():
    rng = np.random.default_rng(9)
    tone = 0.06 * smooth_noise(rng, 1.5, 40)
    light = WOOD * np.exp(tone)[..., None]
    pair = LeafImage(light.astype(np.float32), np.ones((ROWS, COLUMNS), bool), None)

    assert not find_joint(pair).is_sure


def test_each_leaf_keeps_its_side_of_the_joint():
    pair = draw_pair(joint=140.0)

    left, right = split_pair(pair, Joint(140.0, 140.0, 9.0))

    assert left.on_leaf.sum() == ROWS * 139
    assert right.on_leaf.sum() == ROWS * (COLUMNS - 142)


def test_an_outline_is_cut_along_a_joint_that_runs_aslant():
    outline = np.array([[0, 0], [100, 0], [100, 200], [0, 200]], float)

    left, right = split_outline(outline, Joint(40.0, 60.0, 9.0), rows=201)

    areas = [cv2.contourArea(part.astype(np.float32)) for part in (left, right)]
    assert areas == pytest.approx([50 * 200, 50 * 200])
    assert left[:, 0].max() == pytest.approx(60)
    assert right[:, 0].min() == pytest.approx(40)
