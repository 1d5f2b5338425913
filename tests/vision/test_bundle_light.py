from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.vision.made_charts import s_curve, srgb_code
from tests.vision.made_scenes import GREYS, WOODS, MadeLeaf, Scene
from vision.board import find_board
from vision.bundle_light import judge_board, settle_light
from vision.readings import ColourClass
from vision.settings import VisionSettings
from vision.tone_curve import decode, decode_table

SETTINGS = VisionSettings(strip_reflectances=GREYS)
SCENE = Scene((MadeLeaf(WOODS["oak"]),), exposure=1.0, seed=1)


def bent(rgb, curve):
    """The same photograph by a camera with another contrast."""
    return cv2.LUT(rgb, np.rint(255 * curve(np.arange(256) / 255)).astype(np.uint8))


def steps_over(tone, curve):
    """By how much steps in light are enlarged, among what the strip of the scene spans."""
    light = np.geomspace(0.03, 0.18, 12)
    levels = np.repeat(255 * curve(srgb_code(light))[:, None], 3, axis=1)
    read = np.log(decode(levels, decode_table(tone)))[:, 1]
    return np.diff(read) / np.diff(np.log(light))


@pytest.mark.parametrize("grey", [0.75, 0.20, 0.04])
@pytest.mark.parametrize("strength", [3, 5])
def test_the_strip_is_known_and_steps_come_out_right_under_deepened_contrast(grey, strength):
    curve = s_curve(strength)
    scene = replace(SCENE, board=(grey, grey, grey * 0.95))

    found = judge_board(find_board(bent(scene.paint(), curve)), settings=SETTINGS)

    assert found.colour_class is ColourClass.GREY_STEPS
    assert found.board_rgb == pytest.approx((grey, grey, grey * 0.95), rel=0.02)
    before, after = (np.abs(steps_over(one, curve) - 1).max() for one in (None, found.tone))
    assert before > 0.08
    assert after < max(0.10, 0.4 * before)
    assert found.strip_misfit < 0.02


@pytest.mark.parametrize("wood", WOODS)
def test_a_camera_that_is_srgb_is_left_as_it_is(wood):
    scene = replace(SCENE, leaves=(MadeLeaf(WOODS[wood]),))

    found = judge_board(find_board(scene.paint()), settings=SETTINGS)

    assert found.tone is None
    assert found.board_rgb == pytest.approx((0.20, 0.20, 0.20), rel=0.02)


def test_a_soft_shadow_is_not_taken_for_a_strip():
    scene = replace(SCENE, strip=False)
    rgb = scene.paint().astype(np.float64)
    ramp = np.linspace(0.15, 1.0, 700)[:, None, None]
    rgb[100:800, 500:520] *= ramp

    found = judge_board(find_board(np.rint(rgb).astype(np.uint8)), settings=SETTINGS)

    assert found.colour_class is ColourClass.RELATIVE


def test_a_bundle_takes_the_middle_of_its_photographs_curves():
    curve = s_curve(4)
    judged = [
        judge_board(find_board(bent(replace(SCENE, seed=seed).paint(), curve)), settings=SETTINGS)
        for seed in range(3)
    ]

    settled = settle_light(judged)

    assert settled.tone is not None
    assert np.abs(steps_over(settled.tone, curve) - 1).max() < 0.10
