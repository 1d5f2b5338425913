"""A station is set up, listed and used by every command that reads photographs."""

import shutil

import numpy as np
import pytest
from PIL import Image

from tests.ui.at_station import OAK, SAID, SET_UP, TAKEN_ON, keep_bench
from tests.ui.running import run_ui

TRUE_LENGTH_MM, TRUE_LIGHTNESS = 2400.0, 64.0
"""Of the leaf that was drawn."""
CHART = (slice(1430, 1740), slice(1440, 1860))
"""Rows and columns of the chart's frame in its photograph."""


@pytest.fixture(scope="module")
def environment(tmp_path_factory):
    """Return the environment that names a catalogue with the station “bench”."""
    place = tmp_path_factory.mktemp("station")
    keep_bench(str(place / "catalog.db"), days=36500)
    return {
        "FLITCHWRIGHT_CATALOG": str(place / "catalog.db"),
        "FLITCHWRIGHT_PICTURES": str(place / "pictures"),
        "XDG_DATA_HOME": str(place / "data"),
        "XDG_CONFIG_HOME": str(place / "config"),
        "COLUMNS": "200",
    }


def test_setting_up_says_how_far_the_photograph_may_be_off_and_why(environment):
    words = ["--name", "second", "--photo", SET_UP, *SAID]
    ran = run_ui("station", "set-up", *words, environment=environment)

    assert ran.code == 0, ran.stderr
    assert "mm over 2.5 m" in ran.stdout
    assert "58 markers" in ran.stdout
    assert "by the chart" in ran.stdout


@pytest.mark.parametrize(
    ("faulty", "words"),
    [
        (("--left-mm", 2893), "30 markers"),
        (("--left-mm", 2745), "near 2700 mm"),
        (("--gap-top-mm", 53), "53 mm"),
        (("--camera-height-mm", 3.1), "3.1 mm"),
        (("--name", " "), "no name"),
    ],
)
def test_a_slip_of_the_tape_is_refused_in_a_sentence_and_nothing_is_kept(
    environment, faulty, words
):
    typed = ["--name", "slipped", "--photo", SET_UP, *SAID, *faulty]
    ran = run_ui("station", "set-up", *typed, environment=environment)

    assert ran.code == 3
    assert words in ran.stderr
    assert "slipped" not in run_ui("station", "list", environment=environment).stdout


def test_a_leaf_instead_of_rails_sets_no_station_up(environment, drawn):
    photo = next(drawn.glob("*.jpg"))
    ran = run_ui("station", "set-up", "--name", "x", "--photo", photo, *SAID,
                 environment=environment)  # fmt: skip

    assert ran.code == 3
    assert "rails" in ran.stderr


def test_the_verdict_of_a_photograph_is_what_measure_then_says_of_its_leaf(environment):
    said = run_ui("station", "verdict", OAK, "--station", "bench", "--json",
                  environment=environment).json  # fmt: skip
    (leaf,) = run_ui("measure", OAK, "--station", "bench", "--json", environment=environment).json

    assert said["scale_class"] == leaf["size"]["scale_class"] == "measured"
    assert said["colour_class"] == leaf["colour"]["colour_class"] == "measured"
    assert said["delta_e00_sd"] == pytest.approx(leaf["colour"]["delta_e00_sd"], abs=0.01)
    assert said["length_sd_mm"] == pytest.approx(leaf["size"]["length_sd_mm"], rel=0.1)
    assert abs(leaf["size"]["length_mm"] - TRUE_LENGTH_MM) < 3 * said["length_sd_mm"]


def test_an_unknown_station_is_named_together_with_those_there_are(environment, tmp_path):
    shutil.copy(OAK, tmp_path)
    for words in (
        ("take-in", tmp_path, "--flitch", "Oak"),
        ("alternation", tmp_path),
        ("quality", OAK, "--out", tmp_path / "sheet.png"),
        ("station", "verdict", OAK),
    ):
        ran = run_ui(*words, "--station", "nowhere", environment=environment)

        assert ran.code == 3, words
        assert "bench" in ran.stderr


def test_a_folder_taken_in_at_a_station_is_stored_as_measured(environment, tmp_path):
    shutil.copy(OAK, tmp_path)
    words = ["take-in", tmp_path, "--flitch", "Oak 7", "--station", "bench"]
    ran = run_ui(*words, environment=environment)

    assert ran.code == 0, ran.stderr
    (row,) = [line for line in ran.stdout.splitlines() if line.startswith("1 ")]
    length, lightness = float(row.split()[2]), float(row.split()[6])
    assert length == pytest.approx(TRUE_LENGTH_MM, abs=2.0)
    assert lightness == pytest.approx(TRUE_LIGHTNESS, abs=1.0)


