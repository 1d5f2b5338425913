"""A leaf of known slope, seen by a lamp and an eye of known place: the fit must find it again."""

import numpy as np
import pytest

from tests.vision.made_scenes import WOODS, MadeLeaf, Scene
from vision.board import find_board
from vision.leaf_light import LeafLight
from vision.optics import fibre_lobe, refract, transmit
from vision.readings import SLICES, LampAndEye, LightProfile, LightReference
from vision.shot import Laid, Lamp, Shot
from vision.shown_light import show_light
from vision.slope_fit import fit_slopes
from vision.station import find_station

STOOD = {
    Lamp.A: LampAndEye(lamp_along=-0.7, lamp_across=0.0, lamp_height=1.0, eye_height=1.1),
    Lamp.B: LampAndEye(lamp_along=0.7, lamp_across=0.0, lamp_height=1.0, eye_height=1.1),
}
STRENGTH, WIDTH = 0.6, np.deg2rad(11)
PLACE = (np.arange(SLICES) + 0.5) / SLICES - 0.5


def seen(
    laid: Laid, lamp: Lamp, slope_deg: float, *, gain: float = 1.0, strength: float = STRENGTH
) -> LeafLight:
    """A leaf whose fibres rise by ``slope_deg`` toward its lower end when it lies as it lies.

    Worked here from where things are in the room, not from the group of layings.
    """
    stood = STOOD[lamp]
    slope = np.full(SLICES, np.deg2rad(slope_deg))
    if laid in {Laid.END_TURNED, Laid.FACE_OVER}:
        slope = -slope
    lamp_sine = (stood.lamp_along - PLACE) / np.hypot(stood.lamp_along - PLACE, stood.lamp_height)
    eye_sine = -PLACE / np.hypot(PLACE, stood.eye_height)
    lobe = fibre_lobe(refract(lamp_sine), refract(eye_sine), slope=slope, width=float(WIDTH))
    light = 0.2 * transmit(lamp_sine) * transmit(eye_sine) * (1 + strength * lobe) * gain
    profile = LightProfile(
        slices=tuple((float(v),) * 3 for v in light),
        foot=0.5,
        edge_left=(),
        edge_right=(),
        edge_pitch_mm=None,
        reference=LightReference.BOARD,
        level_sd=0.004,
        station=stood,
    )
    return LeafLight(Shot(f"{laid}{lamp}", "1", laid, lamp), profile)


@pytest.mark.parametrize("slope_deg", [-4.0, -1.0, 0.0, 2.5])
@pytest.mark.parametrize("second", [(Laid.AS_LIES, Lamp.B), (Laid.END_TURNED, Lamp.A)])
def test_slope_and_highlight_are_found_from_two_photographs(slope_deg, second):
    views = (seen(Laid.AS_LIES, Lamp.A, slope_deg), seen(*second, slope_deg))

    fit = fit_slopes(views)

    assert np.rad2deg(fit.slope.mean()) == pytest.approx(slope_deg, abs=0.15)
    assert fit.strength == pytest.approx(STRENGTH, rel=0.12)
    assert fit.width == pytest.approx(WIDTH, rel=0.08)


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
def test_the_turned_leaf_is_foretold_at_every_place_along_it(lamp):
    views = (seen(Laid.AS_LIES, Lamp.A, 2.5, gain=1.01), seen(Laid.AS_LIES, Lamp.B, 2.5))

    shown = show_light(views, Laid.FACE_OVER, lamp)

    true = np.asarray(seen(Laid.FACE_OVER, lamp, 2.5).profile.slices)
    assert np.abs(np.log(shown.light / true)).max() < 0.03
    assert not shown.face_seen
    assert shown.if_face_differs is not None


def test_one_photograph_or_two_of_one_sign_are_no_fit():
    under_a = seen(Laid.AS_LIES, Lamp.A, 2.0)

    assert fit_slopes((under_a,)) is None
    assert fit_slopes((under_a, seen(Laid.END_TURNED, Lamp.B, 2.0))) is None


def test_two_photographs_of_one_sign_show_the_same_light():
    here, there = seen(Laid.AS_LIES, Lamp.A, 2.0), seen(Laid.END_TURNED, Lamp.B, 2.0)

    assert np.allclose(here.profile.slices, there.profile.slices[::-1])


@pytest.mark.parametrize("lamp", [1, -1])
def test_the_board_shows_where_the_lamp_stood(lamp):
    scene = Scene((MadeLeaf(WOODS["oak"]),), lamp=lamp)

    station = find_station(find_board(scene.paint()).field, focal_35mm=44.0)

    mm = 2.0
    assert station.lamp[1] * mm == pytest.approx(-lamp * 1300, rel=0.12)
    assert station.lamp_height * mm == pytest.approx(1200, rel=0.12)
    assert station.eye_height * mm == pytest.approx(2200, rel=0.02)
