from __future__ import annotations

from dataclasses import astuple

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from skimage import data
from skimage.feature import structure_tensor
from skimage.filters import difference_of_gaussians

from vision.colour_space import srgb_to_linear
from vision.figure import measure_figure
from vision.leaf_image import LeafImage

Field = NDArray[np.float64]
OVER = 2
"""Made wood is drawn this many times finer and averaged, as a sensor does."""


def leaf_of(lightness: Field, *, px_per_mm: float | None = 2.0) -> LeafImage:
    """Return a grey leaf of given CIE 1976 lightness, above L* 8."""
    y = ((lightness + 16) / 116) ** 3
    light = np.repeat(y[..., None], 3, axis=2).astype(np.float32)
    return LeafImage(light, np.ones(lightness.shape, bool), px_per_mm)


def places(
    length_mm: float, width_mm: float, *, angle_deg: float, px_per_mm: float
) -> tuple[Field, Field]:
    """Return across and along the grain, mm; the grain leans to the right going up."""
    rows, columns = (int(side * px_per_mm) * OVER for side in (length_mm, width_mm))
    y, x = (np.mgrid[:rows, :columns] + 0.5) / (px_per_mm * OVER)
    turn = np.radians(angle_deg)
    return x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)


def averaged(fine: Field) -> Field:
    rows, columns = fine.shape[0] // OVER, fine.shape[1] // OVER
    return fine.reshape(rows, OVER, columns, OVER).mean(axis=(1, 3))


def made_wood(
    *,
    angle_deg: float = 0.0,
    pitch_mm: float = 2.2,
    depth: float = 2.0,
    stripes: float = 0.0,
    period_mm: float = 12.0,
    noise: float = 0.8,
    px_per_mm: float = 2.0,
    length_mm: float = 420.0,
    width_mm: float = 140.0,
) -> Field:
    """Return lightness of dark lines unevenly spaced and, across them, peaky wandering stripes."""
    rng = np.random.default_rng(7)
    across, along = places(length_mm, width_mm, angle_deg=angle_deg, px_per_mm=px_per_mm)
    low, high = across.min(), across.max()
    lines = np.arange(low, high, pitch_mm)
    lines = lines + 0.15 * pitch_mm * rng.uniform(-1, 1, len(lines))
    grid = np.arange(low, high, 0.05)
    nearest = np.abs(grid[:, None] - lines).min(axis=1)
    profile = -depth * np.exp(-0.5 * (nearest / (0.17 * pitch_mm)) ** 2)
    wood = 65 + np.interp(across, grid, profile)
    phase = 2 * np.pi * along / period_mm + 0.8 * np.sin(across / 23) + 0.5 * np.sin(along / 70)
    wood += stripes * (np.sin(phase) + 0.3 * np.sin(2 * phase + 1))
    seen = averaged(wood)
    return seen + rng.normal(0, noise, seen.shape)


def direction_by_scikit_image(lightness: Field, *, px_per_mm: float) -> float:
    """Return the direction of the grain in the same millimetre band, by another library.

    Its derivatives are Sobel's, which turn fine waves; so the picture is spread out first.
    """
    spread = cv2.resize(lightness, None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC)
    sigma = 3 * px_per_mm * np.array([0.25, 0.6])
    band = difference_of_gaussians(spread, *sigma)
    edge = int(2 * sigma[1])
    rr, rc, cc = (part[edge:-edge, edge:-edge].mean() for part in structure_tensor(band, sigma=1.0))
    return float(np.degrees(np.arctan2(2 * rc, cc - rr)) / 2)


def apart(one: float | None, other: float) -> float:
    """Return the angle between two directions, 0 to 90 degrees."""
    assert one is not None
    return abs((one - other + 90) % 180 - 90)


@pytest.mark.parametrize("angle_deg", [-88, -60, -45, -31, -12, -3, 0, 1.5, 7, 20, 44, 63, 90])
@pytest.mark.parametrize("wavelength_mm", [1.9, 2.4])
def test_gratings_lean_as_drawn_and_as_another_library_says(angle_deg: float, wavelength_mm: float):
    across, _ = places(140, 64, angle_deg=angle_deg, px_per_mm=4.0)
    lightness = averaged(65 + 3 * np.sin(2 * np.pi * across / wavelength_mm))

    figure = measure_figure(leaf_of(lightness, px_per_mm=4.0))

    assert apart(figure.grain_angle_deg, angle_deg) < 0.5
    other = direction_by_scikit_image(lightness, px_per_mm=4.0)
    assert apart(figure.grain_angle_deg, other) < 0.5
    assert figure.grain_straightness == pytest.approx(1, abs=0.01)


