"""Each photograph that is no good gets one clear sentence; the others are measured."""

import csv
import shutil
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from catalog.catalog import open_catalog
from catalog.records import BundleId
from tests.ui.running import Ran, run_ui, run_ui_alone


@pytest.fixture(scope="module")
def spoilt(drawn: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with two good leaves and one photograph of every bad kind."""
    folder = tmp_path_factory.mktemp("spoilt")
    two_good_leaves(drawn, folder)
    good = folder / next(row["file"] for row in rows_of(folder) if row["leaf"] == "01")
    blank = folder / next(row["file"] for row in rows_of(folder) if row["leaf"] == "")
    whole = good.read_bytes()
    (folder / "words.jpg").write_text("This is a letter, not a picture.\n" * 40)
    (folder / "short.jpg").write_bytes(whole[: len(whole) // 2])
    (folder / "empty.jpg").write_bytes(b"")
    (folder / "bomb.png").write_bytes(png_that_claims(20_000, 10_000))
    (folder / "copy.jpg").write_bytes(whole)
    (folder / "upside.jpg").write_bytes(whole)
    Image.new("RGB", (1, 1), (90, 60, 40)).save(folder / "dot.png")
    Image.open(blank).save(folder / "bare.jpg", quality=90)
    picture = Image.open(good)
    picture.crop((0, 0, picture.width, picture.height * 6 // 10)).save(folder / "cut.jpg")
    narrow = np.asarray(picture.resize((picture.width // 2, picture.height)))
    Image.fromarray(np.concatenate([narrow, narrow], axis=1)).save(folder / "two.jpg")
    for name in BAD:
        add_row(folder, name, lamp="", laid="upside-down" if name == "upside.jpg" else "as-lies")
    return folder


BAD = {
    "words.jpg": "",
    "short.jpg": "",
    "empty.jpg": "empty",
    "dot.png": "",
    "bomb.png": "megapixel",
    "bare.jpg": "leaf",
    "two.jpg": "2 leaves",
    "cut.jpg": "edge of the picture",
    "never-taken.jpg": "not in the folder",
    "upside.jpg": "upside-down",
    "copy.jpg": "same photograph",
}
"""File -> a word that its refusal must hold."""


@pytest.fixture(scope="module")
def ran(spoilt: Path) -> Ran:
    """Return what ``alternation --json`` says of the folder, in a process of its own."""
    return run_ui_alone("alternation", spoilt, "--json")


@pytest.mark.parametrize("name", BAD)
def test_a_bad_photograph_gets_a_clear_sentence(name, ran):
    reasons = {refusal["file"]: refusal["reason"] for refusal in ran.json["refused"]}

    assert reasons[name].endswith(".")
    assert len(reasons[name]) > 30
    assert BAD[name].lower() in reasons[name].lower()
    assert f"Refused {name}: {reasons[name]}" in ran.stderr


def test_the_good_photographs_beside_the_bad_ones_are_judged(ran):
    assert ran.code == 1
    assert "Traceback" not in ran.stderr
    assert {refusal["file"] for refusal in ran.json["refused"]} == set(BAD)
    assert [(pair["left"], pair["right"]) for pair in ran.json["pairs"]] == [("01", "02")] * 2
    assert all(pair["lightness_step"] is not None for pair in ran.json["pairs"])


def test_take_in_keeps_the_good_and_the_reasons_of_the_bad(spoilt, tmp_path):
    environment = {"FLITCHWRIGHT_CATALOG": str(tmp_path / "catalog.db")}

    taken = run_ui("take-in", spoilt, "--flitch", "W 1", environment=environment)

    with open_catalog(tmp_path / "catalog.db") as catalog:
        assert {refused.file for refused in catalog.refusals(BundleId(1))} == set(BAD)
        assert [leaf.label for leaf in catalog.leaves(BundleId(1))] == ["01", "02"]
    assert taken.code == 1
    assert "Refused empty.jpg" in taken.stderr
    assert "01 | 02" in taken.stdout


def test_unusual_kinds_of_picture_are_read_or_refused_in_a_sentence(drawn, tmp_path):
    two_good_leaves(drawn, tmp_path)
    good = Image.open(tmp_path / next(r["file"] for r in rows_of(tmp_path) if r["leaf"] == "01"))
    good.convert("CMYK").save(tmp_path / "ink.jpg", quality=92)
    grey = np.asarray(good.convert("L")).astype(np.uint16) * 257
    Image.fromarray(grey).save(tmp_path / "deep.png")

    ran = run_ui("measure", tmp_path / "ink.jpg", tmp_path / "deep.png", "--json")

    for record in ran.json:
        assert "size" in record or record["refused"].endswith(".")


def test_take_in_twice_is_harmless(drawn, tmp_path):
    two_good_leaves(drawn, tmp_path / "photos")
    environment = {"FLITCHWRIGHT_CATALOG": str(tmp_path / "catalog.db")}
    words = ["take-in", tmp_path / "photos", "--flitch", "W 1"]
    first = run_ui(*words, environment=environment)

    second = run_ui(*words, environment=environment)

    assert (first.code, second.code) == (0, 0)
    assert second.stdout == first.stdout


def test_a_folder_without_photographs_is_exit_code_three(tmp_path):
    ran = run_ui("alternation", tmp_path, "--json")

    assert ran.code == 3
    assert ran.json == {"pairs": [], "refused": []}


def test_a_shot_list_without_a_file_column_is_one_sentence(tmp_path):
    (tmp_path / "shots.csv").write_text("picture,leaf\na.jpg,01\n", encoding="utf-8")

    ran = run_ui("alternation", tmp_path, "--json")

    assert ran.code == 3
    assert "'file'" in ran.stderr


def two_good_leaves(drawn: Path, folder: Path) -> None:
    """Copy leaves 01 and 02, the bare boards and their lines of the shot list."""
    folder.mkdir(exist_ok=True)
    rows = [row for row in rows_of(drawn) if row["leaf"] in {"01", "02", ""}]
    for row in rows:
        shutil.copy(drawn / row["file"], folder)
    write_rows(folder, rows)


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
