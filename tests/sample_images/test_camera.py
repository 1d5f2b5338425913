import numpy as np
import pytest

from sample_images.camera import Camera, develop, fill


def a_camera(**changes) -> Camera:
    values = {
        "position_mm": (12.0, -8.0, 2100.0),
        "tilt_deg": (0.4, -0.3, 0.5),
        "photo_px": (1000, 1500),
        "distortion": (-0.05, 0.01),
        "vignetting": 0.6,
    }
    return Camera(**(values | changes))


def test_board_to_photo_and_back_is_the_same_place():
    board = np.array([[0.0, 0.0], [300.0, 900.0], [-500.0, -1100.0]])

    assert a_camera().to_board(a_camera().to_photo(board)) == pytest.approx(board, abs=1e-6)


def test_up_the_board_is_up_the_picture_and_right_is_right():
    photo = a_camera(tilt_deg=(0.0, 0.0, 0.0)).to_photo(np.array([[0.0, 0.0], [0, 100], [100, 0]]))

    assert photo[1, 1] < photo[0, 1]
    assert photo[2, 0] > photo[0, 0]


def test_the_coarse_map_is_exact_to_a_hundredth_of_a_pixel():
    camera = a_camera()
    nodes = camera.to_board(camera.nodes()).astype(np.float32)
    rows, columns = slice(700, 1500), slice(3, 900)
    y, x = np.mgrid[rows, columns]
    wanted = camera.to_board(np.stack([x, y], axis=-1).astype(float))

    found = fill(nodes, rows, columns)

    assert np.abs(found - wanted).max() * camera.px_per_mm < 0.01


def test_noise_is_one_percent_at_mid_grey():
    grey = np.full((400, 400, 3), 0.2, np.float32)

    codes = develop(grey, np.random.default_rng(1), pixel_noise=0.01).astype(float) / 255
    linear = ((codes + 0.055) / 1.055) ** 2.4

    assert linear.std() / linear.mean() == pytest.approx(0.01, abs=0.002)
