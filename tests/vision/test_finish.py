"""A finish read from one offcut, on fibres that are known; and curl."""

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.made_fits import fit_of
from tests.vision.test_slope_fit import STRENGTH, seen
from vision.alternation import SeenLeaf
from vision.curl import curl_sd
from vision.errors import FinishUnknown
from vision.finish import finished, read_finish
from vision.readings import SLICES
from vision.room_alternation import show_in_room
from vision.room_lights import free_room
from vision.room_sides import step_between
from vision.shot import Laid, Lamp, Shot
from vision.slope_fit import fit_slopes
from vision.step_grade import Z95


def offcut(strength=0.3, *, lamps=(Lamp.A, Lamp.B), light=1.0):
    return [
        SeenLeaf(
            Shot(f"{lamp}", "1", Laid.AS_LIES, lamp),
            (seen(Laid.AS_LIES, lamp, 3.0, gain=light, strength=strength).profile,),
        )
        for lamp in lamps
    ]


def test_a_finish_that_darkens_and_strengthens_is_read_from_the_offcut():
    oil = read_finish("oil", offcut(0.3), offcut(0.9, light=0.6))

    assert oil.strength_times == pytest.approx(3.0, rel=0.25)
    assert oil.width_times == pytest.approx(1.0, rel=0.12)
    assert oil.slope_times == pytest.approx(1.0, rel=0.12)
    assert oil.light_times == pytest.approx((0.6, 0.6, 0.6), rel=0.05)


def test_a_leaf_told_as_finished_shines_as_the_offcut_did():
    oil = read_finish("oil", offcut(0.3), offcut(0.9))
    leaf = fit_of(-2.0, strength=0.3)

    as_oiled = finished(leaf, oil)

    assert as_oiled.strength == pytest.approx(0.9, rel=0.25)
    assert as_oiled.spread[SLICES, SLICES] > leaf.spread[SLICES, SLICES]


def test_an_offcut_under_one_lamp_tells_no_finish():
    with pytest.raises(FinishUnknown, match="exactly one is needed"):
        read_finish("oil", offcut(lamps=(Lamp.A,)), offcut())


def test_a_leaf_that_waves_is_less_sure_than_one_that_lies_flat():
    waves = 3.0 * np.sin(np.linspace(0, 4 * np.pi, SLICES))

    assert np.rad2deg(curl_sd(fit_of(2.0))) == pytest.approx(0.25, abs=0.01)
    assert np.rad2deg(curl_sd(fit_of(2.0 + waves))) > 1.5


def test_the_interval_keeps_the_truth_when_the_exposure_is_less_sure():
    """Gains drawn as unsure as the photographs say: 1 % and 3 %; fresh seeds each run."""
    rng = np.random.default_rng()
    room = free_room((0.0, 900.0, 1500.0))
    widths = []
    for level_sd in (0.01, 0.03):
        held, wide = [], []
        for _ in range(40):
            sides, true = [], []
            for laid in (Laid.AS_LIES, Laid.END_TURNED):
                slope = float(rng.normal(0, 2.5))
                views = []
                for lamp in (Lamp.A, Lamp.B):
                    gain = float(np.exp(rng.normal(0, level_sd)))
                    view = seen(Laid.AS_LIES, lamp, slope, gain=gain)
                    views.append(replace(view, profile=replace(view.profile, level_sd=level_sd)))
                sides.append(show_in_room(fit_slopes(tuple(views)), laid, room, length_mm=2000.0))
                known = fit_of(slope, strength=STRENGTH, width_deg=11.0)
                true.append(show_in_room(known, laid, room, length_mm=2000.0))
            step, sd = step_between((sides[0], sides[1]), slice(5, 15))
            truth, _sd = step_between((true[0], true[1]), slice(5, 15))
            held.append(abs(step - truth) < Z95 * sd)
            wide.append(sd)
        assert np.mean(held) >= 0.9
        widths.append(np.mean(wide))
    assert widths[1] > 1.2 * widths[0]
