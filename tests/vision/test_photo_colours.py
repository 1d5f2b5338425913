from __future__ import annotations

import io
import os
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from tests.vision.made_files import UNTURN, as_bytes, deep_tiff, jpeg, read, refusal, scene
from tests.vision.made_profiles import (
    ADOBE,
    D65_TO_D50,
    P3,
    SRGB,
    matrix_profile,
    power_curve,
    profile,
    srgb_curve,
    srgb_table,
    to_xyz,
)
from vision.colour_space import linear_to_lab, srgb_to_linear
from vision.flags import PhotoFlag


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


# --- wood in the profiles of other makers, in eight and sixteen bits --------------------------

WOOD = np.array(
    [[196, 160, 118], [222, 190, 148], [120, 82, 54], [168, 104, 62], [92, 70, 58], [236, 214, 180]]
)
"""Levels of sRGB of pale to dark woods."""
PROPHOTO_D50 = np.array(
    [[0.7976749, 0.1351917, 0.0313534], [0.2880402, 0.7118741, 0.0000857], [0.0, 0.0, 0.8252100]]
)
"""Primaries of ROMM RGB (ISO 22028-2), as published by B. Lindbloom; its white is D50."""


def wood(rng: np.random.Generator) -> NDArray[np.float64]:
    """Return linear sRGB light of 12 x 15 areas of 20 px, each of one wood with grain and noise.

    The noise is a camera's; without it eight bits round every pixel of an area the same way.
    """
    tones = srgb_to_linear(WOOD[rng.integers(0, len(WOOD), (12, 15))] / 255).astype(np.float64)
    areas = np.kron(tones, np.ones((20, 20, 1)))
    return areas * rng.normal(1, 0.03, (*areas.shape[:2], 1)) * rng.normal(1, 0.02, areas.shape)


def encoded(linear: NDArray[np.float64], colours: str) -> NDArray[np.float64]:
    """Return levels 0 to 1 in named colours, by their published numbers."""
    if colours == "ProPhoto":
        there = linear @ (np.linalg.inv(PROPHOTO_D50) @ D65_TO_D50 @ to_xyz(SRGB)).T
        return there ** (1 / 1.8)
    primaries = {"P3": P3, "Adobe": ADOBE, "sRGB": SRGB}[colours]
    there = linear @ (np.linalg.inv(to_xyz(primaries)) @ to_xyz(SRGB)).T
    if colours == "Adobe":
        return there ** (256 / 563)
    return np.where(there <= 0.0031308, there * 12.92, 1.055 * there ** (1 / 2.4) - 0.055)


def made_profile(colours: str) -> bytes:
    if colours == "ProPhoto":
        return matrix_profile(PROPHOTO_D50, power_curve(1.8))
    if colours == "Adobe":
        return profile(ADOBE, power_curve(563 / 256))
    return profile(P3 if colours == "P3" else SRGB, srgb_curve())


def kept(levels: NDArray[np.float64], kind: str, icc: bytes) -> bytes:
    if kind == "16-bit TIFF":
        return deep_tiff(np.rint(levels * 65535).astype(np.uint16), iccprofile=icc)
    # At lower quality JPEG itself moves areas of 20 px by more than the half unit asked for.
    return jpeg(np.rint(levels * 255).astype(np.uint8), quality=100, icc_profile=icc)


@pytest.mark.parametrize("kind", ["JPEG", "16-bit TIFF"])
@pytest.mark.parametrize("colours", ["P3", "Adobe", "ProPhoto", "sRGB"])
def test_wood_keeps_its_lab_in_any_colours_and_depth(colours: str, kind: str, tmp_path: Path):
    linear = wood(np.random.default_rng(7))
    truth = linear_to_lab(linear.reshape(12, 20, 15, 20, 3).mean(axis=(1, 3)))

    photo = read(tmp_path, kept(encoded(linear, colours), kind, made_profile(colours)))

    assert photo.flags == ()
    assert np.abs(lab(photo.rgb) - truth).max() < 0.5