def test_grain_that_leans_to_the_right_going_up_is_positive():
    picture = np.full((1200, 600), 150, np.uint8)
    for left in range(-200, 600, 18):
        cv2.line(picture, (left, 1199), (left + 120, 0), 110, 3, cv2.LINE_AA)
    light = srgb_to_linear(np.repeat(picture[..., None], 3, axis=2))

    figure = measure_figure(LeafImage(light, np.ones(picture.shape, bool), px_per_mm=8.0))

    assert figure.grain_angle_deg == pytest.approx(np.degrees(np.arctan2(120, 1199)), abs=0.3)


def turned_bricks(turned_deg: float) -> NDArray[np.uint8]:
    """Return a photograph of brick courses, which lies in scikit-image's wheel, turned."""
    picture = data.brick().astype(np.float32)
    middle = ((picture.shape[1] - 1) / 2, (picture.shape[0] - 1) / 2)
    turn = cv2.getRotationMatrix2D(middle, -turned_deg, 1.0)
    turned = cv2.warpAffine(picture, turn, picture.shape[::-1], flags=cv2.INTER_CUBIC)
    return np.clip(turned[80:-80, 80:-80], 0, 255).astype(np.uint8)


def brick_angle(turned_deg: float) -> float | None:
    inner = turned_bricks(turned_deg)
    light = srgb_to_linear(np.repeat(inner[..., None], 3, axis=2))
    leaf = LeafImage(light, np.ones(inner.shape, bool), px_per_mm=2.0)
    return measure_figure(leaf).grain_angle_deg


@pytest.mark.parametrize("turned_deg", [-30, -17, -5, 0, 8, 22, 35])
def test_a_photographed_texture_turns_as_it_is_turned(turned_deg: float):
    angle = brick_angle(turned_deg)

    straight = brick_angle(0)
    assert straight is not None
    assert apart(angle, straight + turned_deg) < 1.2
    levels = turned_bricks(turned_deg).astype(np.float64)
    assert apart(angle, direction_by_scikit_image(levels, px_per_mm=2.0)) < 3.0


@pytest.mark.parametrize("picture", ["grass", "gravel"])
def test_a_texture_without_a_direction_has_no_grain(picture: str):
    levels = np.repeat(getattr(data, picture)()[..., None], 3, axis=2)

    figure = measure_figure(LeafImage(srgb_to_linear(levels), np.ones((512, 512), bool), 4.0))

    assert figure.grain_angle_deg is None
    assert figure.line_pitch_mm is None


@pytest.mark.parametrize(("noise", "error_deg"), [(0.0, 0.3), (1.0, 0.6), (2.0, 1.2)])
@pytest.mark.parametrize("angle_deg", [-9.0, 4.0])
def test_noise_of_the_sensor_hardly_turns_the_grain(
    noise: float, error_deg: float, angle_deg: float
):
    figure = measure_figure(leaf_of(made_wood(angle_deg=angle_deg, noise=noise)))

    assert figure.grain_angle_deg == pytest.approx(angle_deg, abs=error_deg)


def test_noise_alone_has_no_grain_and_no_figure():
    noise = 65 + np.random.default_rng(0).normal(0, 2, (1200, 320))

    figure = measure_figure(leaf_of(noise))

    assert figure.grain_angle_deg is None
    assert figure.cross_figure_period_mm is None
    assert figure.cross_figure_strength == pytest.approx(0, abs=0.25)
    assert figure.flake_density == pytest.approx(0, abs=0.001)


@pytest.mark.parametrize("period_mm", [5.0, 8.0, 14.0, 25.0])
@pytest.mark.parametrize("stripes", [2.0, 8.0])
@pytest.mark.parametrize("px_per_mm", [1.3, 2.0])
def test_strong_stripes_across_do_not_turn_the_grain_by_a_quarter(
    period_mm: float, stripes: float, px_per_mm: float
):
    wood = made_wood(
        angle_deg=4, depth=1.5, stripes=stripes, period_mm=period_mm, px_per_mm=px_per_mm
    )

    figure = measure_figure(leaf_of(wood, px_per_mm=px_per_mm))

    assert figure.grain_angle_deg == pytest.approx(4, abs=2)
    assert figure.cross_figure_period_mm == pytest.approx(period_mm, rel=0.08)


