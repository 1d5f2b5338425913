"""One flitch from photograph files to a picture set, through the command line, step by step."""

import json
import zipfile
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sample_images import FlitchPlan, draw_flitch
from tests.ui.running import Ran, run_ui_alone

PLAN = FlitchPlan(
    seed=31,
    species="cherry",
    cut="plain",
    leaves=3,
    length_mm=1500.0,
    width_mm=200.0,
    sapwood=False,
    waney=False,
    photo_px=(800, 1200),
    shots=("as-lies/A", "as-lies/B", "opened-pair/A", "opened-pair/B"),
    mean_tilt_deg=3.0,
    lobe_ratio=0.8,
    lobe_width_deg=12.0,
)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the photographs and everything the walk makes of them."""
    folder = tmp_path_factory.mktemp("walk")
    for _file in draw_flitch(PLAN, folder / "photos"):
        pass
    return folder


@pytest.fixture(scope="module")
def taken_in(place: Path) -> Ran:
    """Return what ``take-in`` says of the photographs."""
    words = ["--flitch", "Cherry 31", "--species", "cherry", "--cut", "crown cut"]
    return step(place, "take-in", place / "photos", *words)


def step(place: Path, *words: object) -> Ran:
    """Run one command of the walk on the catalogue in ``place``."""
    ran = run_ui_alone(*words, "--catalog", place / "catalog.db")
    assert "Traceback" not in ran.stderr, ran.stderr
    return ran


def truth(place: Path) -> dict:
    return json.loads((place / "photos" / "truth.json").read_text(encoding="utf-8"))


def test_the_photographs_come_in_and_the_leaves_stand_in_order(taken_in):
    assert taken_in.code == 0, taken_in.stderr
    lines = taken_in.stdout.splitlines()
    assert [line.split()[1] for line in lines if line[:1].isdigit() and "mm" in line] == [
        "01",
        "02",
        "03",
    ]


def test_light_and_dark_change_places_with_the_lamp(place, taken_in):
    ran = step(place, "alternation", "--bundle", 1, "--json")

    assert ran.code == 0, ran.stderr
    at_a, at_b, *_others = ran.json["pairs"]
    assert at_a["evidence"] == "opened-pair"
    assert at_a["lightness_step"] * at_b["lightness_step"] < 0
    assert "strong" in at_a["flag"]


def test_the_match_shows_what_the_alternation_says(place, taken_in):
    step(place, "match", "--bundle", 1, "--leaves", "01-02", "--out", place / "match.png")
    pair = step(place, "alternation", "--bundle", 1, "--json").json["pairs"][0]

    picture = np.asarray(Image.open(place / "match.png").convert("L")).astype(float)
    rows, columns = picture.shape
    centre = picture[rows // 4 : rows * 3 // 4]
    left = centre[:, columns // 10 : columns * 4 // 10].mean()
    right = centre[:, columns * 6 // 10 : columns * 9 // 10].mean()
    assert (right - left) * pair["lightness_step"] > 0
    assert abs(right - left) > 2.0


def test_the_picture_set_holds_a_pdf_and_a_zip_without_camera_data(place, taken_in):
    ran = step(
        place, "picture-set", "--bundle", 1, "--customer", "A. Joiner", "--out", place / "set"
    )

    assert ran.code == 0, ran.stderr
    pdf, packed = (Path(line) for line in ran.stdout.splitlines())
    assert pdf.read_bytes().startswith(b"%PDF")
    with zipfile.ZipFile(packed) as archive:
        pictures = [name for name in archive.namelist() if name.endswith(".jpg")]
        assert len(pictures) >= 3
        for name in pictures:
            with archive.open(name) as file:
                picture = Image.open(file)
                assert not picture.getexif()
                assert picture.info.get("icc_profile")


def test_a_match_of_a_folder_needs_no_catalogue(place):
    ran = run_ui_alone("match", place / "photos", "--lamp", "B", "--out", place / "folder.jpg")

    assert ran.code == 0, ran.stderr
    with Image.open(place / "folder.jpg") as picture:
        assert max(picture.size) > 500


def test_a_match_of_a_leaf_that_is_not_there_is_one_sentence(place, taken_in):
    ran = step(place, "match", "--bundle", 1, "--leaves", "01-07", "--out", place / "none.png")

    assert ran.code == 3
    assert "no leaf '01-07'" in ran.stderr
    assert not (place / "none.png").exists()
