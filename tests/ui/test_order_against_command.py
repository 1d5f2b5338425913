"""A bundle photographed again, at another exposure, is compared with its record."""

import dataclasses
import shutil

import cv2
import numpy as np
import pytest

from sample_images import FlitchPlan, Scene, draw_photo
from tests.ui.running import run_ui

LEAVES = 10
PLAN = FlitchPlan(
    seed=91,
    species="oak",
    leaves=LEAVES,
    length_mm=1200,
    width_mm=200,
    photo_px=(800, 1200),
    rails=True,
    shots=(),
)
OTHER = dataclasses.replace(PLAN, seed=92)


def expose(path, stops):
    """Write a photograph again as a camera set to another exposure and compression would."""
    light = (cv2.imread(str(path)).astype(np.float32) / 255) ** 2.2
    coded = np.clip(light * 2.0**stops, 0, 1) ** (1 / 2.2)
    cv2.imwrite(str(path), np.round(255 * coded).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 84])


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    place = tmp_path_factory.mktemp("recorded")
    folder = place / "first"
    folder.mkdir()
    for number in range(1, LEAVES + 1):
        draw_photo(PLAN, Scene(number, "as-lies", "A"), folder / f"{number:02d}.jpg")
    at = ("--catalog", f"sqlite:///{place / 'catalog.db'}", "--pictures", place / "pictures")
    done = run_ui("take-in", folder, "--flitch", "Oak 91", *at)
    assert done.code == 0, done.stderr
    return folder, at


def photograph_again(folder, scenes):
    """Lay scenes (plan, leaf, laying) on the board in turn, two thirds of a stop darker."""
    folder.mkdir(exist_ok=True)
    for place, (plan, leaf, laid) in enumerate(scenes, start=1):
        path = folder / f"again-{place:02d}.jpg"
        draw_photo(plan, Scene(leaf, laid, "A"), path)
        expose(path, -0.67)
    return folder


def test_what_is_gone_moved_turned_and_foreign_is_told(recorded, tmp_path):
    _, at = recorded
    laid = dict.fromkeys(range(1, LEAVES + 1), "as-lies") | {6: "end-turned"}
    order = [1, 9, 2, 3, 5, 6, 7, 8, 10]
    scenes = [(PLAN, leaf, laid[leaf]) for leaf in order]
    scenes.insert(7, (OTHER, 5, "as-lies"))
    folder = photograph_again(tmp_path / "again", scenes)

    done = run_ui("order", folder, "--against", 1, "--json", *at)

    assert done.code == 0, done.stderr
    found = done.json
    seen = [one["leaf"] for one in found["photographs"]]
    assert seen == ["01", "09", "02", "03", "05", "06", "07", None, "08", "10"]
    assert found["gone"] == ["04"]
    assert found["moved"] == ["09"]
    assert found["turned"] == [{"leaf": "06", "laid": "end-turned"}]
    assert found["foreign"] == ["again-08.jpg"]
    words = " ".join(found["summary"])
    assert "Leaf 04 is gone." in words
    assert "Leaf 09 belongs between 08 and 10." in words
    assert "Leaf 06 lies end for end." in words
    assert "Photo again-08.jpg is not of this flitch." in words


def test_a_bundle_as_it_was_at_another_exposure_is_told_to_be_whole(recorded, tmp_path):
    first, at = recorded
    folder = shutil.copytree(first, tmp_path / "again")
    for path in sorted(folder.glob("*.jpg")):
        expose(path, 0.4)

    done = run_ui("order", folder, "--against", 1, "--json", *at)

    assert [one["leaf"] for one in done.json["photographs"]] == [
        f"{number:02d}" for number in range(1, LEAVES + 1)
    ]
    assert done.json["summary"] == ["Every leaf of the record is there, in order, as it lay."]
    assert {one["laid"] for one in done.json["photographs"]} == {"as-lies"}


def test_a_swap_of_neighbours_is_told(recorded, tmp_path):
    _, at = recorded
    scenes = [(PLAN, leaf, "as-lies") for leaf in (1, 2, 3, 5, 4, 6, 7, 8, 9, 10)]
    folder = photograph_again(tmp_path / "again", scenes)

    done = run_ui("order", folder, "--against", 1, *at)

    assert done.code == 0, done.stderr
    assert "Leaves 05 and 04 look swapped." in done.stdout
    assert "gone" not in done.stdout


def test_an_unknown_bundle_is_named_before_photographs_are_read(recorded, tmp_path):
    first, at = recorded

    done = run_ui("order", first, "--against", 7, *at)

    assert done.code == 3
    assert "7" in done.stderr


def test_a_record_is_compared_with_a_folder_only(recorded):
    _, at = recorded

    assert run_ui("order", "--bundle", 1, "--against", 1, *at).code == 2
    assert run_ui("order", "--against", 1, *at).code == 2
