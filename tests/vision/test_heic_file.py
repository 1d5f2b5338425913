from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.vision.made_extras import extra
from tests.vision.made_files import UNTURN, read, refusal, scene
from tests.vision.made_profiles import P3, SRGB, profile, srgb_curve, to_xyz
from vision.colour_space import linear_to_lab, srgb_to_linear

pytestmark = pytest.mark.reference
LOSSLESS = {"quality": -1, "chroma": 444, "matrix_coefficients": 0}


def heic(picture: Image.Image, **options: object) -> bytes:
    """Return a file by the encoder of pillow-heif, which turns by the container, not by EXIF."""
    stream = io.BytesIO()
    extra("pillow_heif").from_pillow(picture).save(stream, **{**LOSSLESS, **options})
    return stream.getvalue()


def exif(orientation: int = 1) -> bytes:
    words = Image.Exif()
    words[0x0112] = orientation
    words.get_ifd(0x8769).update({0x9003: "2026:03:14 15:09:26", 0xA405: 26})
    return words.tobytes()


def test_a_heic_picture_is_read_pixel_by_pixel_with_its_time_and_focal_length(tmp_path: Path):
    photo = read(tmp_path, heic(Image.fromarray(scene()), exif=exif()), "leaf.heic")

    assert np.array_equal(photo.rgb, scene())
    assert (photo.full_width_px, photo.full_height_px, photo.reduction) == (320, 240, 1.0)
    assert (photo.taken_at, photo.focal_35mm) == ("2026-03-14T15:09:26", 26.0)
    assert photo.flags == ()
    assert not photo.is_linear


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_turn_of_a_heic_container_is_applied_exactly_once(orientation: int, tmp_path: Path):
    library = extra("pillow_heif")
    library.register_heif_opener()
    turn = UNTURN[orientation]
    upright = Image.fromarray(scene())
    stored = upright if turn is None else upright.transpose(turn)
    stream = io.BytesIO()
    stored.save(stream, "HEIF", exif=exif(orientation), **LOSSLESS)

    photo = read(tmp_path, stream.getvalue(), "leaf.heic")

    assert np.array_equal(photo.rgb, scene())


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_a_turn_that_stands_in_the_exif_block_alone_only_tells_and_is_not_applied(
    orientation: int, tmp_path: Path
):
    # As phones write it: the container turns, and the block repeats it.
    data = bytearray(heic(Image.fromarray(scene()), exif=exif(1)))
    head = data.index(b"II*\0") if b"II*\0" in data else data.index(b"MM\0*")
    entry = data.index(b"\x01\x12" if data[head : head + 1] == b"M" else b"\x12\x01", head)
    value = entry + (9 if data[head : head + 1] == b"M" else 8)
    assert data[value] == 1
    data[value] = orientation

    photo = read(tmp_path, bytes(data), "leaf.heic")

    assert np.array_equal(photo.rgb, scene())


def p3_levels(picture: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return levels 0 to 1 of Display P3."""
    linear = srgb_to_linear(picture).astype(np.float64)
    there = linear @ (np.linalg.inv(to_xyz(P3)) @ to_xyz(SRGB)).T
    return np.where(there <= 0.0031308, there * 12.92, 1.055 * there ** (1 / 2.4) - 0.055)


def lab(rgb: NDArray[np.uint8]) -> NDArray[np.float64]:
    return linear_to_lab(srgb_to_linear(rgb).reshape(12, 20, 16, 20, 3).mean(axis=(1, 3)))


@pytest.mark.parametrize("said", ["profile", "numbers"])
def test_a_heic_picture_in_display_p3_gives_the_lab_of_its_copy_in_srgb(said: str, tmp_path: Path):
    levels = np.rint(p3_levels(scene()) * 255).astype(np.uint8)
    options: dict[str, object] = {"color_primaries": 12, "transfer_characteristics": 13}
    if said == "profile":
        options = {"icc_profile": profile(P3, srgb_curve())}

    photo = read(tmp_path, heic(Image.fromarray(levels), **options), "leaf.heic")

    assert photo.flags == ()
    assert np.abs(lab(photo.rgb) - lab(scene())).max() < 0.5


def test_ten_bits_of_heic_are_rounded_after_the_colours_are_converted(tmp_path: Path):
    library = extra("pillow_heif")
    levels = np.rint(p3_levels(scene()) * 65535).astype(np.uint16)
    stream = io.BytesIO()
    picture = library.from_bytes("RGB;16", (320, 240), levels.tobytes())
    picture.save(stream, icc_profile=profile(P3, srgb_curve()), **LOSSLESS)

    photo = read(tmp_path, stream.getvalue(), "leaf.heic")

    assert library.open_heif(stream.getvalue()).info["bit_depth"] == 10
    assert np.abs(photo.rgb.astype(int) - scene()).max() <= 1
    assert np.abs(lab(photo.rgb) - lab(scene())).max() < 0.2


@pytest.mark.parametrize("cut", [0.3, 0.7, 0.95])
def test_a_heic_picture_cut_short_is_refused(cut: float, tmp_path: Path):
    data = heic(Image.fromarray(scene()))

    assert "whole" in refusal(tmp_path, data[: int(cut * len(data))], "leaf.heic")


def test_what_is_heic_in_name_alone_is_refused(tmp_path: Path):
    data = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(range(200))
    extra("pillow_heif")

    assert "damaged" in refusal(tmp_path, data, "leaf.heic")


def test_heic_pictures_unfit_by_kind_are_refused_in_words(tmp_path: Path):
    clear = np.dstack([scene(), np.full((240, 320), 128, np.uint8)])
    small = Image.fromarray(scene()[:150])
    hdr = heic(Image.fromarray(scene()), color_primaries=9, transfer_characteristics=16)

    assert "transparent" in refusal(tmp_path, heic(Image.fromarray(clear)), "leaf.heic")
    assert "at least 200 px" in refusal(tmp_path, heic(small), "leaf.heic")
    assert "grey" in refusal(tmp_path, heic(Image.fromarray(scene()).convert("L")), "leaf.heic")
    assert "PQ" in refusal(tmp_path, hdr, "leaf.heic")
    whole = heic(Image.fromarray(scene()))
    assert "up to 0.05" in refusal(tmp_path, whole, "leaf.heic", max_megapixels=0.05)
