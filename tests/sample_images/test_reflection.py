"""Numbers by hand from Snell's law, Fresnel's equations and the cone highlight of
Marschner, Westin, Arbree, Moon 2005, ACM Transactions on Graphics 24(3)."""

import numpy as np
import pytest

from sample_images.reflection import (
    Lobe,
    even_light_gain,
    fibre_axis,
    highlight,
    lobe_value,
    reflectance_gain,
    refract,
    transmittance,
)

UP = np.array([0.0, 0.0, 1.0])


def lamp_at(angle_deg: float) -> np.ndarray:
    return np.array([0.0, np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))])


def shine(
    lamp_deg: float, tilt_deg: float, *, width_deg: float = 10.0, ratio: float = 1.0
) -> float:
    """R F of a fibre in the plane of the grain, seen from straight above."""
    fibre = fibre_axis(np.full(1, tilt_deg, np.float32), 0.0)
    inside = refract(lamp_at(lamp_deg), 1.5)
    return float(highlight(fibre, inside, refract(UP, 1.5), Lobe(ratio, width_deg))[0])


@pytest.mark.parametrize(
    ("outside", "inside"),
    [(10, 6.6478), (15, 9.9359), (30, 19.4712), (45, 28.1255), (60, 35.2644), (75, 40.0870)],
)
def test_light_bends_as_snell_says(outside, inside):
    bent = refract(lamp_at(outside), 1.5)

    assert np.degrees(np.arcsin(bent[1])) == pytest.approx(inside, abs=1e-4)
    assert np.linalg.norm(bent) == pytest.approx(1)


@pytest.mark.parametrize(
    ("angle", "passes"), [(0, 0.96), (30, 0.95848), (45, 0.94976), (60, 0.91081)]
)
def test_the_surface_lets_through_what_fresnel_leaves(angle, passes):
    assert transmittance(np.cos(np.radians(angle)), 1.5) == pytest.approx(passes, abs=1e-5)


@pytest.mark.parametrize(
    ("lamp", "tilt", "value"),
    [
        (15, 0, 0.61503),
        (15, 2, 0.38155),
        (30, 2, 0.06551),
        (30, -2, 0.31106),
        (45, 3, 0.00315),
        (45, -3, 0.09192),
    ],
)
def test_the_highlight_falls_off_its_cone(lamp, tilt, value):
    assert shine(lamp, tilt) == pytest.approx(value, abs=2e-5)


@pytest.mark.parametrize(
    ("lamp", "tilt", "width", "log_ratio", "light_ratio"),
    [
        (15, 2, 10, -0.794871, 0.74888),
        (30, 1, 12, -0.540867, 0.89016),
        (40, -3, 15, 1.353280, 1.30269),
    ],
)
def test_booked_fibres_part_by_four_times_lamp_times_tilt(
    lamp, tilt, width, log_ratio, light_ratio
):
    own, book = shine(lamp, tilt, width_deg=width), shine(lamp, -tilt, width_deg=width)

    assert np.log(own / book) == pytest.approx(log_ratio, abs=2e-4)
    assert (1 + own) / (1 + book) == pytest.approx(light_ratio, abs=2e-5)


def test_fibres_that_rise_toward_the_lamp_look_darker():
    assert shine(30, 3) < shine(30, 0) < shine(30, -3)


def test_half_turns_of_the_leaf_are_half_turns_of_lamp_and_viewer():
    rng = np.random.default_rng(5)
    directions = rng.normal(size=(2, 500, 3))
    directions[..., 2] = np.abs(directions[..., 2]) + 0.3
    directions /= np.linalg.norm(directions, axis=-1, keepdims=True)
    lamp, eye = directions
    tilt, angle = rng.normal(0, 6, (2, 500)).astype(np.float32)
    lobe = Lobe(0.8, 12)
    layings = {
        "book": (-tilt, -angle, [1, -1, 1]),
        "end turned": (-tilt, angle, [-1, -1, 1]),
        "end over": (tilt, -angle, [-1, 1, 1]),
    }
    for moved_tilt, moved_angle, signs in layings.values():
        moved = reflectance_gain(moved_tilt, moved_angle, lamp, eye, lobe)
        swapped = reflectance_gain(tilt, angle, lamp * signs, eye * signs, lobe)

        assert moved == pytest.approx(swapped, abs=2e-5)


def test_lamp_and_viewer_across_the_grain_show_no_tilt():
    tilt = np.array([4.0, -4.0], np.float32)
    lamp = np.array([0.5, 0.0, np.sqrt(0.75)])

    seen = reflectance_gain(tilt, 0.0, lamp, UP, Lobe(1.0, 10))

    assert seen[0] == pytest.approx(seen[1], rel=1e-6)


def test_an_even_sky_shows_no_tilt_from_above():
    seen = even_light_gain(np.array([5.0, -5.0], np.float32), Lobe(0.5, 12))

    assert seen[0] == pytest.approx(seen[1], rel=1e-4)


def test_a_wide_lamp_blurs_the_highlight_and_keeps_its_area():
    psi = np.radians(np.linspace(-60, 60, 4001))
    lobe = Lobe(1.0, 6)
    point, wide = (
        lobe_value(psi, -0.0 * psi, lobe, lamp_spread_deg=spread) * np.cos(psi / 2) ** 2
        for spread in (0.0, 9.0)
    )

    assert wide.max() < 0.75 * point.max()
    assert wide.sum() == pytest.approx(point.sum(), rel=1e-3)


def test_an_unknown_lobe_shape_is_refused():
    with pytest.raises(ValueError, match="gauss, lorentz or flat-top"):
        lobe_value(np.zeros(1), np.zeros(1), Lobe(1.0, 10, shape="box"))
