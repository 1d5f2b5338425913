from __future__ import annotations

import hashlib
import io
import os
import struct
import zlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageCms

from tests.vision.made_profiles import (
    ADOBE,
    P3,
    SRGB,
    power_curve,
    profile,
    srgb_curve,
    srgb_table,
    to_xyz,
)
from vision.colour_space import linear_to_lab, srgb_to_linear
from vision.errors import PhotoUnreadable
from vision.flags import PhotoFlag
from vision.photo import Photo, read_photo
from vision.settings import DEFAULT_VISION_SETTINGS as SETTINGS

UNTURN = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""How an upright picture is stored under each EXIF orientation."""


def scene(rows: int = 240, columns: int = 320, *, seed: int = 1) -> NDArray[np.uint8]:
    """Return a board with a leaf, grain and a red mark at the top left."""
    rng = np.random.default_rng(seed)
    picture = np.full((rows, columns, 3), (150, 152, 149), np.float64)
    grain = rng.normal(0, 12, (1, columns, 1))
    picture[20:-20, 60:-60] = (196, 160, 118) + grain[:, 60:-60]
    picture += rng.normal(0, 2, (rows, columns, 1))
    picture[:40, :80] = (230, 20, 20)
    return np.clip(picture, 0, 255).astype(np.uint8)


def jpeg(picture: NDArray[np.uint8], **options: object) -> bytes:
    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, "JPEG", **{"quality": 95, "subsampling": 0, **options})
    return stream.getvalue()


def read(folder: Path, data: bytes, name: str = "leaf.jpg", **settings: float) -> Photo:
    path = folder / name
    path.write_bytes(data)
    return read_photo(path, settings=replace(SETTINGS, **settings))


def refusal(folder: Path, data: bytes, name: str = "leaf.jpg", **settings: float) -> str:
    with pytest.raises(PhotoUnreadable) as caught:
        read(folder, data, name, **settings)
    return str(caught.value)


def deep_png(picture: NDArray[np.uint16], *, orientation: int = 1) -> bytes:
    data = cv2.imencode(".png", picture[..., ::-1])[1].tobytes()
    exif = Image.Exif()
    exif[0x0112] = orientation
    block = b"eXIf" + exif.tobytes()[6:]
    chunk = struct.pack(">I", len(block) - 4) + block + struct.pack(">I", zlib.crc32(block))
    return data[:33] + chunk + data[33:]


def deep_tiff(picture: NDArray[np.uint16], *, orientation: int = 1, **options: object) -> bytes:
    stream = io.BytesIO()
    tifffile.imwrite(
        stream, picture, photometric="rgb", extratags=[(274, 3, 1, orientation, True)], **options
    )
    return stream.getvalue()


def stored(kind: str, picture: Image.Image, orientation: int) -> bytes:
    if kind == "deep png":
        return deep_png(np.asarray(picture).astype(np.uint16) * 257, orientation=orientation)
    if kind == "deep tiff":
        return deep_tiff(np.asarray(picture).astype(np.uint16) * 257, orientation=orientation)
    exif = Image.Exif()
    exif[0x0112] = orientation
    options = {"JPEG": {"quality": 97, "subsampling": 0}, "WEBP": {"lossless": True}}
    stream = io.BytesIO()
    picture.save(stream, kind, exif=exif, **options.get(kind, {}))
    return stream.getvalue()


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


# --- cut short or damaged ---------------------------------------------------------------------


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("cut", [-1, -2, -3, -40, -400, 0.99, 0.9, 0.7, 0.5, 0.3, 0.1])
def test_a_jpeg_cut_short_anywhere_is_refused(cut: float, progressive: bool, tmp_path: Path):
    small = io.BytesIO()
    Image.fromarray(scene(60, 80)).save(small, "JPEG")
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x927C] = small.getvalue()  # a whole picture inside the header
    data = jpeg(scene(), progressive=progressive, exif=exif)
    end = int(cut) if cut < 0 else int(cut * len(data))

    assert "cut short or damaged" in refusal(tmp_path, data[:end])


@pytest.mark.parametrize("cut", [0.999, 0.97, 0.9, 0.7, 0.5])
def test_an_end_marker_glued_to_half_a_picture_does_not_make_it_whole(cut: float, tmp_path: Path):
    data = jpeg(scene())

    assert "cut short" in refusal(tmp_path, data[: int(cut * len(data))] + b"\xff\xd9")


@pytest.mark.parametrize("share", [0.95, 0.8, 0.4])
def test_a_jpeg_whose_tail_was_never_copied_is_refused(share: float, tmp_path: Path):
    data = jpeg(scene())
    whole = int(share * len(data))

    assert "cut short" in refusal(tmp_path, data[:whole] + bytes(len(data) - whole))


def test_a_hole_in_the_middle_of_a_jpeg_is_refused(tmp_path: Path):
    data = jpeg(scene())
    middle = len(data) // 2

    assert "cut short" in refusal(tmp_path, data[:middle] + data[middle + 2000 :])


@pytest.mark.parametrize("restart", [0, 2])
def test_a_whole_jpeg_with_a_flat_corner_and_padding_after_its_end_is_read(
    restart: int, tmp_path: Path
):
    picture = scene()
    picture[-60:] = 255
    data = jpeg(picture, restart_marker_rows=restart) + bytes(5000)

    photo = read(tmp_path, data)

    assert photo.rgb[-1, -1].tolist() == [255, 255, 255]


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "WEBP", "deep png", "deep tiff"])
@pytest.mark.parametrize("cut", [0.05, 0.3, 0.6, 0.9, 0.98])
def test_other_kinds_cut_short_are_refused(kind: str, cut: float, tmp_path: Path):
    data = stored(kind, Image.fromarray(scene()), 1)

    refused = refusal(tmp_path, data[: int(cut * len(data))])

    assert "whole" in refused


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "deep png", "deep tiff"])
def test_a_file_damaged_anywhere_is_read_or_refused_and_nothing_else(kind: str, tmp_path: Path):
    rng = np.random.default_rng(11)
    flat = scene()
    flat[-40:] = 180
    whole = np.frombuffer(stored(kind, Image.fromarray(flat), 6), np.uint8)
    outcomes = set()

    for reach in (60, 400, len(whole)) * 15:
        damaged = whole.copy()
        damaged[rng.integers(0, min(reach, len(whole)), 6)] = rng.integers(0, 256, 6)
        try:
            outcomes.add(read(tmp_path, damaged.tobytes()).rgb.shape[2])
        except PhotoUnreadable as refused:
            outcomes.add(str(refused).count("needed") > 0 or str(refused))

    assert True in outcomes
    assert outcomes <= {3, True} | {words for words in outcomes if "are opened" in str(words)}


# --- files that are no photographs ------------------------------------------------------------


def as_bytes(picture: Image.Image, kind: str, **options: object) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, kind, **options)
    return stream.getvalue()


RGB = Image.fromarray(scene())
REFUSED = {
    "empty": (b"", "0 bytes"),
    "text": (b"Dear customer,\nplease find the leaves attached.\n", "text, not a picture"),
    "zeros": (bytes(5000), "nothing but zeros"),
    "heic": (b"\0\0\0\x18ftypheic\0\0\0\0" + bytes(range(200)), "HEIC"),
    "gif": (as_bytes(RGB.quantize(), "GIF"), "not a picture of a known kind"),
    "pixel": (as_bytes(RGB.resize((1, 1)), "PNG"), "1 x 1 px; at least 200 px"),
    "small": (as_bytes(RGB.resize((300, 199)), "PNG"), "300 x 199 px; at least 200 px"),
    "grey": (as_bytes(RGB.convert("L"), "JPEG"), "grey picture"),
    "grey png": (as_bytes(RGB.convert("L"), "PNG"), "grey picture"),
    "deep grey": (
        as_bytes(Image.fromarray(np.full((240, 320), 40000, np.uint16)), "PNG"),
        "grey picture",
    ),
    "ink": (as_bytes(RGB.convert("CMYK"), "JPEG"), "CMYK"),
    "palette": (as_bytes(RGB.quantize(), "PNG"), "palette"),
    "cut out": (
        as_bytes(Image.fromarray(np.dstack([scene(), scene()[..., 0]])), "PNG"),
        "transparent",
    ),
    "raw": (as_bytes(RGB, "TIFF", tiffinfo={50706: b"\x01\x04\0\0"}), "camera raw"),
    "broken head": (b"\xff\xd8\xff\xe0" + bytes(300), "whose head is damaged"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_no_colour_photograph_is_refused_in_words(case: str, tmp_path: Path):
    data, words = REFUSED[case]

    refused = refusal(tmp_path, data)

    assert words in refused
    assert "needed" in refused
    assert refused.count(". ") >= 1


def test_a_file_that_is_not_there_is_refused_in_words(tmp_path: Path):
    with pytest.raises(PhotoUnreadable, match="There is no file"):
        read_photo(tmp_path / "leaf.jpg", settings=SETTINGS)


def test_a_folder_is_refused_in_words(tmp_path: Path):
    with pytest.raises(PhotoUnreadable, match="is a folder"):
        read_photo(tmp_path, settings=SETTINGS)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read anything")
def test_a_file_that_may_not_be_read_is_refused_in_words(tmp_path: Path):
    path = tmp_path / "leaf.jpg"
    path.write_bytes(jpeg(scene()))
    path.chmod(0)

    with pytest.raises(PhotoUnreadable, match="may not be opened"):
        read_photo(path, settings=SETTINGS)


def test_a_picture_above_the_limit_of_the_settings_is_refused(tmp_path: Path):
    assert "up to 0.05 are opened" in refusal(tmp_path, jpeg(scene()), max_megapixels=0.05)


@pytest.mark.parametrize(
    ("side", "words"),
    [(10_000, "100 megapixels; up to 50"), (60_000, "than 179 megapixels; up to 50")],
)
def test_a_huge_picture_is_refused_by_its_head_alone(side: int, words: str, tmp_path: Path):
    head = b"IHDR" + struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    data = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + head + struct.pack(">I", zlib.crc32(head))
    data += struct.pack(">I", 10) + b"IDAT" + bytes(14)

    assert words in refusal(tmp_path, data, "leaf.png", max_megapixels=50.0)


# --- large, deep, with alpha ------------------------------------------------------------------


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


# --- colour profiles --------------------------------------------------------------------------


def tagged(linear: NDArray[np.float64], primaries: object, gamma: float) -> NDArray[np.uint8]:
    """Return levels in other primaries of linear sRGB light."""
    there = linear @ (np.linalg.inv(to_xyz(primaries)) @ to_xyz(SRGB)).T
    return np.rint(255 * np.clip(there, 0, 1) ** (1 / gamma)).astype(np.uint8)


def lab(rgb: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return the Lab of areas of 20 px x 20 px."""
    areas = srgb_to_linear(rgb).reshape(12, 20, 15, 20, 3).mean(axis=(1, 3))
    return linear_to_lab(areas)


