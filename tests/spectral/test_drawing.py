"""Where things land in a drawn photograph, and how light they are there."""

import cv2
import numpy as np
import pytest

from tests.spectral.bands import NM, to_lab, xyz_to_lab, xyz_weights
from tests.spectral.camera import Camera
from tests.spectral.exposure import light_on_sensor
from tests.spectral.lamps_and_sensors import Sight, sensor
from tests.spectral.printed_rails import HOLDER_IDS
from tests.spectral.station_scene import draw_leaf, draw_station

pytestmark = pytest.mark.reference

CAMERA = Camera((250.0, 900.0, 3000.0), (0.4, -0.3, 0.8), (1200, 1800), 34.0, -0.05, 0.02)


def the_eye() -> Sight:
    """Return a sensor that sees X, Y, Z under D50, lit by two equal lamps."""
    return Sight(np.ones((2, len(NM))), xyz_weights())


def whole(table, camera=CAMERA, *, blur_px=0.0) -> np.ndarray:
    rng = np.random.default_rng(0)
    strips = light_on_sensor(table, camera, the_eye(), rng, blur_px=blur_px)
    return np.vstack([raw for _, raw in strips])


def lamp_light(table, camera, height_mm=0.0) -> np.ndarray:
    width, height = camera.photo_px
    px = np.stack(np.meshgrid(np.arange(width * 1.0), np.arange(height * 1.0)), axis=-1)
    mm = camera.to_mm(px, height_mm)
    return camera.vignette(px) * sum(lamp.light(mm, height_mm) for lamp in table.lamps)


@pytest.fixture(scope="module")
def station():
    return draw_station(np.random.default_rng(11), lamp_name="D50", markers=19)


@pytest.fixture(scope="module")
def bare(station):
    return whole(station.table())


@pytest.mark.parametrize("height_mm", [0.0, 20.0])
def test_pixels_and_millimetres_undo_each_other(height_mm):
    points = np.stack(np.meshgrid(np.linspace(-600, 1000, 7), np.linspace(-300, 2200, 9)), axis=-1)

    back = CAMERA.to_mm(CAMERA.to_px(points, height_mm), height_mm)

    assert np.abs(back - points).max() < 1e-6


def test_a_raised_point_moves_outwards_as_similar_triangles_say():
    level = Camera((0.0, 0.0, 3000.0), (0.0, 0.0, 0.0), (1200, 1800), 35.0, 0.0, 0.0)
    point = np.array([[300.0, 1200.0]])

    seen_as = level.to_mm(level.to_px(point, 20.0), 0.0)

    assert seen_as == pytest.approx(point * 3000 / 2980)


def test_rows_run_along_and_columns_across():
    at = CAMERA.to_px(np.array([[0.0, 0.0], [500.0, 0.0], [0.0, 1800.0]]))

    assert at[1, 0] > at[0, 0] + 200
    assert at[2, 1] > at[0, 1] + 800


def test_the_centre_of_gravity_of_a_grey_lies_where_it_was_laid(station, bare):
    table = station.table()
    light = lamp_light(table, CAMERA)
    paper = station.spectra["paper"] @ xyz_weights()[:, 1]
    for x, y, reflectance in station.rails.grey_centres("right")[2:7]:
        place = CAMERA.to_px(station.rails.on_table("right", np.array([[x, y]])))[0]
        columns, rows = (slice(int(p) - 7, int(p) + 8) for p in np.rint(place))
        seen = bare[rows, columns, 1] / light[rows, columns]
        share = (paper - seen) / (paper - reflectance)
        yy, xx = np.mgrid[rows, columns]
        share[np.abs(yy - place[1]) > 12 * CAMERA.px_per_mm] = 0  # the next grey begins at 14 mm
        at = np.array([(share * xx).sum(), (share * yy).sum()]) / share.sum()

        assert np.abs(at - place).max() < 0.03
        area_mm2 = share.sum() / CAMERA.px_per_mm**2
        assert area_mm2 == pytest.approx(400, rel=0.03)


