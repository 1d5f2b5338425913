"""A loose leaf photographed anew is found in a catalogue of several flitches, or refused."""

import pytest
from PIL import Image

from sample_images import FlitchPlan, Scene, draw_photo
from tests.ui.running import run_ui

WOODS = (("walnut", "plain"), ("oak", "plain"), ("cherry", "rift"))
LEAVES, WITHHELD = 9, 5


def plan(index):
    species, cut = WOODS[index % 3]
    return FlitchPlan(
        seed=510 + index,
        species=species,
        cut=cut,
        leaves=LEAVES,
        length_mm=1200,
        width_mm=200,
        photo_px=(800, 1200),
        rails=True,
        shots=(),
    )


@pytest.fixture(scope="module")
def stock(tmp_path_factory):
    place = tmp_path_factory.mktemp("stock")
    at = ("--catalog", f"sqlite:///{place / 'catalog.db'}", "--pictures", place / "pictures")
    for index in range(3):
        folder = place / f"flitch-{index}"
        folder.mkdir()
        for number in range(1, LEAVES + 1):
            if number != WITHHELD:
                draw_photo(plan(index), Scene(number, "as-lies", "A"), folder / f"{number}.jpg")
        done = run_ui("take-in", folder, "--flitch", f"Flitch {index}", *at)
        assert done.code == 0, done.stderr
    return at


@pytest.fixture(scope="module")
def loose(tmp_path_factory):
    """Photographs of loose leaves: withheld of flitch 0, leaf 3 of flitch 1 turned, foreign."""
    place = tmp_path_factory.mktemp("loose")
    draw_photo(plan(0), Scene(WITHHELD, "as-lies", "B"), place / "withheld.jpg")
    draw_photo(plan(1), Scene(3, "end-turned", "A"), place / "turned.jpg")
    draw_photo(plan(3), Scene(4, "as-lies", "A"), place / "foreign.jpg")
    return place


def test_a_withheld_leaf_is_placed_at_its_joint(stock, loose):
    done = run_ui("place", loose / "withheld.jpg", "--json", *stock)

    assert done.code == 0, done.stderr
    (found,) = done.json["leaves"]
    assert found["in_catalogue"]
    assert found["flitch"] == "Flitch 0"
    assert found["laid"] == "as-lies"
    near = {found["is_leaf"], found["after_leaf"], found["before_leaf"]}
    assert near & {"4", "6"}


def test_a_turned_leaf_is_told_to_be_turned(stock, loose):
    done = run_ui("place", loose / "turned.jpg", "--json", *stock)

    (found,) = done.json["leaves"]
    assert found["flitch"] == "Flitch 1"
    assert found["laid"] == "end-turned"
    assert "3" in {found["is_leaf"], found["after_leaf"], found["before_leaf"]}
    assert "end for end" in " ".join(found["summary"])


def test_a_leaf_of_another_flitch_is_not_in_the_catalogue(stock, loose):
    done = run_ui("place", loose / "foreign.jpg", *stock)

    assert done.code == 0
    assert "Not in the catalogue" in done.stdout


def test_several_leaves_are_told_one_by_one_and_a_text_file_is_refused(stock, loose, tmp_path):
    text = tmp_path / "letter.jpg"
    text.write_text("Dear Sir", encoding="utf-8")

    done = run_ui("place", loose / "turned.jpg", text, "--json", *stock)

    assert done.code == 1
    assert [leaf["file"] for leaf in done.json["leaves"]] == ["turned.jpg"]
    assert [one["file"] for one in done.json["refused"]] == ["letter.jpg"]
    assert done.json["refused"][0]["reason"].endswith(".")


def test_a_photograph_without_a_leaf_is_refused_in_a_sentence(stock, tmp_path):
    Image.new("RGB", (800, 1200), (140, 140, 140)).save(tmp_path / "bare.jpg")

    done = run_ui("place", tmp_path / "bare.jpg", *stock)

    assert done.code == 3
    assert "bare.jpg" in done.stderr


def test_an_empty_catalogue_is_named_before_any_photograph_is_read(loose, tmp_path):
    at = ("--catalog", f"sqlite:///{tmp_path / 'new.db'}", "--pictures", tmp_path / "pictures")

    done = run_ui("place", loose / "turned.jpg", *at)

    assert done.code == 3
    assert "holds no leaf" in done.stderr
    assert "take-in" in done.stderr
