"""Slopes place by place, found again from two pictures that the generator's physics made."""

import secrets

import numpy as np
import pytest

from sample_images.reflection import Lobe, reflectance_gain
from tests.vision.test_relight import EYE, UNDER_A, UNDER_B, directions
from vision.local_slope import find_local_slope

ROWS, COLUMNS, SLICES = 400, 60, 20
LOBE = Lobe(ratio=0.7, width_deg=10.0)
MEAN_DEG = 1.5
MIDDLE = np.s_[160:240]


def log_ratio(slope_deg: np.ndarray, *, noise: float = 0.01) -> np.ndarray:
    chance = np.random.default_rng(secrets.randbelow(2**31))
    place = (np.arange(ROWS) + 0.5) / ROWS - 0.5
    eye = directions(-place, EYE)[:, None]
    light = []
    for stood in (UNDER_A, UNDER_B):
        lamp = directions(stood.lamp_along - place, stood.lamp_height)[:, None]
        gain = reflectance_gain(-slope_deg.astype(np.float32), 0.0, lamp, eye, LOBE)
        light.append(np.log(gain) + noise * chance.standard_normal(gain.shape))
    return np.asarray(light[0] - light[1], np.float32)


def fiddleback(swing_deg: float) -> np.ndarray:
    return MEAN_DEG + swing_deg * np.sqrt(2) * np.sin(np.arange(ROWS) / 1.5)[:, None] * np.ones(
        COLUMNS
    )


def ribbon(swing_deg: float) -> np.ndarray:
    return MEAN_DEG + swing_deg * np.sqrt(2) * np.sin(np.arange(COLUMNS) / 2.0) * np.ones((ROWS, 1))


def found_of(slope_deg: np.ndarray, swing_deg: float):
    """The fit to slices sees a highlight that the figure has made wider and lower."""
    own = np.deg2rad(LOBE.width_deg)
    wide = float(np.hypot(own, 2 * np.deg2rad(swing_deg)))
    return find_local_slope(
        log_ratio(slope_deg),
        (UNDER_A, UNDER_B),
        slope=np.full(SLICES, np.deg2rad(MEAN_DEG)),
        strength=LOBE.ratio * own / wide,
        width=wide,
    )


@pytest.mark.parametrize("figure", [fiddleback, ribbon])
def test_stripes_of_slope_are_found_where_the_lamps_stand_on_either_side(figure):
    true = figure(4.0)

    found = found_of(true, 4.0)

    off = np.rad2deg(found.slope[MIDDLE]) - true[MIDDLE]
    assert np.sqrt(np.mean(off**2)) < 1.2
    assert np.corrcoef(np.rad2deg(found.slope[MIDDLE]).ravel(), true[MIDDLE].ravel())[0, 1] > 0.95


@pytest.mark.parametrize("figure", [fiddleback, ribbon])
def test_the_width_that_figure_lends_the_highlight_is_taken_out(figure):
    found = found_of(figure(4.0), 4.0)

    assert np.rad2deg(found.width) == pytest.approx(LOBE.width_deg, rel=0.12)
    assert found.strength == pytest.approx(LOBE.ratio, rel=0.12)


def test_ribbon_is_followed_along_the_grain_into_places_that_tell_nothing_themselves():
    true = ribbon(4.0)
    quarter = np.s_[90:130]

    along, across = found_of(true, 4.0), found_of(fiddleback(4.0), 4.0)

    off = np.rad2deg(along.slope[quarter]) - true[quarter]
    assert np.sqrt(np.mean(off**2)) < 2.0
    assert along.spread[quarter].mean() < across.spread[quarter].mean()


def test_plain_wood_keeps_the_fitted_slope_and_highlight():
    true = np.full((ROWS, COLUMNS), MEAN_DEG)

    found = found_of(true, 0.0)

    assert np.abs(np.rad2deg(found.slope) - MEAN_DEG).max() < 0.6
    assert np.rad2deg(found.width) == pytest.approx(LOBE.width_deg, rel=0.02)
