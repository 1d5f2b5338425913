"""A drawn leaf of known slope lit anew: held against the generator's own reflectance."""

from dataclasses import replace

import numpy as np
import pytest

from sample_images.reflection import Lobe, reflectance_gain
from vision.colour_space import linear_to_srgb8
from vision.readings import LampAndEye
from vision.relight import RelitLeaf, Standing, code_figure, relight, standing_in_match
from vision.shot import Laid

ROWS, COLUMNS = 200, 24
WOOD = np.array([0.30, 0.22, 0.14])
LOBE = Lobe(ratio=0.7, width_deg=11.0)
EYE = 1.1
UNDER_A = Standing(0.5, -0.7, 0.0, 1.0, EYE)
UNDER_B = Standing(0.5, 0.7, 0.0, 1.0, EYE)


def slopes() -> np.ndarray:
    """Radians, positive toward the lower end: a mean slope, and stripes across the leaf."""
    stripes = np.sin(np.arange(ROWS) / 3.0)[:, None] * np.ones(COLUMNS)
    return np.deg2rad(2.0 + 4.0 * stripes)


def photographed(stood: Standing, slope: np.ndarray) -> np.ndarray:
    """What the generator says such a leaf sends: its y runs up the picture."""
    place = (np.arange(ROWS) + 0.5) / ROWS - stood.foot
    lamp = directions(stood.lamp_along - place, stood.lamp_height)
    eye = directions(-place, stood.eye_height)
    tilt = -np.rad2deg(slope).astype(np.float32)
    gain = reflectance_gain(tilt, 0.0, lamp[:, None], eye[:, None], LOBE)
    return linear_to_srgb8((WOOD * gain[..., None]).astype(np.float32))


def directions(along: np.ndarray, height: float) -> np.ndarray:
    toward = np.stack([np.zeros_like(along), -along, np.full_like(along, height)], axis=-1)
    return toward / np.linalg.norm(toward, axis=-1, keepdims=True)


def drawn_leaf() -> RelitLeaf:
    slope = slopes()
    cover = np.full(slope.shape, 255, np.uint8)
    return RelitLeaf(
        pictures=(photographed(UNDER_A, slope), photographed(UNDER_B, slope)),
        figure=code_figure(slope, np.zeros_like(slope), cover),
        seen=(UNDER_A, UNDER_B),
        strength=LOBE.ratio,
        width=float(np.deg2rad(LOBE.width_deg)),
    )


@pytest.mark.parametrize(("stood", "picture"), [(UNDER_A, 0), (UNDER_B, 1)])
def test_under_a_photographed_lamp_the_photograph_comes_back(stood, picture):
    leaf = drawn_leaf()

    shown = relight(leaf, stood)

    assert np.abs(shown.astype(int) - leaf.pictures[picture]).max() <= 1


@pytest.mark.parametrize("along", [-1.1, -0.4, 0.0, 0.2, 0.6])
@pytest.mark.parametrize("height", [0.7, 1.0, 1.6])
def test_a_lamp_anywhere_along_the_grain_shows_what_the_generator_draws(along, height):
    stood = Standing(0.5, along, 0.0, height, EYE)

    shown = relight(drawn_leaf(), stood)

    assert np.abs(shown.astype(int) - photographed(stood, slopes())).max() <= 3


def test_a_leaf_turned_over_is_lit_by_its_photographs_mirrored():
    leaf, turned = drawn_leaf(), -slopes()[:, ::-1]
    over = replace(
        leaf,
        pictures=(leaf.pictures[0][:, ::-1], leaf.pictures[1][:, ::-1]),
        figure=code_figure(turned, np.zeros_like(turned), leaf.figure[..., 2]),
        seen=(replace(UNDER_A, same_face=False), replace(UNDER_B, same_face=False)),
    )
    stood = Standing(0.5, -0.3, 0.0, 0.9, EYE)

    shown = relight(over, stood)

    assert np.abs(shown.astype(int) - photographed(stood, turned)).max() <= 3


def test_a_leaf_spun_end_for_end_under_one_lamp_tells_what_the_other_lamp_would():
    stood = LampAndEye(-0.7, 0.0, 1.0, EYE)

    spun = standing_in_match(stood, 0.5, Laid.END_TURNED)

    assert spun == UNDER_B


def test_a_doubtful_slope_moves_less_light():
    leaf = drawn_leaf()
    doubtful = replace(
        leaf,
        figure=code_figure(slopes(), np.full((ROWS, COLUMNS), 0.2), leaf.figure[..., 2]),
    )
    above = Standing(0.5, 0.0, 0.0, 1.0, EYE)

    swing, doubtful_swing = (
        relight(one, above)[ROWS // 2 - 20 : ROWS // 2 + 20].astype(float).mean(axis=(1, 2)).std()
        for one in (leaf, doubtful)
    )

    assert doubtful_swing < swing
