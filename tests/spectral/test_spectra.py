"""The spectra themselves: woods, chart, greys, and the colours worked out from them."""

import numpy as np
import pytest

from tests.spectral.bands import NM, colour_science, lab_to_xyz, to_lab, to_xyz, xyz_to_lab
from tests.spectral.lamps_and_sensors import GOOD_LAMPS, Sight, best_wood_error, lamp, sensor
from tests.spectral.printed_spectra import EDITIONS, chart_lab, chart_spectra, shaped_grey
from tests.spectral.wood_spectra import RANGES, draw_wood

pytestmark = pytest.mark.reference


def woods(each: int = 4) -> np.ndarray:
    rng = np.random.default_rng(3)
    drawn = [draw_wood(name, rng) for name in RANGES for _ in range(each)]
    return np.stack([wood.reflectance(np.zeros(())) for wood in drawn])


def test_colours_of_spectra_are_those_of_the_reference_library():
    colour = colour_science()
    eye = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    shape = colour.SpectralShape(400, 700, 5)
    white = colour.SDS_ILLUMINANTS["D50"]
    xy = colour.XYZ_to_xy(
        colour.sd_to_XYZ(
            colour.SpectralDistribution(np.ones(len(NM)), NM),
            eye.copy().align(shape),
            white.copy().align(shape),
            method="Integration",
        )
    )
    spectra = woods(1)

    found = to_lab(spectra)

    for spectrum, lab in zip(spectra, found, strict=True):
        xyz = colour.sd_to_XYZ(
            colour.SpectralDistribution(spectrum, NM),
            eye.copy().align(shape),
            white.copy().align(shape),
            method="Integration",
        )
        assert np.abs(colour.XYZ_to_Lab(xyz / 100, xy) - lab).max() < 0.01


def test_what_lies_outside_400_to_700_nm_hardly_changes_the_white():
    xy = to_xyz(np.ones(len(NM)))[:2] / to_xyz(np.ones(len(NM))).sum()

    assert xy == pytest.approx((0.3457, 0.3585), abs=0.0006)  # D50, CIE 15


def test_lab_is_undone_exactly():
    lab = to_lab(woods(1))

    assert np.abs(xyz_to_lab(lab_to_xyz(lab)) - lab).max() < 1e-9


@pytest.mark.parametrize("name", RANGES)
def test_a_drawn_wood_has_a_colour_of_its_kind(name):
    rng = np.random.default_rng(8)

    lab = np.stack([to_lab(draw_wood(name, rng).reflectance(np.zeros(()))) for _ in range(5)])

    low, high = np.array(RANGES[name]).T
    assert ((lab > low - 0.05) & (lab < high + 0.05)).all()
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))
    assert ((hue > 27.5) & (hue < 81.6)).all()  # 98 tropical species


def test_wood_reflects_more_toward_the_red_and_never_all():
    spectra = woods()

    assert spectra.min() > 0.01
    assert spectra.max() < 0.95
    assert (np.diff(spectra, axis=1) > -1e-3).all()


def test_late_wood_is_darker_than_early_wood():
    rng = np.random.default_rng(4)

    lightness = np.stack(
        [to_lab(draw_wood(name, rng).reflectance(np.array([-1.0, 0.0, 1.0]))) for name in RANGES]
    )[..., 0]

    assert (np.diff(lightness, axis=1) < -0.4).all()
    assert (np.ptp(lightness, axis=1) < 15).all()


@pytest.mark.parametrize("edition", EDITIONS)
def test_chart_patches_have_their_published_colours_and_plausible_spectra(edition):
    spectra = chart_spectra(edition, np.random.default_rng(1), tolerance=0.0)

    assert np.abs(to_lab(spectra) - chart_lab(edition)).max() < 1e-3
    assert spectra.min() > 0.01
    assert spectra.max() < 1


def test_the_published_colours_of_the_newer_chart_are_these():
    lab = chart_lab("after-2014")

    assert lab[0] == pytest.approx((37.54, 14.37, 14.92), abs=0.01)
    assert lab[18] == pytest.approx((95.19, -1.03, 2.93), abs=0.01)
    assert lab[23] == pytest.approx((20.64, 0.07, -0.46), abs=0.01)


def test_a_printed_grey_has_its_reflectance_and_its_warmth():
    spectrum = shaped_grey(0.26, a=0.3, b=2.0)

    assert to_xyz(spectrum)[1] == pytest.approx(0.26, abs=1e-9)
    assert to_lab(spectrum)[1:] == pytest.approx((0.3, 2.0), abs=1e-6)


@pytest.mark.parametrize("name", GOOD_LAMPS)
def test_a_mosaic_sensor_under_a_good_lamp_can_tell_woods_by_a_chart(name):
    chart = chart_spectra("after-2014", np.random.default_rng(2))
    sight = Sight(lamp(name)[None], sensor("bayer"))

    off = best_wood_error(sight, woods(), chart)

    assert off.mean() < 1.2  # two and more through a maker's own matrix alone
    assert np.quantile(off, 0.95) < 2.0
