"""The pictures kept of a leaf."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageCms

from catalog.kept_pictures import encode_leaf
from vision.leaf_image import LeafImage


def a_leaf_image(rows: int = 900, columns: int = 120, *, margin: int = 10) -> LeafImage:
    """Return a brown leaf, lighter towards its end, with black beside it."""
    light = np.zeros((rows, columns, 3), np.float32)
    ramp = np.linspace(0.2, 0.3, rows, dtype=np.float32)[:, None, None]
    light[...] = ramp * np.array([1.0, 0.7, 0.45], np.float32)
    on_leaf = np.zeros((rows, columns), bool)
    on_leaf[margin : rows - margin, margin : columns - margin] = True
    light[~on_leaf] = 0.0
    return LeafImage(light, on_leaf, None)


def opened(file: bytes) -> Image.Image:
    return Image.open(io.BytesIO(file))


@pytest.mark.parametrize("kind", ["flat", "screen", "thumb"])
def test_every_picture_says_that_it_is_srgb_and_nothing_of_the_camera(kind: str) -> None:
    picture = opened(getattr(encode_leaf(a_leaf_image()), kind))

    profile = ImageCms.ImageCmsProfile(io.BytesIO(picture.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)
    assert not picture.getexif()
    assert picture.format == "JPEG"


def test_pictures_are_as_long_as_promised_and_never_enlarged() -> None:
    long = encode_leaf(a_leaf_image(7000, 140))
    short = encode_leaf(a_leaf_image(300, 60))

    assert [opened(file).height for file in (long.flat, long.screen, long.thumb)] == [
        6000,
        1600,
        400,
    ]
    assert [opened(file).size for file in (short.flat, short.screen, short.thumb)] == [
        (60, 300)
    ] * 3


def test_the_mask_is_one_bit_of_the_size_of_the_flat_picture() -> None:
    leaf = a_leaf_image(7000, 140, margin=14)
    files = encode_leaf(leaf)

    mask = opened(files.mask)

    assert (mask.format, mask.mode) == ("PNG", "1")
    assert mask.size == opened(files.flat).size
    assert np.asarray(mask).mean() == pytest.approx(leaf.on_leaf.mean(), abs=0.005)


def test_beside_the_leaf_lies_the_colour_of_its_rim() -> None:
    leaf = a_leaf_image()

    picture = np.asarray(opened(encode_leaf(leaf).flat)).astype(float)

    beside = picture[~leaf.on_leaf].mean(axis=0)
    on = picture[leaf.on_leaf].mean(axis=0)
    assert np.abs(beside - on).max() < 4.0


def test_the_leaf_keeps_its_colour() -> None:
    leaf = a_leaf_image()

    picture = np.asarray(opened(encode_leaf(leaf).flat)).astype(float)

    # sRGB of linear (0.25, 0.175, 0.1125) by IEC 61966-2-1, worked out by hand; JPEG rounds its
    # three channels to whole steps, which moves blue by up to 1.3 (ITU-T T.871)
    middle = picture[440:460, 40:80].mean(axis=(0, 1))
    assert middle == pytest.approx([137.0, 116.1, 94.2], abs=1.4)


def test_the_same_leaf_gives_the_same_bytes() -> None:
    assert encode_leaf(a_leaf_image()) == encode_leaf(a_leaf_image())


def test_a_leaf_that_fills_its_picture_is_kept_too() -> None:
    files = encode_leaf(a_leaf_image(margin=0))

    assert np.asarray(opened(files.mask)).all()