@pytest.mark.parametrize("px_per_mm", [1.3, 2.0, 3.4])
@pytest.mark.parametrize("period_mm", [9.0, 20.0])
def test_the_strength_of_stripes_is_their_spread_at_any_resolution(
    period_mm: float, px_per_mm: float
):
    wood = made_wood(stripes=4.0, period_mm=period_mm, px_per_mm=px_per_mm, length_mm=280)

    figure = measure_figure(leaf_of(wood, px_per_mm=px_per_mm))

    spread = 4.0 * np.sqrt((1 + 0.3**2) / 2)
    assert figure.cross_figure_strength == pytest.approx(spread, rel=0.12)


def test_plain_wood_has_no_period_and_no_flakes():
    figure = measure_figure(leaf_of(made_wood(angle_deg=3)))

    assert figure.cross_figure_period_mm is None
    assert figure.cross_figure_strength is not None
    assert figure.cross_figure_strength < 0.3
    assert figure.flake_density == pytest.approx(0, abs=0.001)


@pytest.mark.parametrize("pitch_mm", [2.5, 3.0, 4.0, 6.0])
def test_the_pitch_is_the_mean_distance_of_the_lines(pitch_mm: float):
    figure = measure_figure(leaf_of(made_wood(angle_deg=2, pitch_mm=pitch_mm, noise=0.5)))

    assert figure.line_pitch_mm == pytest.approx(pitch_mm, rel=0.06)


def test_wavy_grain_is_less_straight():
    across, along = places(600, 160, angle_deg=0, px_per_mm=2.0)
    wavy = averaged(65 + 3 * np.sin(2 * np.pi * (across + 25 * np.sin(along / 90)) / 2.2))

    figure = measure_figure(leaf_of(wavy))

    assert figure.grain_straightness is not None
    # Slopes of 25/90 cos(...): the mean of cos(2 atan(slope)) over the wave is 0.93.
    assert figure.grain_straightness == pytest.approx(0.93, abs=0.04)


def test_flecks_cover_the_share_they_were_drawn_on():
    rng = np.random.default_rng(3)
    wood = made_wood(length_mm=800, px_per_mm=2.0)
    flecks = np.zeros(wood.shape, np.uint8)
    for _ in range(160):
        middle = (int(rng.uniform(0, wood.shape[1])), int(rng.uniform(0, wood.shape[0])))
        axes = (int(rng.uniform(10, 22)), int(rng.uniform(2, 4)))
        cv2.ellipse(flecks, middle, axes, float(rng.uniform(-12, 12)), 0, 360, 1, -1)

    figure = measure_figure(leaf_of(wood + 6.0 * flecks))

    assert figure.flake_density == pytest.approx(flecks.mean(), rel=0.3)


def test_stripes_are_not_flecks():
    figure = measure_figure(leaf_of(made_wood(stripes=6.0, period_mm=10)))

    assert figure.flake_density == pytest.approx(0, abs=0.005)


def test_what_lies_beside_the_leaf_does_not_count():
    wood = made_wood(angle_deg=5, stripes=3.0)
    alone = measure_figure(leaf_of(wood))
    board = np.random.default_rng(1).uniform(10, 95, (wood.shape[0] + 200, wood.shape[1] + 160))
    board[100:-100, 80:-80] = wood
    framed = leaf_of(board)
    on_leaf = np.zeros(board.shape, bool)
    on_leaf[100:-100, 80:-80] = True

    figure = measure_figure(LeafImage(framed.light, on_leaf, 2.0))

    assert astuple(figure) == pytest.approx(astuple(alone), rel=1e-4)


def test_without_a_scale_nothing_is_told():
    figure = measure_figure(leaf_of(made_wood(), px_per_mm=None))

    assert set(astuple(figure)) == {None}


@pytest.mark.parametrize(
    ("px_per_mm", "known"),
    [
        (0.2, set()),
        (0.5, {"period"}),
        (1.1, {"period", "grain"}),
        (1.4, {"period", "grain", "strength"}),
        (2.0, {"period", "grain", "strength", "pitch"}),
    ],
)
def test_what_the_picture_is_too_coarse_for_is_not_told(px_per_mm: float, known: set[str]):
    wood = made_wood(stripes=4, period_mm=14, px_per_mm=px_per_mm, depth=4, pitch_mm=3.2, noise=0.3)

    figure = measure_figure(leaf_of(wood, px_per_mm=px_per_mm))

    told = {
        "grain": figure.grain_angle_deg,
        "pitch": figure.line_pitch_mm,
        "period": figure.cross_figure_period_mm,
        "strength": figure.cross_figure_strength,
    }
    assert {name for name, value in told.items() if value is not None} == known


def test_a_scrap_too_small_for_a_patch_tells_nothing():
    figure = measure_figure(leaf_of(np.full((40, 40), 60.0)))

    assert set(astuple(figure)) == {None}
