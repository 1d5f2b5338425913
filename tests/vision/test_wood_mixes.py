from __future__ import annotations

import numpy as np
import pytest

from tests.spectral.bands import NM, colour_science, delta_e00, on_bands, to_lab
from tests.spectral.lamps_and_sensors import lamp, sensor
from tests.vision.made_charts import CAMERA
from tests.vision.test_colour_fit import made_wood
from vision.chart_colour import spread_mixes
from vision.chart_references import NEUTRALS, chart_reference
from vision.colour_fit import PLAIN, ROOTS, fit_colour, map_colours
from vision.colour_space import lab_to_linear, linear_to_lab
from vision.wood_mixes import PATCH_SPECTRA, WOOD_LAB, wood_mixes, wood_spectra

ALL = np.ones(24, dtype=bool)
LAB = chart_reference("after-2014").lab
SPECTRA_NM = np.arange(400.0, 701.0, 20.0)


@pytest.mark.reference
def test_the_spectra_of_the_woods_have_their_colours():
    colour_science()
    spectra = np.stack([np.interp(NM, SPECTRA_NM, one) for one in wood_spectra()])

    assert delta_e00(to_lab(spectra), np.array(WOOD_LAB)).max() < 0.3


@pytest.mark.reference
def test_the_spectra_of_the_patches_are_those_measured():
    charts = colour_science().SDS_COLOURCHECKERS["ColorChecker N Ohta"].values()
    measured = [on_bands(one.wavelengths, one.values) for one in charts]

    assert np.abs(np.stack(measured)[:, ::4] - PATCH_SPECTRA).max() < 0.001


def test_a_patch_that_cannot_be_used_is_in_no_mix():
    use = ALL.copy()
    use[[1, 15]] = False

    mixes = wood_mixes(use)

    assert (mixes[:, ~use] == 0).all()
    assert np.abs((mixes - wood_mixes(ALL))[:, use]).max() > 0.01


def test_what_a_single_patch_is_off_is_not_made_larger():
    assert np.linalg.norm(wood_mixes(ALL), axis=1).max() < 0.5


@pytest.mark.parametrize("left_out", [1, 6])
def test_a_patch_left_out_is_left_out_of_the_mixes_too(left_out):
    seen = lab_to_linear(LAB) @ np.array(CAMERA).T
    seen[left_out] *= 1.3
    use = ALL.copy()
    use[left_out] = False

    fit = fit_colour(seen, LAB, mixes=spread_mixes(ALL, 0), kinds=(PLAIN,))
    others = fit_colour(seen[use], LAB[use], mixes=spread_mixes(use, 0), kinds=(PLAIN,))

    assert fit is not None
    assert others is not None
    foretold = linear_to_lab(map_colours(seen[~use], others.colour_map))[0]
    assert fit.held_out[left_out] == pytest.approx(float(delta_e00(foretold, LAB[left_out])))


@pytest.mark.parametrize("kind", [PLAIN, ROOTS])
def test_a_camera_that_a_matrix_undoes_is_undone_with_mixes_as_without(kind):
    seen = lab_to_linear(LAB) @ np.array(CAMERA).T

    fit = fit_colour(np.abs(seen), LAB, mixes=spread_mixes(ALL, 0), kinds=(kind,))

    assert fit is not None
    assert fit.colour_map.fit_mean < 0.1


@pytest.mark.reference
def test_mixes_bring_wood_nearer_under_lamps_of_all_kinds():
    # The chart is another than the one whose spectra the mixes are reckoned from.
    charts = colour_science().SDS_COLOURCHECKERS["BabelColor Average"].values()
    patches = np.stack([on_bands(one.wavelengths, one.values) for one in charts])
    wood = made_wood(np.random.default_rng(3), NM)

    off = np.array([
        [wood_off(lamp(name), patches, wood, mixes) for mixes in (None, spread_mixes(ALL, 0))]
        for name in ("LED-V2", "D50", "FL3.15", "PHOS-1", "LED-BH1", "A")
    ])  # fmt: skip

    alone, mixed = off.T
    assert mixed.mean() < 0.75 * alone.mean()
    assert mixed.max() < 0.6


def wood_off(power, patches, wood, mixes) -> float:
    """Mean CIEDE2000 of woods by a chart, both seen under a lamp."""
    light, known = power[:, None] * sensor("bayer"), to_lab(patches)
    level = np.median(lab_to_linear(known)[NEUTRALS] / (patches @ light)[NEUTRALS], axis=0)
    fit = fit_colour(patches @ light * level, known, mixes=mixes)
    assert fit is not None
    read = linear_to_lab(map_colours(wood @ light * level, fit.colour_map))
    return float(delta_e00(read, to_lab(wood)).mean())
