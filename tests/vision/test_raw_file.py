from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.vision.made_dng import Camera, dng
from tests.vision.made_extras import extra
from tests.vision.made_files import read, refusal
from vision.colour_space import delta_e00, linear_to_lab, srgb_to_linear
from vision.photo import Photo, read_photo
from vision.raw_file import LEVEL, is_raw
from vision.settings import DEFAULT_VISION_SETTINGS as SETTINGS

AREA_PX = 50
UNTURNS = {1: 0, 3: 2, 6: 1, 8: 3}
"""Quarter turns, against the clock, from upright to how the sensor lay."""


def wood(light: float = 1.0) -> NDArray[np.float64]:
    """Return linear sRGB light of 6 x 8 areas, dark to pale wood, red to yellow, and greys."""
    rng = np.random.default_rng(4)
    areas = np.array([0.55, 0.35, 0.18]) * np.linspace(0.3, 1.3, 48).reshape(6, 8, 1)
    areas *= rng.uniform(0.85, 1.15, areas.shape)
    areas[:, 0] = np.array([0.80, 0.55, 0.38, 0.26, 0.17, 0.10])[:, None]
    return areas * light


def spread(areas: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.kron(areas, np.ones((AREA_PX, AREA_PX, 1)))


def light_of(photo: Photo) -> NDArray[np.float64]:
    """Return the mean light of the inner part of each area, in the scale of the scene."""
    inner = srgb_to_linear(photo.rgb).reshape(6, AREA_PX, 8, AREA_PX, 3)[:, 10:40, :, 10:40]
    return inner.mean(axis=(1, 3)) / LEVEL


@pytest.mark.reference
@pytest.mark.parametrize("neutral", [(0.5, 1.0, 0.7), (0.8, 1.0, 0.4), (1.0, 1.0, 1.0)])
def test_raw_gives_the_lab_of_the_scene_whatever_the_white_balance(
    neutral: tuple[float, float, float], tmp_path: Path
):
    extra("rawpy")

    photo = read(tmp_path, dng(spread(wood()), Camera(neutral)), "leaf.dng")

    difference = delta_e00(linear_to_lab(light_of(photo)), linear_to_lab(wood()))
    assert photo.is_linear
    assert (photo.taken_at, photo.focal_35mm) == ("2026-03-14T15:09:26", 35.0)
    assert (photo.full_width_px, photo.full_height_px, photo.reduction) == (400, 300, 1.0)
    assert difference.max() < 0.5
    assert difference.mean() < 0.25


@pytest.mark.reference
@pytest.mark.parametrize("orientation", UNTURNS)
def test_the_turn_of_a_raw_file_is_applied_exactly_once(orientation: int, tmp_path: Path):
    extra("rawpy")
    as_lain = np.rot90(spread(wood()), UNTURNS[orientation])

    photo = read(tmp_path, dng(as_lain, Camera(orientation=orientation)), "leaf.dng")

    assert (photo.full_width_px, photo.full_height_px) == (400, 300)
    assert np.abs(light_of(photo) - wood()).max() < 0.02


@pytest.mark.reference
def test_the_level_is_the_same_for_every_photograph_of_a_series(tmp_path: Path):
    extra("rawpy")
    alone = wood(0.2)
    beside_a_lamp = alone.copy()
    beside_a_lamp[0, 0] = 1.0
    beside_a_lamp[5, 7] = (0.02, 0.02, 0.02)

    dim = light_of(read(tmp_path, dng(spread(alone), Camera()), "dim.dng"))
    bright = light_of(read(tmp_path, dng(spread(beside_a_lamp), Camera()), "bright.dng"))

    assert np.array_equal(dim[1:5], bright[1:5])
    assert dim[1:5] == pytest.approx(alone[1:5], rel=0.03, abs=0.002)


@pytest.mark.reference
def test_without_a_balance_in_the_file_daylight_is_taken(tmp_path: Path):
    extra("rawpy")

    photo = read(tmp_path, dng(spread(wood()), Camera(says_balance=False)), "leaf.dng")

    assert np.abs(light_of(photo) - wood()).max() < 0.02  # the made camera's daylight is its grey


@pytest.mark.reference
def test_no_colour_clips_that_the_sensor_holds_and_all_that_it_lost_is_white(tmp_path: Path):
    extra("rawpy")
    areas = wood(0.5)
    areas[2, 2] = (1.6, 0.95, 0.6)  # red far above green, and green nearly full
    areas[3, 5] = (1.4, 1.4, 1.4)  # beyond the sensor

    photo = read(tmp_path, dng(spread(areas), Camera()), "leaf.dng")

    assert light_of(photo)[2, 2] == pytest.approx(areas[2, 2], rel=0.01)
    lost = photo.rgb[3 * AREA_PX : 4 * AREA_PX, 5 * AREA_PX : 6 * AREA_PX]
    assert (lost == 255).all()
    assert (photo.rgb == 255).all(axis=2).sum() <= (AREA_PX + 4) ** 2


@pytest.mark.reference
def test_a_raw_file_may_be_opened_at_half_its_size(tmp_path: Path):
    extra("rawpy")
    path = tmp_path / "leaf.dng"
    path.write_bytes(dng(np.kron(wood(), np.ones((2 * AREA_PX, 2 * AREA_PX, 1))), Camera()))

    photo = read_photo(path, settings=SETTINGS, least_long_px=300)

    assert photo.rgb.shape == (300, 400, 3)
    assert (photo.full_width_px, photo.full_height_px, photo.reduction) == (800, 600, 2.0)
    assert np.abs(light_of(photo) - wood()).max() < 0.02


@pytest.mark.reference
@pytest.mark.parametrize("cut", [0.1, 0.4, 0.9])
def test_a_raw_file_cut_short_is_refused(cut: float, tmp_path: Path):
    extra("rawpy")
    data = dng(spread(wood()), Camera())
    cut_short = data[: int(cut * len(data))]

    assert "whole one is needed" in refusal(tmp_path, cut_short, "leaf.dng")


@pytest.mark.reference
def test_raw_files_unfit_by_size_or_kind_are_refused_in_words(tmp_path: Path):
    extra("rawpy")
    whole = dng(spread(wood()), Camera())

    assert "up to 0.05" in refusal(tmp_path, whole, "leaf.dng", max_megapixels=0.05)
    assert "at least 200 px" in refusal(tmp_path, dng(spread(wood())[:150], Camera()), "leaf.dng")
    assert "not known here" in refusal(tmp_path, b"FUJIFILMCCD-RAW 0201" + bytes(500), "leaf.raf")


def test_raw_is_told_by_its_head_whatever_its_name():
    data = dng(spread(wood()), Camera())

    assert is_raw(data, "leaf.tif")
    assert not is_raw(b"\xff\xd8\xff\xe0" + bytes(100), "leaf.dng")
