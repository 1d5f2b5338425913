"""``light-report`` from the command line, and the PDF as other programs open it."""

import json
import os
import shutil
import subprocess

import pytest

from tests.ui.running import run_ui
from vision.room_lights import ROOM_WORDS

OIL = {
    "name": "hard oil", "strength_times": 1.5, "width_times": 1.0, "slope_times": 1.0,
    "light_times": [0.7, 0.7, 0.7], "strength_sd": 0.1, "width_sd": 0.1, "slope_sd": 0.2,
    "light_sd": 0.05,
}  # fmt: skip


def needs(program):
    if shutil.which(program) is None:
        if os.environ.get("CI"):
            pytest.fail(f"{program} is missing; the server must have it.")
        pytest.skip(f"{program} is missing.")


def report(stock, out, *words):
    return run_ui("light-report", "--bundle", 1, *words, "--out", out, environment=stock)


def text_of(pdf):
    needs("pdftotext")
    done = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


@pytest.fixture(scope="module")
def booked(stock, tmp_path_factory):
    out = tmp_path_factory.mktemp("report") / "report.pdf"
    ran = report(stock, out, "--leaves", "01-03", "--customer", "Harrow joinery")
    assert ran.code == 0, ran.stderr
    assert str(out) in ran.stdout
    return out


def test_the_report_names_every_light_the_leaves_and_what_is_not_known(booked):
    words = text_of(booked)

    assert "leaves 01, 02, 03; book match" in words
    assert "for Harrow joinery" in words
    assert "raw and dry" in words
    assert "other face was not photographed" in words
    for room in ROOM_WORDS.values():
        assert room.split(",")[0].split(" ")[1] in words
    assert words.count("19 times in 20") == len(ROOM_WORDS)


def test_the_report_of_sloping_leaves_advises_the_slip_match(booked):
    words = text_of(booked)

    assert "take the slip match" in words
    assert "What it costs" in words


def test_the_report_has_a_page_or_two_and_a_picture_of_each_lamp(booked, tmp_path):
    for program in ("pdftoppm", "pdfimages"):
        needs(program)
    subprocess.run(["pdftoppm", "-r", "40", "-png", booked, tmp_path / "page"], check=True)
    listed = subprocess.run(["pdfimages", "-list", booked], capture_output=True, check=True)

    pictures = listed.stdout.decode().splitlines()[2:]

    assert 1 <= len(list(tmp_path.glob("page*.png"))) <= 2
    assert len(pictures) == 2
    assert all(" icc " in line for line in pictures)


def test_the_report_says_nothing_of_the_place_or_the_camera(booked):
    data = booked.read_bytes()

    assert b"Exif" not in data
    assert b"GPS" not in data


def test_the_same_day_gives_the_same_bytes(booked, stock, tmp_path):
    again = tmp_path / "again.pdf"

    report(stock, again, "--leaves", "01-03", "--customer", "Harrow joinery")

    assert again.read_bytes() == booked.read_bytes()


def test_with_a_finished_offcut_the_report_speaks_of_the_finish(stock, tmp_path):
    finish, out = tmp_path / "oil.json", tmp_path / "report.pdf"
    finish.write_text(json.dumps(OIL))

    assert report(stock, out, "--match", "slip", "--finish", finish).code == 0

    assert "with hard oil" in text_of(out)
    assert "raw and dry" not in text_of(out)


def test_one_leaf_makes_no_report_and_the_refusal_says_what_to_do(stock, tmp_path):
    ran = report(stock, tmp_path / "report.pdf", "--leaves", "01")

    assert ran.code != 0
    assert "Choose two or more" in ran.stderr
    assert not (tmp_path / "report.pdf").exists()