@pytest.mark.parametrize(("primaries", "gamma"), [(P3, 2.2), (ADOBE, 563 / 256)])
def test_copies_in_wider_colours_give_the_same_lab(primaries: object, gamma: float, tmp_path: Path):
    rng = np.random.default_rng(5)
    areas = np.kron(rng.integers(60, 200, (12, 15, 3)), np.ones((20, 20, 1)))
    picture = np.clip(areas + rng.normal(0, 2, areas.shape), 0, 255).astype(np.uint8)
    other = tagged(srgb_to_linear(picture).astype(np.float64), primaries, gamma)
    icc = profile(primaries, power_curve(gamma))

    photo = read(tmp_path, as_bytes(Image.fromarray(other), "PNG", icc_profile=icc))
    untagged = read(tmp_path, as_bytes(Image.fromarray(other), "PNG"))

    assert photo.flags == ()
    assert np.abs(lab(photo.rgb) - lab(picture)).max() < 0.5
    assert np.abs(lab(untagged.rgb) - lab(picture)).max() > 3


@pytest.mark.parametrize("curve", [power_curve(1.8), srgb_curve(), srgb_table()])
@pytest.mark.parametrize("primaries", [P3, ADOBE])
def test_the_fast_way_agrees_with_the_colour_engine(
    primaries: object, curve: bytes, tmp_path: Path
):
    picture = np.random.default_rng(6).integers(0, 256, (300, 300, 3), dtype=np.uint8)
    icc = profile(primaries, curve)
    engine = ImageCms.profileToProfile(
        Image.fromarray(picture),
        ImageCms.ImageCmsProfile(io.BytesIO(icc)),
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )

    photo = read(tmp_path, as_bytes(Image.fromarray(picture), "PNG", icc_profile=icc))

    assert np.abs(photo.rgb.astype(int) - np.asarray(engine)).max() <= 2