def test_every_marker_is_found_where_it_was_laid(station):
    camera = Camera((250.0, 900.0, 2100.0), (0.4, -0.3, 0.8), (2400, 3600), 34.0, -0.05, 0.02)
    raw = whole(station.table(), camera, blur_px=0.55)[..., 1]
    grey = (255 * np.clip(raw / raw.max(), 0, 1) ** (1 / 2.2)).astype(np.uint8)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)

    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)

    truth = station.rails.marker_centres()
    assert set(ids.ravel()) == {*truth, *HOLDER_IDS}
    off = np.array(
        [
            quad.reshape(4, 2).mean(axis=0) - camera.to_px(truth[number])
            for quad, number in zip(corners, ids.ravel(), strict=True)
            if number in truth
        ]
    )
    assert np.abs(off).max() < 1.0  # the detector rounds corners to whole pixels
    assert np.abs(off.mean(axis=0)).max() < 0.15


def test_a_perfect_eye_and_even_light_read_the_true_colour_of_every_patch(station, bare):
    light = lamp_light(station.table(), CAMERA)
    for patch in station.holder.patches()[-24:]:
        x, y = np.rint(CAMERA.to_px(patch.corners.mean(axis=0, keepdims=True))[0]).astype(int)
        window = (slice(y - 4, y + 5), slice(x - 4, x + 5))
        seen = (bare[window] / light[window][..., None]).mean(axis=(0, 1))

        assert xyz_to_lab(seen) == pytest.approx(to_lab(station.spectra[patch.ink]), abs=0.02)


@pytest.mark.parametrize("height_mm", [0.6, 20.0])
def test_a_perfect_eye_and_even_light_read_the_true_colour_of_the_leaf(station, height_mm):
    leaf = draw_leaf(
        station, np.random.default_rng(2), wood="walnut", length_mm=1500, height_mm=height_mm
    )
    table = station.table(leaf)
    seen = whole(table) / lamp_light(table, CAMERA, height_mm)[..., None]
    width, height = CAMERA.photo_px
    px = np.stack(np.meshgrid(np.arange(width * 1.0), np.arange(height * 1.0)), axis=-1)
    uv = leaf.from_table(CAMERA.to_mm(px, height_mm))
    across = (uv[..., 0] > 2) & (uv[..., 0] < leaf.width_mm - 2)

    truth = leaf.slice_lab()
    for index in range(20):
        along = (uv[..., 1] > index * 75 + 1) & (uv[..., 1] < (index + 1) * 75 - 1)
        assert xyz_to_lab(seen[across & along].mean(axis=0)) == pytest.approx(
            truth[index], abs=0.15
        )
    assert leaf.mean_lab() == pytest.approx(truth.mean(axis=0), abs=0.2)


def test_leaf_edges_lie_where_the_corners_say(station):
    leaf = draw_leaf(station, np.random.default_rng(2), wood="maple", length_mm=1500)
    table = station.table(leaf)
    seen = whole(table)[..., 1] / lamp_light(table, CAMERA)
    board = station.board @ xyz_weights()[:, 1]
    for v in (200.0, 750.0, 1300.0):
        left, right = CAMERA.to_px(leaf.on_table(np.array([[0.0, v], [300.0, v]])), 0.6)
        row = round((left[1] + right[1]) / 2)
        middle = seen[row, int(left[0]) + 3 : int(right[0]) - 3].mean()
        line = seen[row, int(left[0]) - 8 : int(right[0]) + 9]

        width = ((line - board) / (middle - board)).sum()
        assert width == pytest.approx(np.hypot(*(right - left)), abs=1.2)


def test_lamps_said_to_be_redder_are_so_to_the_camera(station):
    other = station.relamped(lighter=0.05, redder=0.05)
    white = np.ones(len(NM))
    before, after = (
        Sight(one.powers, sensor("bayer")).rgb(white).mean(axis=0) for one in (station, other)
    )

    ratio = (after[0] / after[2]) / (before[0] / before[2])
    assert ratio == pytest.approx(1.05, abs=0.012)
    assert other.lamps[0].strength == pytest.approx(1.05 * station.lamps[0].strength)
