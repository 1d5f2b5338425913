from __future__ import annotations

import numpy as np
import pytest

from tests.vision.made_charts import CAMERA
from tests.vision.test_colour_space import colour_science
from vision.chart_references import chart_reference
from vision.colour_fit import (
    CHIP_WEIGHT,
    PLAIN,
    ROOTS,
    apply_colour,
    fit_colour,
    map_colours,
)
from vision.colour_space import delta_e00, lab_and_slopes, lab_to_linear, linear_to_lab
from vision.shooting_station import ColourMap

LAB = chart_reference("after-2014").lab
ROOT_MAP = ColourMap(
    ROOTS,
    ((0.9, 0.1, 0.0, 0.05, 0, 0), (0, 0.8, 0.1, 0, 0.1, 0), (0, 0.1, 0.7, 0, 0, 0.2)),
    0.0, 0.0, 0.0,
)  # fmt: skip


def test_the_matrix_of_a_camera_is_undone():
    seen = lab_to_linear(LAB) @ np.array(CAMERA).T

    fit = fit_colour(seen, LAB)

    assert fit is not None
    assert fit.colour_map.kind == PLAIN
    assert np.array(fit.colour_map.rows) == pytest.approx(np.linalg.inv(CAMERA), abs=2e-3)
    assert fit.colour_map.held_out_max < 0.05


def test_swapped_channels_do_not_pass_for_a_camera_of_small_error():
    rng = np.random.default_rng(2)
    seen = lab_to_linear(LAB) @ np.array(CAMERA).T
    spoilt = seen.copy()
    spoilt[rng.permutation(24)] = seen

    fit = fit_colour(spoilt, LAB)

    assert fit is not None
    assert fit.colour_map.held_out_mean > 4.5


def test_a_left_out_patch_is_foretold_by_the_others_alone():
    seen = lab_to_linear(LAB) @ np.array(CAMERA).T
    seen[3] *= 1.3

    fit = fit_colour(seen, LAB, kinds=(PLAIN,))
    others = fit_colour(np.delete(seen, 3, 0), np.delete(LAB, 3, 0), kinds=(PLAIN,))

    assert fit is not None
    assert others is not None
    foretold = linear_to_lab(map_colours(seen[3:4], others.colour_map))[0]
    assert fit.held_out[3] == pytest.approx(float(delta_e00(foretold, LAB[3])), abs=0.01)
    assert fit.held_out[3] > fit.off[3]


def test_too_few_patches_give_no_map():
    seen = lab_to_linear(LAB)

    assert fit_colour(seen[:11], LAB[:11]) is None


def test_wood_chips_draw_the_fit_toward_themselves():
    rng = np.random.default_rng(4)
    seen = np.clip(lab_to_linear(LAB) @ np.array(CAMERA).T * rng.normal(1, 0.05, (24, 3)), 0, 1)
    wood = np.array([[48.0, 9, 16], [66, 9, 21], [82, 6, 19], [60, 12, 22], [55, 14, 20]])
    wood_seen = lab_to_linear(wood) @ np.array(CAMERA).T
    weights = np.r_[np.ones(24), np.full(3, CHIP_WEIGHT)]

    bare = fit_colour(seen, LAB, kinds=(PLAIN,))
    chipped = fit_colour(
        np.vstack([seen, wood_seen[:3]]), np.vstack([LAB, wood[:3]]), weights=weights,
        kinds=(PLAIN,),
    )  # fmt: skip

    assert bare is not None
    assert chipped is not None
    off = [
        float(delta_e00(linear_to_lab(map_colours(wood_seen[3:], one.colour_map)), wood[3:]).mean())
        for one in (bare, chipped)
    ]
    assert off[1] < 0.8 * off[0]


@pytest.mark.parametrize("exposure", [0.25, 1.0, 3.0])
def test_a_root_polynomial_does_not_change_with_exposure(exposure):
    light = np.random.default_rng(1).uniform(0.02, 0.9, (40, 3))

    mapped = map_colours(light * exposure, ROOT_MAP)

    assert mapped == pytest.approx(exposure * map_colours(light, ROOT_MAP))


