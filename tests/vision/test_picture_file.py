"""Written pictures: colour, size and silence about the camera."""

import io

import numpy as np
import pytest
from PIL import Image, ImageCms

from vision.picture_file import PictureKind, encode_mask, encode_picture, srgb_profile

WOOD = np.random.default_rng(5).integers(90, 200, (50, 80, 3), dtype=np.uint8)


@pytest.mark.parametrize("kind", PictureKind)
def test_every_file_says_that_it_is_srgb(kind: PictureKind) -> None:
    picture = Image.open(io.BytesIO(encode_picture(WOOD, kind)))

    profile = ImageCms.ImageCmsProfile(io.BytesIO(picture.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)


@pytest.mark.parametrize("kind", PictureKind)
def test_every_file_prints_at_real_size(kind: PictureKind) -> None:
    file = encode_picture(WOOD, kind, px_per_mm=150 / 25.4)

    picture = Image.open(io.BytesIO(file))
    assert [float(dpi) for dpi in picture.info["dpi"]] == pytest.approx([150, 150], rel=1e-3)


@pytest.mark.parametrize("kind", PictureKind)
def test_no_file_carries_camera_data(kind: PictureKind) -> None:
    picture = Image.open(io.BytesIO(encode_picture(WOOD, kind, px_per_mm=4.0)))

    described_by_the_format_itself = set(range(254, 340)) | {34675}
    assert set(picture.getexif()) <= described_by_the_format_itself
    assert "exif" not in picture.info


@pytest.mark.parametrize("kind", [PictureKind.PNG, PictureKind.TIFF])
def test_lossless_kinds_keep_every_pixel(kind: PictureKind) -> None:
    picture = Image.open(io.BytesIO(encode_picture(WOOD, kind)))

    assert np.array_equal(np.asarray(picture), WOOD)


def test_the_same_picture_gives_the_same_bytes() -> None:
    once = [encode_picture(WOOD, kind, px_per_mm=2.0) for kind in PictureKind]

    srgb_profile.cache_clear()
    assert once == [encode_picture(WOOD, kind, px_per_mm=2.0) for kind in PictureKind]


def test_a_mask_comes_back_bit_by_bit_whatever_its_width() -> None:
    masks = [np.random.default_rng(width).random((5, width)) < 0.5 for width in (1, 8, 13, 300)]

    seen = [Image.open(io.BytesIO(encode_mask(mask))) for mask in masks]

    for mask, picture in zip(masks, seen, strict=True):
        assert picture.mode == "1"
        np.testing.assert_array_equal(np.asarray(picture), mask)
