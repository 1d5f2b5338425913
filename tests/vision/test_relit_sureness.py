"""What two photographs leave open, lamp place by lamp place."""

import numpy as np
import pytest

from tests.vision.test_slope_fit import STRENGTH, WIDTH, seen
from vision.light_profile import LUMINANCE
from vision.relight import Standing
from vision.relit_sureness import (
    CARRIED_SD,
    explain,
    face_sd,
    lightness_sd,
    meets_as_photographed,
)
from vision.shot import Laid, Lamp

UNDER_A, UNDER_B = (Standing(0.5, along, 0.0, 1.0, 1.1) for along in (-0.7, 0.7))


def told(level_sd: float = 0.004):
    views = [seen(Laid.AS_LIES, lamp, 2.0) for lamp in (Lamp.A, Lamp.B)]
    light = np.log(np.array([np.asarray(view.profile.slices) @ LUMINANCE for view in views]))
    return explain(light, (UNDER_A, UNDER_B), level_sd=level_sd)


def lamp(along: float, height: float = 1.0) -> Standing:
    return Standing(0.5, along, 0.0, height, 1.1)


def test_photographs_are_surest_of_their_own_lamps():
    under_a, middle, under_b = lightness_sd(told(), [UNDER_A, lamp(0.0), UNDER_B])

    assert under_a < middle > under_b
    assert max(under_a, under_b) < 0.3


def test_places_between_the_lamps_are_carried():
    between = lightness_sd(told(), [lamp(along) for along in np.linspace(-0.6, 0.6, 5)])

    assert between.max() < CARRIED_SD


def test_the_true_highlight_is_among_the_explanations():
    explained = told()

    strength = explained.weight @ np.log(explained.strength)
    width = explained.weight @ np.log(explained.width)

    assert strength == pytest.approx(np.log(STRENGTH), abs=0.35)
    assert width == pytest.approx(np.log(WIDTH), abs=0.2)


def test_worse_photographs_leave_more_open():
    places = [lamp(0.0), lamp(0.3)]

    assert (lightness_sd(told(0.05), places) > lightness_sd(told(0.004), places)).all()


def test_a_flat_lamp_is_beyond_the_photographs_and_a_steep_one_is_not():
    met = meets_as_photographed(told(), [lamp(0.0), lamp(0.7), lamp(1.2), lamp(0.9, 0.4)])

    assert met.tolist() == [True, True, False, False]


def test_an_unseen_face_adds_most_where_the_highlight_is():
    slope = np.full(20, np.deg2rad(2.0))
    near, far = face_sd(slope, STRENGTH, float(WIDTH), told(), [lamp(0.1), lamp(-3.0)])

    assert near > far > 0
