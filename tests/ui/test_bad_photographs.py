"""Each photograph that is no good gets one clear sentence; the others are measured."""

import csv
import shutil
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.ui.running import Ran, run_ui


@pytest.fixture
def folder(drawn: Path, tmp_path: Path) -> Path:
    """Return a folder of its own: two good leaves, the bare boards, a shot list."""
    place = tmp_path / "bundle"
    place.mkdir()
    for row in rows_of(drawn):
        if row["leaf"] in {"01", "02", ""}:
            shutil.copy(drawn / row["file"], place)
    write_rows(place, [row for row in rows_of(drawn) if row["leaf"] in {"01", "02", ""}])
    return place


def rows_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "shots.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def write_rows(folder: Path, rows: list[dict[str, str]]) -> None:
    with (folder / "shots.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def add_row(folder: Path, name: str, **cells: str) -> None:
    """Append a line for ``name``, in everything else like the first leaf's."""
    rows = rows_of(folder)
    like = next(row for row in rows if row["leaf"] == "01")
    write_rows(folder, [*rows, {**like, "file": name, "leaf": "bad", **cells}])


def good_photo(folder: Path) -> Path:
    return folder / next(row["file"] for row in rows_of(folder) if row["leaf"] == "01")


def alternation(folder: Path) -> Ran:
    return run_ui("alternation", folder, "--json")


def assert_refused_alone(ran: Ran, name: str, *, words: str = "") -> None:
    """Assert that only ``name`` is refused, in one sentence, and the good pair is judged."""
    assert ran.code == 1, ran.stderr
    assert [refusal["file"] for refusal in ran.json["refused"]] == [name]
    reason = ran.json["refused"][0]["reason"]
    assert reason.endswith(".")
    assert len(reason) > 30
    assert words.lower() in reason.lower()
    assert f"Refused {name}" in ran.stderr
    assert "Traceback" not in ran.stderr
    judged = {(pair["left"], pair["right"]) for pair in ran.json["pairs"]}
    assert ("01", "02") in judged


def test_words_named_jpg(folder):
    (folder / "words.jpg").write_text("This is a letter, not a picture.\n" * 40)
    add_row(folder, "words.jpg")

    assert_refused_alone(alternation(folder), "words.jpg")


def test_a_jpeg_cut_short(folder):
    whole = good_photo(folder).read_bytes()
    (folder / "short.jpg").write_bytes(whole[: len(whole) // 2])
    add_row(folder, "short.jpg")

    assert_refused_alone(alternation(folder), "short.jpg")


def test_an_empty_file(folder):
    (folder / "empty.jpg").write_bytes(b"")
    add_row(folder, "empty.jpg")

    assert_refused_alone(alternation(folder), "empty.jpg", words="empty")


def test_a_picture_of_one_pixel(folder):
    Image.new("RGB", (1, 1), (90, 60, 40)).save(folder / "dot.png")
    add_row(folder, "dot.png")

    assert_refused_alone(alternation(folder), "dot.png")


def test_a_picture_too_large_to_open_is_refused_by_its_header(folder):
    (folder / "bomb.png").write_bytes(png_that_claims(20_000, 10_000))
    add_row(folder, "bomb.png")

    assert_refused_alone(alternation(folder), "bomb.png", words="megapixel")


def test_a_cmyk_jpeg_is_read_or_refused_but_harms_nothing(folder):
    Image.open(good_photo(folder)).convert("CMYK").save(folder / "ink.jpg", quality=92)
    add_row(folder, "ink.jpg")

    ran = alternation(folder)

    if ran.code == 0:
        assert any("bad" in (pair["left"], pair["right"]) for pair in ran.json["pairs"])
    else:
        assert_refused_alone(ran, "ink.jpg", words="cmyk")


def test_a_sixteen_bit_png_is_read_or_refused_but_harms_nothing(folder):
    grey = np.asarray(Image.open(good_photo(folder)).convert("L")).astype(np.uint16) * 257
    Image.fromarray(grey).save(folder / "deep.png")
    add_row(folder, "deep.png")

    ran = alternation(folder)

    if ran.code == 0:
        assert any("bad" in (pair["left"], pair["right"]) for pair in ran.json["pairs"])
    else:
        assert_refused_alone(ran, "deep.png")


def test_a_board_without_a_leaf(folder):
    blank = next(row for row in rows_of(folder) if row["lamp"].startswith("blank"))
    shutil.copy(folder / blank["file"], folder / "bare.jpg")
    Image.open(folder / "bare.jpg").save(folder / "bare.jpg", quality=90)
    add_row(folder, "bare.jpg")

    assert_refused_alone(alternation(folder), "bare.jpg", words="leaf")


def test_two_leaves_where_the_list_promises_one(folder):
    photo = np.asarray(Image.open(good_photo(folder)))
    half = photo[:, :: photo.shape[1] // (photo.shape[1] // 2)]
    Image.fromarray(np.concatenate([half, half], axis=1)).save(folder / "two.jpg", quality=92)
    add_row(folder, "two.jpg")

    assert_refused_alone(alternation(folder), "two.jpg", words="lea")


def test_a_leaf_cut_by_the_frame(folder):
    photo = Image.open(good_photo(folder))
    photo.crop((0, 0, photo.width, photo.height * 6 // 10)).save(folder / "cut.jpg", quality=92)
    add_row(folder, "cut.jpg")

    assert_refused_alone(alternation(folder), "cut.jpg")


def test_a_shot_list_that_names_a_missing_file(folder):
    add_row(folder, "never-taken.jpg")

    assert_refused_alone(alternation(folder), "never-taken.jpg", words="not in the folder")


def test_a_shot_list_with_an_unknown_word(folder):
    shutil.copy(good_photo(folder), folder / "again.jpg")
    add_row(folder, "again.jpg", laid="upside-down")

    assert_refused_alone(alternation(folder), "again.jpg", words="upside-down")


def test_the_same_photograph_under_two_names(folder):
    shutil.copy(good_photo(folder), folder / "copy.jpg")
    add_row(folder, "copy.jpg")

    assert_refused_alone(alternation(folder), "copy.jpg", words="same photograph")


def test_a_folder_without_photographs_is_exit_code_three(tmp_path):
    ran = run_ui("alternation", tmp_path, "--json")

    assert ran.code == 3
    assert "Traceback" not in ran.stderr


def test_a_shot_list_without_a_file_column_is_one_sentence(folder):
    (folder / "shots.csv").write_text("picture,leaf\na.jpg,01\n", encoding="utf-8")

    ran = alternation(folder)

    assert ran.code == 3
    assert "'file'" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_take_in_records_the_good_and_keeps_the_reasons_of_the_bad(folder, tmp_path):
    (folder / "empty.jpg").write_bytes(b"")
    add_row(folder, "empty.jpg")
    environment = {"FLITCHWRIGHT_CATALOG": str(tmp_path / "catalog.db")}

    ran = run_ui("take-in", folder, "--flitch", "W 1", environment=environment)

    assert ran.code == 1
    assert "Refused empty.jpg" in ran.stderr
    assert "01 | 02" in ran.stdout


def test_take_in_twice_is_harmless(folder, tmp_path):
    environment = {"FLITCHWRIGHT_CATALOG": str(tmp_path / "catalog.db")}
    first = run_ui("take-in", folder, "--flitch", "W 1", environment=environment)

    second = run_ui("take-in", folder, "--flitch", "W 1", environment=environment)

    assert (first.code, second.code) == (0, 0)
    assert second.stdout == first.stdout


def png_that_claims(width: int, height: int) -> bytes:
    """Return a PNG of a few kilobytes whose header promises ``width`` x ``height`` pixels."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(bytes(width * 3 + 1) * 4)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )
