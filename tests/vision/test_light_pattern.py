"""The few numbers that stand for what varies within a slice."""

import cv2
import numpy as np
import pytest

from vision.light_pattern import (
    COLUMNS,
    PATTERNS,
    ROWS,
    as_it_lies,
    pattern_of,
    variance_of,
)
from vision.light_profile import LUMINANCE

FINE = 4
SHAPE = (ROWS * FINE, COLUMNS * FINE)


def stripes(rng, *, sd, across=False):
    """Return log light that swings along the rows, or across them, in stripes that come and go."""
    long, short = 4.0 * FINE, 0.8 * FINE
    noise = rng.normal(0, 1, SHAPE)
    wave = cv2.GaussianBlur(
        noise, (0, 0), sigmaX=short if across else long, sigmaY=long if across else short
    )
    return (wave - wave.mean()) * sd / wave.std()


def told(log_light, wood=None):
    light = np.repeat(0.2 * np.exp(log_light)[..., None], 3, axis=2).astype(np.float32)
    whole = np.ones(SHAPE, bool) if wood is None else wood
    return np.array(pattern_of(light, whole, LUMINANCE))


def test_squares_add_up_to_the_variance():
    rng = np.random.default_rng()

    found = [variance_of(told(stripes(rng, sd=0.1, across=bool(turn % 2)))) for turn in range(60)]

    assert np.mean(found) == pytest.approx(0.01, rel=0.25)
    assert np.std(found) < 0.004


def test_lines_that_both_photographs_show_cancel():
    rng = np.random.default_rng()
    lines, figure = stripes(rng, sd=0.3, across=True), stripes(rng, sd=0.02)

    apart = told(lines + figure) - told(lines - figure)

    assert variance_of(apart) == pytest.approx(4 * variance_of(told(figure)), rel=0.01)
    assert variance_of(apart) < 0.1 * variance_of(told(lines))


@pytest.mark.parametrize("rows", [False, True])
@pytest.mark.parametrize("columns", [False, True])
def test_a_leaf_that_lay_turned_is_told_as_it_lies(rows, columns):
    rng = np.random.default_rng()
    light = stripes(rng, sd=0.1) + stripes(rng, sd=0.1, across=True)
    lay = light[:: -1 if rows else 1, :: -1 if columns else 1]

    found = as_it_lies(told(lay), rows_turned=rows, columns_turned=columns)

    assert np.allclose(found, told(light), atol=2e-5)


def test_neither_exposure_nor_a_trend_along_the_leaf_counts():
    rng = np.random.default_rng()
    light = stripes(rng, sd=0.1)
    trend = np.broadcast_to(np.linspace(-0.2, 0.2, SHAPE[0])[:, None], SHAPE)

    assert np.allclose(told(light + 0.4), told(light), atol=2e-5)
    assert variance_of(told(light + trend) - told(light)) < 1e-4


def test_what_lies_beside_the_leaf_counts_for_nothing():
    rng = np.random.default_rng()
    wood = np.ones(SHAPE, bool)
    wood[:, : SHAPE[1] // 4] = False
    light = stripes(rng, sd=0.1)
    beside = np.where(wood, light, rng.normal(0, 1, SHAPE))

    assert np.allclose(told(beside, wood), told(light, wood), atol=2e-5)


def test_a_slice_that_is_mostly_board_tells_nothing():
    wood = np.zeros(SHAPE, bool)
    wood[:, : SHAPE[1] // 8] = True
    light = np.full((*SHAPE, 3), 0.2, np.float32)

    assert pattern_of(light, wood, LUMINANCE) == ()
    assert len(pattern_of(light, ~wood, LUMINANCE)) == PATTERNS


def test_small_pictures_tell_the_same_as_large_ones():
    rng = np.random.default_rng()
    light = stripes(rng, sd=0.1)
    small = light.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3))
    picture = np.repeat(0.2 * np.exp(small)[..., None], 3, axis=2).astype(np.float32)

    found = np.array(pattern_of(picture, np.ones(small.shape, bool), LUMINANCE))

    assert variance_of(found - told(light)) < 0.02 * variance_of(told(light))
