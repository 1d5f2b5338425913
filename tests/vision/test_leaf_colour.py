from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from vision.colour_space import ILLUMINANT, lightness_of_y, srgb_to_linear
from vision.errors import LeafNotFound
from vision.leaf_colour import measure_colour
from vision.leaf_image import LeafImage
from vision.readings import ColourClass, LeafColour


def y_of_lightness(lightness: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return luminance of CIE 1976 lightness, above L* 8."""
    return ((lightness + 16) / 116) ** 3


def grey_leaf(lightness: NDArray[np.float64], *, px_per_mm: float | None = 2.0) -> LeafImage:
    light = np.repeat(y_of_lightness(lightness)[..., None], 3, axis=2).astype(np.float32)
    return LeafImage(light, np.ones(lightness.shape, bool), px_per_mm)


def measure(leaf: LeafImage) -> LeafColour:
    return measure_colour(leaf, colour_class=ColourClass.GREY_STEPS)


def test_a_plain_leaf_has_the_colour_it_was_painted_in():
    levels = np.tile(np.array([196, 160, 118], np.uint8), (200, 120, 1))
    leaf = LeafImage(srgb_to_linear(levels), np.ones((200, 120), bool), 2.0)

    colour = measure(leaf)

    # sRGB 196, 160, 118 under D50 (Bradford), as colour-science 0.4.7 has it.
    assert (colour.lightness, colour.a, colour.b) == pytest.approx((68.45, 9.54, 27.20), abs=0.011)
    assert colour.chroma == pytest.approx(28.82, abs=0.02)  # by Pythagoras
    assert colour.hue_deg == pytest.approx(70.67, abs=0.05)
    assert colour.lightness_p95 - colour.lightness_p5 == pytest.approx(0, abs=0.001)
    assert colour.illuminant == ILLUMINANT
    assert colour.colour_class is ColourClass.GREY_STEPS


def test_light_is_averaged_not_lightness():
    half = np.where(np.arange(200)[:, None] < 100, 90.0, 30.0) * np.ones((200, 120))

    colour = measure(grey_leaf(half))

    mean = (y_of_lightness(np.array(90.0)) + y_of_lightness(np.array(30.0))) / 2
    assert colour.lightness == pytest.approx(float(lightness_of_y(mean)), abs=0.001)
    assert colour.lightness > 65


def test_pixels_beside_the_leaf_do_not_count():
    lightness = np.full((300, 200), 5.0)
    lightness[20:-20, 33:-34] = 72.0
    leaf = grey_leaf(lightness, px_per_mm=1.7)
    leaf = LeafImage(leaf.light, lightness > 50, 1.7)

    colour = measure(leaf)

    assert colour.lightness == pytest.approx(72.0, abs=0.001)
    assert (colour.lightness_p5, colour.lightness_p95) == pytest.approx((72.0, 72.0), abs=0.001)


@pytest.mark.parametrize("px_per_mm", [1.0, 1.9, 4.7])
def test_the_range_is_that_of_the_wood_at_any_resolution(px_per_mm: float):
    rows, columns = int(400 * px_per_mm), int(120 * px_per_mm)
    mm = (np.arange(rows) + 0.5) / px_per_mm
    leaf = grey_leaf(
        (60 + 8 * np.sin(2 * np.pi * mm / 20))[:, None] * np.ones((1, columns)), px_per_mm=px_per_mm
    )

    colour = measure(leaf)

    # 5 % of a sine lies below -sin(90 - 9 degrees) of its amplitude.
    wanted = 8 * np.sin(np.radians(81))
    assert colour.lightness_p5 == pytest.approx(60 - wanted, abs=0.25)
    assert colour.lightness_p95 == pytest.approx(60 + wanted, abs=0.25)


def test_stripes_in_step_with_the_places_looked_at_are_still_seen_whole():
    mm = (np.arange(5000) + 0.5) / 2.0
    leaf = grey_leaf((60 + 8 * np.sin(2 * np.pi * mm / 10))[:, None] * np.ones((1, 60)))

    colour = measure(leaf)

    assert colour.lightness_p95 - colour.lightness_p5 == pytest.approx(15.8, abs=0.5)


def test_noise_of_the_sensor_hardly_widens_the_range():
    noise = np.random.default_rng(0).normal(0, 2.0, (1200, 480))

    colour = measure(grey_leaf(60 + noise, px_per_mm=4.0))

    assert colour.lightness_p95 - colour.lightness_p5 < 2.0  # pixel by pixel it would be 6.6


def test_a_leaf_without_scale_is_measured_in_fractions_of_its_length():
    mm = (np.arange(1000) + 0.5) / 2.0
    lightness = (60 + 8 * np.sin(2 * np.pi * mm / 25))[:, None] * np.ones((1, 150))

    with_scale, without = (measure(grey_leaf(lightness, px_per_mm=s)) for s in (2.0, None))

    assert without.lightness == with_scale.lightness
    assert without.lightness_p5 == pytest.approx(with_scale.lightness_p5, abs=0.1)


def test_too_little_wood_is_refused_with_what_to_do():
    with pytest.raises(LeafNotFound, match=r"Only 375 mm² of wood in view, 400 mm² needed\. Lay"):
        measure(grey_leaf(np.full((50, 30), 60.0)))


def test_too_few_pixels_without_a_scale_are_refused():
    with pytest.raises(LeafNotFound, match="Only 1500 px of wood"):
        measure(grey_leaf(np.full((50, 30), 60.0), px_per_mm=None))


def test_a_coarse_picture_is_measured_pixel_by_pixel():
    lightness = np.tile(np.array([[50.0, 70.0]]), (200, 30))

    colour = measure(grey_leaf(lightness, px_per_mm=0.5))

    assert (colour.lightness_p5, colour.lightness_p95) == pytest.approx((50.0, 70.0), abs=0.01)
