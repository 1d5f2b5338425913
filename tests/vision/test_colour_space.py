from __future__ import annotations

import csv
import importlib
import os
import warnings
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from vision.colour_space import (
    ILLUMINANT,
    LUMINANCE,
    delta_e00,
    lab_to_linear,
    lightness_of_y,
    linear_to_lab,
    linear_to_srgb8,
    srgb_to_linear,
)

PAIRS = Path(__file__).parent / "data" / "ciede2000_34pairs.csv"


def colour_science() -> ModuleType:
    """Return the reference library; missing it is a skip at home and a failure on the server."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it says that its plots would need another library
        if os.environ.get("CI"):
            return importlib.import_module("colour")
        return pytest.importorskip("colour", exc_type=ImportError)


def srgb_by_the_book(linear: np.ndarray) -> np.ndarray:
    """Return sRGB levels, unrounded (IEC 61966-2-1)."""
    return 255 * np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0) ** (1 / 2.4) - 0.055
    )


def test_colour_differences_agree_with_the_published_pairs():
    # Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", Color Res. Appl. 30 (2005),
    # Table 1.
    lines = [line for line in PAIRS.read_text().splitlines() if not line.startswith("#")]
    rows = np.array([[float(cell) for cell in row] for row in csv.reader(lines)])

    differences = delta_e00(rows[:, :3], rows[:, 3:6])

    assert len(rows) == 34
    assert np.abs(differences - rows[:, 6]).max() < 5.1e-5


@pytest.mark.parametrize(
    ("levels", "lab"),
    [
        # Made with colour-science 0.4.7 from IEC 61966-2-1, brought to D50 by Bradford's transform.
        # Under D65 the first would be 53.24, 80.09, 67.20 and the third 68.16, 7.54, 26.91.
        ((255, 0, 0), (54.29, 80.83, 69.91)),
        ((119, 119, 119), (50.03, 0.0, 0.0)),
        ((196, 160, 118), (68.45, 9.54, 27.20)),
        ((255, 255, 255), (100.0, 0.0, 0.0)),
        ((0, 0, 0), (0.0, 0.0, 0.0)),
    ],
)
def test_srgb_levels_have_their_known_lab(levels: tuple[int, ...], lab: tuple[float, ...]):
    found = linear_to_lab(srgb_to_linear(np.array(levels, np.uint8)))

    assert found == pytest.approx(lab, abs=0.011)


@pytest.mark.parametrize(
    ("reflectance", "lightness"),
    # CIE 15:2004, 8.2.1.1: L* = 116 (Y/Yn)^(1/3) - 16, worked by hand.
    [(0.90, 96.00), (0.50, 76.07), (0.18, 49.50), (0.05, 26.73), (1.0, 100.0), (0.0, 0.0)],
)
def test_greys_have_their_known_lightness(reflectance: float, lightness: float):
    assert float(lightness_of_y(reflectance)) == pytest.approx(lightness, abs=0.006)
    lab = linear_to_lab(np.full(3, reflectance))
    assert lab[0] == pytest.approx(lightness, abs=0.006)


def test_the_white_that_colours_are_held_against_is_named():
    assert ILLUMINANT == "D50/2"


def test_light_comes_back_from_lab():
    light = np.random.default_rng(5).uniform(0, 1, (500, 3))

    assert lab_to_linear(linear_to_lab(light)) == pytest.approx(light, abs=1e-6)


def test_lightness_rests_on_the_luminance_of_the_same_white():
    light = np.random.default_rng(6).uniform(0, 1, (500, 3))

    lightness = lightness_of_y(light @ LUMINANCE)

    assert lightness == pytest.approx(linear_to_lab(light)[:, 0], abs=0.01)


@pytest.mark.reference
def test_lab_agrees_with_a_reference_library_on_random_colours():
    colour = colour_science()
    levels = np.random.default_rng(3).integers(0, 256, (20_000, 3), dtype=np.uint8)
    d50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    xyz = colour.sRGB_to_XYZ(
        levels / 255, illuminant=d50, chromatic_adaptation_transform="Bradford"
    )
    reference = colour.XYZ_to_Lab(xyz, d50)

    lab = linear_to_lab(srgb_to_linear(levels))

    assert np.abs(lab - reference).max() < 0.03  # the matrix is published in four digits and more


@pytest.mark.reference
def test_differences_agree_with_a_reference_library_on_random_colours():
    colour = colour_science()
    rng = np.random.default_rng(4)
    one, other = (rng.uniform((0, -60, -60), (100, 60, 60), (50_000, 3)) for _ in range(2))

    differences = delta_e00(one, other)

    assert np.abs(differences - colour.delta_E(one, other, method="CIE 2000")).max() < 1e-9


def test_every_level_comes_back_from_linear_light():
    levels = np.arange(256, dtype=np.uint8)

    linear = srgb_to_linear(levels)

    assert linear.dtype == np.float32
    assert srgb_by_the_book(linear.astype(np.float64)) == pytest.approx(levels, abs=1e-4)
    assert np.array_equal(linear_to_srgb8(linear), levels)


def test_encoding_is_right_to_half_a_level():
    linear = np.concatenate([np.linspace(0, 0.01, 20_001), np.linspace(0, 1, 200_001)])

    levels = linear_to_srgb8(linear)

    assert np.abs(levels - srgb_by_the_book(linear)).max() < 0.53


def test_light_beyond_the_scale_is_held_at_its_ends():
    linear = np.array([-3.0, -1e-6, 1.0001, 40.0], np.float32)

    assert linear_to_srgb8(linear).tolist() == [0, 0, 255, 255]


@pytest.mark.parametrize("shape", [(0, 3), (3,), (5, 3), (4, 5, 3), (2, 4, 5, 3)])
def test_any_shape_is_kept(shape: tuple[int, ...]):
    levels = np.random.default_rng(0).integers(0, 256, shape, dtype=np.uint8)

    linear = srgb_to_linear(levels)

    assert linear.shape == shape
    assert np.array_equal(linear_to_srgb8(linear), levels)


def test_a_view_into_a_picture_is_read_as_it_stands():
    levels = np.random.default_rng(0).integers(0, 256, (9, 8, 3), dtype=np.uint8)
    view = levels[::2, 1:, ::-1]

    assert np.array_equal(srgb_to_linear(view), srgb_to_linear(view.copy()))


def test_floats_from_nought_to_one_are_read_as_encoded_shares():
    levels = np.arange(256, dtype=np.uint8)

    assert srgb_to_linear(levels / 255) == pytest.approx(srgb_to_linear(levels), abs=1e-6)