@pytest.mark.parametrize("kind", [PLAIN, ROOTS])
def test_a_picture_and_single_colours_are_mapped_alike(kind):
    colour_map = ROOT_MAP if kind == ROOTS else ColourMap(PLAIN, CAMERA, 0, 0, 0)
    light = np.random.default_rng(1).uniform(0, 1, (7, 9, 3)).astype(np.float32)

    picture = apply_colour(light, colour_map)

    assert picture.dtype == np.float32
    assert picture.reshape(-1, 3) == pytest.approx(
        map_colours(light.reshape(-1, 3), colour_map), abs=2e-6
    )


def test_without_a_map_a_picture_stays_as_it_is():
    light = np.random.default_rng(1).uniform(0, 1, (7, 9, 3)).astype(np.float32)

    assert apply_colour(light, None) is light


def test_the_slopes_of_lab_are_those_of_small_differences():
    light = np.random.default_rng(7).uniform(-0.01, 1, (50, 3))
    small = 1e-6

    lab, slopes = lab_and_slopes(light)

    inside = light.min(axis=1) > 0
    assert lab[inside] == pytest.approx(linear_to_lab(light[inside]), abs=1e-4)
    for channel in range(3):
        moved, _ = lab_and_slopes(light + small * np.eye(3)[channel])
        assert slopes[..., channel] == pytest.approx((moved - lab) / small, rel=1e-3, abs=1e-2)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("camera", "wood_mean", "held_out"),
    # The second sensor is stacked, not a mosaic; its noise and metamerism are known to be larger.
    [("Nikon 5100 (NPL)", 0.7, 2.65), ("Sigma SDMerill (NPL)", 1.8, 4.0)],
)
def test_wood_under_seven_lights_comes_out_right_by_the_chart(camera, wood_mean, held_out):
    colour = colour_science()
    shape = colour.SpectralShape(400, 700, 10)

    def table(spectra):
        return np.asarray(spectra.copy().align(shape).values)

    patches = np.array(
        [table(one) for one in colour.SDS_COLOURCHECKERS["BabelColor Average"].values()]
    )
    eye = table(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
    d50 = table(colour.SDS_ILLUMINANTS["D50"])
    white = np.array([0.3457, 0.3585])

    def lab_of(spectra):
        return colour.XYZ_to_Lab((spectra * d50) @ eye / (d50 @ eye[:, 1]), white)

    wood = made_wood(np.random.default_rng(0), np.arange(400, 701, 10.0))
    off, left_out = [], []
    for name in ("D50", "D65", "A", "FL7", "LED-B1", "LED-B3", "LED-V1"):
        sensor = table(colour.MSDS_CAMERA_SENSITIVITIES[camera])
        sensor = sensor * table(colour.SDS_ILLUMINANTS[name])[:, None]
        sensor /= sensor.sum(axis=0)
        known = lab_of(patches)
        level = np.median(lab_to_linear(known[18:23]) / (patches @ sensor)[18:23], axis=0)
        fit = fit_colour(patches @ sensor * level, known)
        assert fit is not None
        left_out.append(fit.colour_map.held_out_mean)
        read = linear_to_lab(map_colours(wood @ sensor * level, fit.colour_map))
        off.append(delta_e00(read, lab_of(wood)))

    assert np.mean(off) < wood_mean
    assert np.mean(left_out) < held_out


def made_wood(rng, nm):
    """Reflectance of woods by Kubelka and Munk: absorption falls from blue to red."""
    spectra = []
    for _ in range(100):
        strength, fall = rng.uniform(0.05, 1.2), rng.uniform(60, 160)
        absorbed = strength * np.exp(-(nm - 450) / fall) + rng.uniform(0, 0.05)
        band = rng.uniform(0, 0.3) * strength
        absorbed += band * np.exp(-0.5 * ((nm - rng.uniform(450, 560)) / 60) ** 2)
        spectra.append(1 + absorbed - np.sqrt(absorbed**2 + 2 * absorbed))
    return np.array(spectra)
