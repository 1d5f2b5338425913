from __future__ import annotations

import io
import os
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.vision.made_files import as_bytes, jpeg, read, refusal, scene, stored
from vision.errors import PhotoUnreadable
from vision.photo import read_photo
from vision.settings import DEFAULT_VISION_SETTINGS as SETTINGS

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


RGB = Image.fromarray(scene())
REFUSED = {
    "empty": (b"", "0 bytes"),
    "text": (b"Dear customer,\nplease find the leaves attached.\n", "text, not a picture"),
    "zeros": (bytes(5000), "nothing but zeros"),
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
