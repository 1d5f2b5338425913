"""``plan`` from the command line."""

import pytest

from catalog.errors import EntryFaulty
from tests.ui.running import run_ui
from ui.job_entry import panels_from, read_marks
from vision.panel_job import Place


def test_a_plan_names_the_leaves_of_each_panel(stock):
    ran = run_ui("plan", "--bundle", 1, "--panel", "door=340x1000", environment=stock)

    assert ran.code == 0, ran.stderr
    assert "Walnut 5, bundle 1: book matched, balance match" in ran.stdout
    assert "door" in ran.stdout
    assert "yield" in ran.stdout


def test_records_hold_every_cut(stock):
    ran = run_ui("plan", "--bundle", 1, "--panel", "340x1000", "--json", environment=stock)

    plan = ran.json["plans"][0]
    pieces = plan["panels"][0]["pieces"]
    assert sum(piece["width_mm"] for piece in pieces) == pytest.approx(340.0, abs=0.02)
    assert all(len(piece["cuts"]) == 4 for piece in pieces)
    assert 0 < plan["yield"] < 1


def test_a_folder_of_photographs_needs_no_catalogue(drawn):
    ran = run_ui("plan", drawn, "--panel", "340x1000")

    assert ran.code == 0, ran.stderr
    assert "01" in ran.stdout


def test_a_gone_leaf_is_not_used(stock):
    words = ["--bundle", 1, "--panel", "150x1000", "--gone", "01", "--json"]

    plan = run_ui("plan", *words, environment=stock).json["plans"][0]

    assert "01" not in {piece["leaf"] for piece in plan["panels"][0]["pieces"]}


def test_cut_lists_are_written(stock, tmp_path):
    words = ["--bundle", 1, "--panel", "340x1000", "--choices", 1, "--out", tmp_path]

    run_ui("plan", *words, environment=stock)

    kinds = sorted(path.suffix for path in tmp_path.iterdir())
    assert kinds == [".csv", ".pdf"]


def test_a_job_that_cannot_be_made_ends_with_the_reason_and_code_3(stock):
    ran = run_ui("plan", "--bundle", 1, "--panel", "900x2400", environment=stock)

    assert ran.code == 3
    assert "the longest free leaf" in ran.stderr


@pytest.mark.parametrize("size", ["900", "wide x tall", "0x900x2100", "99x900x2100"])
def test_a_size_that_cannot_be_read_is_wrong_use(stock, size):
    assert run_ui("plan", "--bundle", 1, "--panel", size, environment=stock).code == 2


def test_marks_without_a_bundle_are_wrong_use(stock):
    ran = run_ui("plan", "--panel", "340x1000", "--gone", "01", environment=stock)

    assert ran.code == 2


def test_a_bundle_named_twice_is_wrong_use_for_its_leaves_are_there_once(stock):
    ran = run_ui("plan", "--bundle", 1, "--bundle", 1, "--panel", "340x1000", environment=stock)

    assert ran.code == 2
    assert "twice" in ran.stderr


def test_a_list_of_panels_is_read_with_its_counts(tmp_path):
    (tmp_path / "job.csv").write_text(
        "name,width_mm,length_mm,count\ndoor,900,2100,2\nrail,900,90,\n"
    )

    panels = panels_from([str(tmp_path / "job.csv")])

    assert [panel.name for panel in panels] == ["door 1", "door 2", "rail"]


def test_a_list_without_its_columns_says_which(tmp_path):
    (tmp_path / "job.csv").write_text("name,width\ndoor,900\n")

    with pytest.raises(EntryFaulty, match="width_mm, length_mm"):
        panels_from([str(tmp_path / "job.csv")])


def test_marked_places_are_read(tmp_path):
    path = tmp_path / "marks.csv"
    path.write_text(
        "leaf,kind,left_mm,top_mm,right_mm,bottom_mm,place,at_mm\n01,knot,10,20,30,40,show,900\n"
    )

    (mark,) = read_marks(path)["01"]

    assert (mark.kind, mark.place, mark.at_mm) == ("knot", Place.SHOW, 900.0)
