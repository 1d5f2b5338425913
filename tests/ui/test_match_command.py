"""``match`` from the command line: leaves moved, joints trimmed, a door round it."""

import csv
import io
import json

import pytest
from PIL import Image

from tests.ui.running import run_ui


def cuts_of(path) -> dict[str, list[dict[str, str]]]:
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    return {row["leaf"]: [one for one in rows if one["leaf"] == row["leaf"]] for row in rows}


def test_a_leaf_is_moved_and_the_run_begun_turned_over(stock, tmp_path):
    cuts = tmp_path / "cuts.csv"
    words = ["match", "--bundle", 1, "--leaves", "01-03", "--out", tmp_path / "match.png"]

    ran = run_ui(
        *words, "--start", "face-over", "--shift", "02=20", "--cut-list", cuts, environment=stock
    )

    assert ran.code == 0, ran.stderr
    assert "as far as every leaf reaches: 20 less" in ran.stdout
    laid = {leaf: rows[0]["laid"] for leaf, rows in cuts_of(cuts).items()}
    assert laid["01"] == laid["03"] == "turned over on its long edge"
    assert laid["02"] == "as it lies"


def test_joints_are_trimmed_where_the_figure_meets_and_the_words_say_what_it_costs(stock, tmp_path):
    cuts, out = tmp_path / "cuts.csv", tmp_path / "match.png"
    words = ["match", "--bundle", 1, "--leaves", "01-03", "--out", out, "--cut-list", cuts]

    ran = run_ui(*words, "--best-joints", "--most-loss-mm", 16, environment=stock)

    assert ran.code == 0, ran.stderr
    assert "joints trimmed" in ran.stdout
    assert "no longer mirror images" in ran.stdout
    assert "go at 2 joints" in ran.stdout
    assert ran.stdout.count("agreement beside the joint") == 2
    joints = [row for rows in cuts_of(cuts).values() for row in rows if row["use"] == "joint"]
    assert len(joints) == 4
    least = 3.0 - 0.1
    assert all(float(row["from_x_mm"]) >= least for row in joints)


def test_a_door_is_drawn_round_the_picture_within_its_long_side(stock, tmp_path):
    sizes = {}
    for name, more in (("bare", []), ("door", ["--around", "door", "--person"])):
        out = tmp_path / f"{name}.png"
        words = ["match", "--bundle", 1, "--leaves", "01,02", "--long-px", 900, "--out", out]
        assert run_ui(*words, *more, environment=stock).code == 0
        with Image.open(out) as picture:
            sizes[name] = picture.size
            high_mm = picture.height / picture.info["dpi"][1] * 25.4

    assert max(sizes["door"]) <= 910
    assert sizes["door"][0] > 1.5 * sizes["bare"][0]
    assert high_mm == pytest.approx(2040 + 65 + 2 * 50, rel=0.01)


@pytest.mark.parametrize(
    "words", [["--shift", "02"], ["--shift", "02=far"], ["--start", "upright"]]
)
def test_what_cannot_be_read_is_wrong_use(stock, tmp_path, words):
    asked = ["match", "--bundle", 1, "--out", tmp_path / "match.png", *words]

    assert run_ui(*asked, environment=stock).code == 2


def test_a_bundle_that_is_not_in_the_catalogue_is_told(stock, tmp_path):
    ran = run_ui("match", "--bundle", 99, "--out", tmp_path / "match.png", environment=stock)

    assert ran.code == 3
    assert "no bundle number 99" in ran.stderr
    assert not (tmp_path / "match.png").exists()


@pytest.mark.parametrize("match", ["book", "diamond", "box", "reverse-box", "herringbone", "slip"])
def test_every_match_is_told_in_the_light_of_a_room_with_its_intervals(stock, tmp_path, match):
    out = tmp_path / "match.png"
    words = ["match", "--bundle", 1, "--match", match, "--out", out, "--long-px", 300, "--json"]

    under_lamp = run_ui(*words, environment=stock)
    before = out.read_bytes()
    ran = run_ui(*words, "--room", "window-side", environment=stock)

    assert under_lamp.code == ran.code == 0, ran.stderr
    told = json.loads(ran.stdout)
    assert told["shows_light_and_dark"]
    assert "in the light of a window at the side" in told["title"]
    assert told["pairs"]
    assert {pair["light"] for pair in told["pairs"]} == {"window-side"}
    assert {pair["light"] for pair in json.loads(under_lamp.stdout)["pairs"]} == {"lamp A"}
    for pair in told["pairs"]:
        assert pair["match"] == match
        assert pair["lightness_low"] < pair["lightness_step"] < pair["lightness_high"]
        assert pair["delta_e00_low"] <= pair["delta_e00"] <= pair["delta_e00_high"]
    assert out.read_bytes() != before


def test_a_lamp_is_placed_freely_over_a_match_but_not_behind_it(stock, tmp_path):
    words = ["match", "--bundle", 1, "--match", "box", "--out", tmp_path / "match.png"]

    placed = run_ui(*words, "--lamp-at", "0,1500,900", environment=stock)
    behind = run_ui(*words, "--lamp-at", "0,1500,-900", environment=stock)
    both = run_ui(*words, "--lamp-at", "0,1500,900", "--room", "low-sun", environment=stock)

    assert "in the light of a lamp 1500 mm up, 900 mm before the face" in placed.stdout
    assert behind.code == 3
    assert "before the face" in behind.stderr
    assert both.code == 2
