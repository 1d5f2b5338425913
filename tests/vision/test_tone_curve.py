from __future__ import annotations

import numpy as np
import pytest

from tests.vision.made_charts import as_it_is, s_curve, srgb_code
from vision.tone_curve import (
    PRINTED_SD,
    curve_of_table,
    decode,
    decode_table,
    encode,
    fit_tone,
    middle_curve,
)

GREYS = np.array([0.80, 0.55, 0.38, 0.26, 0.17, 0.10, 0.05])
CURVES = {"gamma 0.87": lambda v: v**0.87, "gamma 1.15": lambda v: v**1.15} | {
    f"S {strength}": s_curve(strength) for strength in (3, 5)
}
CAST = np.array([1.0, 0.96, 0.88])


def levels_of(light, curve):
    """What the camera makes of linear light."""
    return 255 * curve(srgb_code(np.asarray(light)))


def worst_step(tone, curve):
    """Greatest error, as a fraction, of a step in light of a tenth among wood's reflectances."""
    light = np.geomspace(0.08, 0.6, 22)[:, None] * CAST * 0.9
    read = np.log(decode(levels_of(light, curve), decode_table(tone)))
    return float(np.abs(np.diff(read, axis=0) / np.diff(np.log(light), axis=0) - 1).max())


@pytest.mark.parametrize("seed", range(20))
def test_a_photograph_that_is_srgb_comes_back_as_srgb(seed):
    rng = np.random.default_rng(seed)
    light = GREYS[:, None] * CAST * 0.9 * (1 + 0.004 * rng.standard_normal((7, 3)))

    tone = fit_tone(levels_of(light, as_it_is), GREYS)

    table, srgb = decode_table(tone)[20:], decode_table(None)[20:]
    ratio = np.log(table / srgb)
    assert np.abs(ratio - ratio.mean(axis=0)).max() < 0.01


@pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES)
def test_steps_in_light_are_right_whatever_the_cameras_contrast(curve):
    tone = fit_tone(levels_of(GREYS[:, None] * CAST * 0.9, curve), GREYS)

    assert worst_step(None, curve) > 0.10
    assert worst_step(tone, curve) < 0.12
    assert worst_step(tone, curve) < 0.35 * worst_step(None, curve)


def test_the_lamps_fall_off_between_the_greys_is_taken_out():
    fall = np.exp(-0.2 * np.arange(7))[:, None]
    curve = s_curve(4)
    seen = levels_of(GREYS[:, None] * fall * CAST, curve)
    board = levels_of(np.full(7, 0.3)[:, None] * fall * CAST, curve)

    told, not_told = fit_tone(seen, GREYS, beside=board), fit_tone(seen, GREYS)

    assert worst_step(told, curve) < 0.15
    assert worst_step(not_told, curve) > 0.3


def test_greys_burnt_out_or_lost_in_the_dark_are_left_out():
    curve = s_curve(4)
    seen = levels_of(GREYS[:, None] * np.ones(3) * 1.2, curve)
    spoilt = seen.copy()
    spoilt[0], spoilt[-1] = 255.0, 2.0

    tone = fit_tone(spoilt, GREYS)

    whole = decode_table(fit_tone(seen, GREYS))
    inner = slice(int(seen[5].max()), int(seen[1].min()))
    ratio = np.log(decode_table(tone)[inner] / whole[inner])
    assert np.abs(ratio - ratio.mean(axis=0)).max() < 0.03


def test_three_greys_tell_no_curve():
    assert fit_tone(levels_of(GREYS[:3, None] * np.ones(3), s_curve(5)), GREYS[:3]) is None


def test_greys_out_of_order_tell_no_curve():
    seen = levels_of(GREYS[::-1, None] * np.ones(3), as_it_is)

    assert fit_tone(seen, GREYS) is None


def test_printed_greys_that_nobody_measured_do_not_bend_a_true_srgb_photograph():
    rng = np.random.default_rng(3)
    printed = GREYS[:, None] * np.exp(0.03 * rng.standard_normal((7, 1)))

    tone = fit_tone(levels_of(printed * CAST, as_it_is), GREYS, known_sd=PRINTED_SD, neutral=False)

    assert tone is None


def test_the_hue_of_printed_greys_does_not_reach_the_curve():
    curve = s_curve(4)
    drift = np.exp(np.outer(np.linspace(0, 0.08, 7), [1, 0, -1]))
    light = GREYS[:, None] * drift

    tone = fit_tone(levels_of(light, curve), GREYS, neutral=False)

    table = decode_table(tone)
    shapes = np.log(table[30:220] / table[128])
    assert np.ptp(shapes, axis=1).max() < 1e-6


def test_a_curve_is_monotone_from_end_to_end():
    for curve in CURVES.values():
        table = decode_table(fit_tone(levels_of(GREYS[:, None] * CAST, curve), GREYS))
        assert (np.diff(table, axis=0) > 0).all()


def test_a_table_is_kept_by_its_curve_to_a_thousandth():
    table = decode_table(None).astype(np.float64)
    table[1:] = table[1:] ** 1.2

    again = decode_table(curve_of_table(table))

    assert again[1:] == pytest.approx(table[1:], rel=4e-3)


def test_levels_and_light_go_there_and_back():
    table = decode_table(None)
    levels = np.random.default_rng(1).uniform(5, 250, (50, 3))

    assert encode(decode(levels, table), table) == pytest.approx(levels, abs=1e-3)


def test_the_curve_of_a_bundle_is_the_middle_one_and_srgb_where_most_say_so():
    mild, strong = (fit_tone(levels_of(GREYS[:, None] * CAST, s_curve(k)), GREYS) for k in (3, 6))

    middle = decode_table(middle_curve([mild, mild, strong]))
    assert middle == pytest.approx(decode_table(mild), rel=0.01, abs=1e-6)
    assert middle_curve([None, None, strong]) is None
