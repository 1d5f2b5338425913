"""``rails`` on the command line."""

import json

import pytest

from tests.ui.running import run_ui


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_rails_are_written_with_a_list_of_everything_on_them(tmp_path, paper):
    out = tmp_path / "printed" / "rails.pdf"

    ran = run_ui("rails", "--length-mm", 3200, "--paper", paper, "--out", out)

    listed = json.loads(out.with_suffix(".json").read_text(encoding="utf-8"))
    kinds = [item["kind"] for item in listed["items"]]
    assert ran.code == 0, ran.stderr
    assert ran.stdout.split() == [str(out), str(out.with_suffix(".json"))]
    assert "33 markers on each rail, 3200 mm" in ran.stderr
    assert out.read_bytes().startswith(b"%PDF")
    assert (listed["paper"], listed["length_mm"]) == (paper, 3200.0)
    assert (kinds.count("marker"), kinds.count("grey")) == (70, 42)
    assert kinds.count("chart patch") == 24
    assert {item["page"] for item in listed["items"]} <= set(range(2, listed["sheets"] + 1))


def test_the_list_places_a_marker_on_its_rail_and_on_its_sheet(tmp_path):
    out = tmp_path / "rails.pdf"

    run_ui("rails", "--length-mm", 3200, "--out", out)

    items = json.loads(out.with_suffix(".json").read_text(encoding="utf-8"))["items"]
    marker = next(item for item in items if item["marker_id"] == 105)
    assert (marker["part"], marker["x_mm"], marker["y_mm"]) == ("right", 0.0, 500.0)
    assert marker["piece"] == "R3/17"
    assert marker["page"] == 4
    # an upright A4 sheet: 17 mm at the side, the strip's outer 54; seams 150 mm past each 200
    assert marker["page_x_mm"] == pytest.approx(210 - 17 - 54)
    assert marker["page_y_mm"] == pytest.approx(27 + 500 - 350)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--length-mm", 3600), "3500 mm long, first marker to last"),
        (("--length-mm", 60), "3500 mm long, first marker to last"),
        (("--length-mm", "nan"), "cannot be made"),
        (("--length-mm", 2000, "--pitch-mm", 250), "every 100 or 400 mm"),
        (("--length-mm", 2000, "--chart-patch-mm", 60), "8 to 44 mm"),
        (("--length-mm", 2000, "--gap-mm", 20), "100 to 2000 mm"),
    ],
)
def test_rails_that_cannot_be_made_are_refused_in_a_sentence(tmp_path, words, sentence):
    out = tmp_path / "rails.pdf"

    ran = run_ui("rails", *words, "--out", out)

    assert ran.code == 3
    assert sentence in ran.stderr
    assert not out.exists()


def test_the_list_never_overwrites_the_pdf(tmp_path):
    ran = run_ui("rails", "--length-mm", 2000, "--out", tmp_path / "rails.json")

    assert ran.code == 2
    assert list(tmp_path.iterdir()) == []