@pytest.mark.parametrize("curve", [srgb_curve(), srgb_table()])
def test_srgb_under_another_name_changes_nothing(curve: bytes, tmp_path: Path):
    data = as_bytes(Image.fromarray(scene()), "PNG", icc_profile=profile(SRGB, curve))

    photo = read(tmp_path, data)

    assert np.array_equal(photo.rgb, scene())


def test_adobe_rgb_named_in_exif_alone_is_converted(tmp_path: Path):
    linear = np.tile(srgb_to_linear(np.array([196, 160, 118], np.uint8)), (240, 320, 1))
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = 65535
    exif.get_ifd(0x8769)[0xA005] = {1: "R03"}
    picture = tagged(linear.astype(np.float64), ADOBE, 563 / 256)

    photo = read(tmp_path, jpeg(picture, exif=exif))

    assert np.abs(photo.rgb.astype(int) - (196, 160, 118)).max() <= 2


@pytest.mark.parametrize("what", ["rubbish", "grey"])
def test_a_profile_that_cannot_be_read_is_flagged_and_srgb_assumed(what: str, tmp_path: Path):
    icc = b"\0\1\2\3" * 60
    if what == "grey":
        icc = profile(P3, srgb_curve()).replace(b"RGB XYZ ", b"GRAYXYZ ", 1)
    data = as_bytes(Image.fromarray(scene()), "PNG", icc_profile=icc)

    photo = read(tmp_path, data)

    assert photo.flags == (PhotoFlag.PROFILE_UNREADABLE,)
    assert np.array_equal(photo.rgb, scene())


def test_a_large_jpeg_may_be_opened_smaller_and_still_knows_its_size(tmp_path: Path):
    path = tmp_path / "large.jpg"
    Image.new("RGB", (3200, 2400), (120, 90, 60)).save(path)

    photo = read_photo(path, settings=SETTINGS, least_long_px=1500)

    assert photo.rgb.shape == (1200, 1600, 3)
    assert (photo.full_width_px, photo.full_height_px, photo.reduction) == (3200, 2400, 2.0)