def test_leaves_of_a_folder_at_a_station_can_be_compared(environment, tmp_path):
    picture = Image.open(OAK)
    shutil.copy(OAK, tmp_path / "01.jpg")
    picture.save(tmp_path / "02.jpg", quality=90, exif=picture.getexif())
    lines = ["file,leaf,laid,lamp", "01.jpg,01,as-lies,A", "02.jpg,02,as-lies,A"]
    (tmp_path / "shots.csv").write_text("\n".join(lines) + "\n")

    ran = run_ui("alternation", tmp_path, "--match", "slip", "--station", "bench", "--json",
                 environment=environment)  # fmt: skip

    assert ran.code == 0, ran.stderr
    pairs = [pair for pair in ran.json["pairs"] if pair["lightness_step"] is not None]
    assert pairs
    assert all(abs(pair["lightness_step"]) < 0.3 for pair in pairs)


def test_a_bundle_of_the_catalogue_takes_no_station(environment):
    ran = run_ui("alternation", "--bundle", 1, "--station", "bench", environment=environment)

    assert ran.code == 2
    assert "--station" in ran.stderr


def test_the_quality_sheet_at_a_station_shows_misses_of_markers_in_red(environment, tmp_path):
    sheets = []
    for name, words in (("with.png", ["--station", "bench"]), ("without.png", [])):
        ran = run_ui("quality", OAK, "--out", tmp_path / name, *words, environment=environment)
        assert ran.code == 0, ran.stderr
        sheets.append(np.asarray(Image.open(tmp_path / name), dtype=int))

    red = [(np.abs(sheet - (176, 42, 26)).max(axis=2) < 12).sum() for sheet in sheets]
    assert red[0] > red[1] + 500


def test_a_station_past_its_days_is_listed_as_expired(environment, tmp_path):
    url = str(tmp_path / "old.db")
    words = ["--name", "old", "--photo", SET_UP, *SAID, "--days", 1]
    again = {**environment, "FLITCHWRIGHT_CATALOG": url}

    run_ui("station", "set-up", *words, environment=again)

    assert (
        f"expired on {TAKEN_ON.replace(day=24)}"
        in run_ui("station", "list", environment=again).stdout
    )


def without_chart(path, *, light=(1.0, 1.0, 1.0)):
    """Write the station's own photograph with its chart covered, in another light."""
    picture = Image.open(SET_UP)
    levels = np.asarray(picture.convert("RGB"), dtype=float) / 255
    linear = np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4)
    linear[CHART] = linear[:, CHART[1]][CHART[0].stop : CHART[0].stop + 30].mean(axis=(0, 1))
    linear = np.clip(linear * light, 0, 1)
    lit = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    made = Image.fromarray(np.rint(255 * lit).astype(np.uint8))
    made.save(path, quality=95, exif=picture.getexif())
    return path


def test_without_the_chart_the_station_itself_tells_the_colour(environment, tmp_path):
    photo = without_chart(tmp_path / "later.jpg")
    said = run_ui("station", "verdict", photo, "--station", "bench", environment=environment)

    assert "bench" in said.stdout
    assert "greys agree" in said.stdout


@pytest.mark.parametrize(
    ("light", "words"),
    [((0.95, 0.95, 0.95), "5% less light"), ((1.05, 1.0, 0.95), "hue has moved")],
    ids=["darker", "redder"],
)
def test_lamps_changed_by_five_per_cent_lower_the_class_and_the_words_say_why(
    environment, tmp_path, light, words
):
    photo = without_chart(tmp_path / "later.jpg", light=light)
    ask = ("station", "verdict", photo, "--station", "bench")

    assert run_ui(*ask, "--json", environment=environment).json["colour_class"] not in {
        "measured",
        "station",
    }
    assert words in run_ui(*ask, environment=environment).stdout


def test_a_photograph_that_shows_neither_rails_nor_chart_is_read_and_says_what_it_lacks(
    environment, drawn
):
    photo = next(path for path in sorted(drawn.glob("*.jpg")) if "blank" not in path.name)
    ran = run_ui("measure", photo, "--station", "bench", "--json", environment=environment)

    assert ran.code == 0, ran.stderr
    (record,) = ran.json
    assert {"rails-unfit", "station-not-held"} <= set(record["flags"])
    assert record["size"]["scale_class"] == "typed"
    assert record["colour"]["colour_class"] not in {"measured", "station"}
    assert "markers" in record["size_words"]
    assert record["colour_words"]
