from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.vision.made_files import (
    UNTURN,
    as_bytes,
    deep_png,
    deep_tiff,
    jpeg,
    read,
    scene,
    stored,
)
from vision.photo import read_photo
from vision.settings import DEFAULT_VISION_SETTINGS as SETTINGS


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "deep png", "deep tiff"])
def test_the_turn_of_the_camera_is_applied_exactly_once(
    kind: str, orientation: int, tmp_path: Path
):
    upright = Image.fromarray(scene())
    turn = UNTURN[orientation]
    as_stored = upright if turn is None else upright.transpose(turn)

    photo = read(tmp_path, stored(kind, as_stored, orientation))

    assert (photo.full_width_px, photo.full_height_px) == (320, 240)
    difference = np.abs(photo.rgb.astype(int) - np.asarray(upright))
    assert difference.mean() < (1.5 if kind == "JPEG" else 1e-9)


def test_a_photograph_is_known_by_the_bytes_of_its_file_and_cannot_be_changed(tmp_path: Path):
    data = jpeg(scene())

    photo = read(tmp_path, data, "leaf 03.jpg")

    assert photo.sha256 == hashlib.sha256(data).hexdigest()
    assert photo.file == "leaf 03.jpg"
    assert photo.reduction == 1.0
    assert photo.rgb.flags.c_contiguous
    with pytest.raises(ValueError, match="read-only"):
        photo.rgb[0, 0] = 0


def test_time_and_focal_length_come_from_the_exif_block(tmp_path: Path):
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x9003: "2026:03:14 15:09:26", 0xA405: 35})

    photo = read(tmp_path, jpeg(scene(), exif=exif))

    assert (photo.taken_at, photo.focal_35mm) == ("2026-03-14T15:09:26", 35.0)


def test_a_clock_never_set_and_a_focal_length_of_nought_are_unknown(tmp_path: Path):
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x9003: "0000:00:00 00:00:00", 0xA405: 0})

    photo = read(tmp_path, jpeg(scene(), exif=exif))

    assert (photo.taken_at, photo.focal_35mm) == (None, None)


def test_a_damaged_exif_block_does_not_cost_the_photograph(tmp_path: Path):
    photo = read(tmp_path, jpeg(scene(), exif=b"Exif\0\0MM\0*\0\0\0\x08\xff\xff" + b"\x12" * 40))

    assert photo.rgb.shape == (240, 320, 3)
    assert photo.taken_at is None


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_picture_beyond_thirty_megapixels_is_halved(kind: str, tmp_path: Path):
    large = np.kron(scene(), np.ones((20, 20, 1), np.uint8))[:4800, :6401]
    exif = Image.Exif()
    exif[0x0112] = 6

    options = {"compress_level": 1} if kind == "PNG" else {"quality": 90}
    photo = read(tmp_path, as_bytes(Image.fromarray(large), kind, exif=exif, **options))

    assert (photo.full_width_px, photo.full_height_px) == (4800, large.shape[1])
    assert photo.reduction == 2.0
    assert photo.rgb.shape == (3200, 2400, 3)
    block = photo.rgb[:100, -60:].mean(axis=(0, 1))  # the red mark, now at the top right
    assert block == pytest.approx((230, 20, 20), abs=3)


@pytest.mark.parametrize("kind", ["deep png", "deep tiff", "deep tiff, packed"])
def test_sixteen_bits_are_rounded_not_cut(kind: str, tmp_path: Path):
    deep = np.random.default_rng(2).integers(0, 65536, (220, 240, 3), dtype=np.uint16)
    data = deep_png(deep) if kind == "deep png" else deep_tiff(deep)
    if kind == "deep tiff, packed":
        data = deep_tiff(deep, compression="zlib")

    photo = read(tmp_path, data)

    assert np.abs(photo.rgb - deep / 257).max() <= 0.5


def test_an_alpha_channel_that_hides_nothing_is_left_aside(tmp_path: Path):
    picture = Image.fromarray(scene()).convert("RGBA")

    photo = read(tmp_path, as_bytes(picture, "PNG"), "leaf.png")

    assert np.array_equal(photo.rgb, scene())


def test_a_large_jpeg_may_be_opened_smaller_and_still_knows_its_size(tmp_path: Path):
    path = tmp_path / "large.jpg"
    Image.new("RGB", (3200, 2400), (120, 90, 60)).save(path)

    photo = read_photo(path, settings=SETTINGS, least_long_px=1500)

    assert photo.rgb.shape == (1200, 1600, 3)
    assert (photo.full_width_px, photo.full_height_px, photo.reduction) == (3200, 2400, 2.0)