def test_sixteen_bits_in_wide_colours_leave_no_bands(tmp_path: Path):
    ramp = np.tile(np.linspace(0.02, 0.9, 4096)[None, :, None], (200, 1, 3))
    levels = np.rint(encoded(ramp, "ProPhoto") * 65535).astype(np.uint16)

    photo = read(tmp_path, deep_tiff(levels, iccprofile=made_profile("ProPhoto")))

    exact = encoded(ramp, "sRGB") * 255
    assert np.abs(photo.rgb - exact).max() < 0.6
    for channel in photo.rgb[0].T:
        assert set(np.diff(channel.astype(int))) <= {0, 1}  # every level of the ramp is there


def real_profile(name: str) -> bytes:
    """Return a profile that Debian ships; missing it is a skip at home, a failure on the server."""
    file = Path("/usr/share/color/icc/colord") / f"{name}.icc"
    if not file.is_file() and not os.environ.get("CI"):
        pytest.skip("needs the package colord-data")
    return file.read_bytes()


@pytest.mark.reference
@pytest.mark.parametrize("kind", ["JPEG", "16-bit TIFF"])
@pytest.mark.parametrize(
    ("name", "colours"),
    [("AdobeRGB1998", "Adobe"), ("ProPhotoRGB", "ProPhoto"), ("sRGB", "sRGB")],
)
def test_wood_keeps_its_lab_under_profiles_of_other_makers(
    name: str, colours: str, kind: str, tmp_path: Path
):
    linear = wood(np.random.default_rng(8))
    truth = linear_to_lab(linear.reshape(12, 20, 15, 20, 3).mean(axis=(1, 3)))

    photo = read(tmp_path, kept(encoded(linear, colours), kind, real_profile(name)))

    assert photo.flags == ()
    assert np.abs(lab(photo.rgb) - truth).max() < 0.5


@pytest.mark.reference
@pytest.mark.parametrize(
    "name",
    ["AdobeRGB1998", "AppleRGB", "BestRGB", "BetaRGB", "ColorMatchRGB", "ECI-RGBv2", "PAL-RGB"]
    + ["ProPhotoRGB", "Rec709", "WideGamutRGB", "SwappedRedAndGreen", "EktaSpacePS5"],
)
def test_wood_written_by_another_colour_engine_keeps_its_lab(name: str, tmp_path: Path):
    icc = real_profile(name)
    picture = np.rint(encoded(wood(np.random.default_rng(9)), "sRGB") * 255).astype(np.uint8)
    there = ImageCms.profileToProfile(
        Image.fromarray(picture),
        ImageCms.createProfile("sRGB"),
        ImageCms.ImageCmsProfile(io.BytesIO(icc)),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )

    photo = read(tmp_path, as_bytes(there, "PNG", icc_profile=icc))

    assert photo.flags == ()
    assert np.abs(lab(photo.rgb) - lab(picture)).max() < 0.5


def test_an_avif_picture_is_read_upright_and_in_its_colours(tmp_path: Path):
    linear = wood(np.random.default_rng(10))
    levels = np.rint(encoded(linear, "P3") * 255).astype(np.uint8)
    exif = Image.Exif()
    exif[0x0112] = 6
    stored = Image.fromarray(levels).transpose(UNTURN[6])
    data = as_bytes(
        stored, "AVIF", quality=100, subsampling="4:4:4", exif=exif, icc_profile=made_profile("P3")
    )

    photo = read(tmp_path, data, "leaf.avif")

    truth = linear_to_lab(linear.reshape(12, 20, 15, 20, 3).mean(axis=(1, 3)))
    # The coder itself, in eight bits, leaves half a level of green too much (untagged: 6 and more).
    assert np.abs(lab(photo.rgb) - truth).mean() < 0.6


@pytest.mark.parametrize(("transfer", "words"), [(16, "PQ"), (18, "HLG")])
def test_an_avif_picture_of_high_dynamic_range_is_refused(
    transfer: int, words: str, tmp_path: Path
):
    data = bytearray(as_bytes(Image.fromarray(scene()), "AVIF"))
    at = data.index(b"colrnclx") + 8
    data[at : at + 4] = bytes((0, 9, 0, transfer))

    refused = refusal(tmp_path, bytes(data), "leaf.avif")

    assert words in refused
    assert "needed" in refused
