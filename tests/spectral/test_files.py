"""The files a drawn camera writes."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from tests.spectral.darkroom import BODIES, raw_picture, tone_table, write_jpeg
from tests.spectral.raw_file import write_dng
from tests.spectral.station_scene import draw_station

pytestmark = pytest.mark.reference

MADE = np.array([[0.9, -0.2, -0.1], [-0.4, 1.2, 0.2], [-0.1, 0.2, 0.6]])


def small_shot(body):
    rng = np.random.default_rng(5)
    station = draw_station(rng, lamp_name="LED-V2", body=body)
    shot = station.photo(station.table(), rng)
    return replace(shot, camera=replace(shot.camera, photo_px=(600, 800)))


@pytest.mark.parametrize("body", BODIES, ids=lambda body: body.name)
def test_a_tone_curve_rises_all_the_way_and_differs_from_plain_srgb(body):
    table = tone_table(body)
    light = np.linspace(0, 1, len(table)) ** 2
    plain = 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)

    assert (np.diff(table) > 0).all()
    assert table[0] == pytest.approx(0, abs=1e-9)
    assert table[-1] == pytest.approx(255)
    assert np.abs(table - plain).max() > 4


@pytest.mark.parametrize("body", BODIES, ids=lambda body: body.name)
def test_a_jpeg_says_camera_lens_and_date_and_clips_nothing(body, tmp_path):
    write_jpeg(small_shot(body), tmp_path / "a.jpg")

    with Image.open(tmp_path / "a.jpg") as picture:
        levels = np.asarray(picture)
        part = picture.getexif().get_ifd(0x8769)
    assert picture.size == (600, 800)
    assert part[0xA405] == 35
    assert part[0x9003] == "2026:05:04 10:00:00"
    assert (levels >= 253).mean() < 1e-4


@pytest.mark.parametrize("body", BODIES[::2], ids=lambda body: body.name)
def test_another_program_reads_the_negative_as_it_was_exposed(body, tmp_path):
    rawpy = pytest.importorskip("rawpy")
    shot = small_shot(body)
    write_dng(shot, tmp_path / "a.dng", xyz_to_camera=MADE)

    with rawpy.imread(str(tmp_path / "a.dng")) as raw:
        values = raw.raw_image_visible.astype(np.float64)
        black, white = raw.black_level_per_channel[0], raw.white_level
        balance = np.array(raw.camera_whitebalance[:3])

    found = (values[..., :3] if values.ndim == 3 else values) - black
    assert found / (white - black) == pytest.approx(raw_picture(shot), abs=1e-4)
    assert balance / balance[1] == pytest.approx(
        (1 / shot.balance) / (1 / shot.balance)[1], rel=1e-3
    ) or balance / balance[1] == pytest.approx(shot.balance / shot.balance[1], rel=1e-3)
