import shutil
from pathlib import Path

import pytest

from tests.ui.running import run_ui, run_ui_alone

FIGURE_FIELDS = {
    "grain_angle_deg", "grain_straightness", "line_pitch_mm", "cross_figure_period_mm",
    "cross_figure_strength", "flake_density",
}  # fmt: skip
SIZE_FIELDS = {
    "length_mm",
    "width_mm",
    "px_per_mm",
    "scale_class",
    "length_sd_mm",
    "width_sd_mm",
    "net_area_mm2",
    "split_area_mm2",
    "hole_area_mm2",
}
COLOUR_FIELDS = {
    "delta_e00_sd",
    "lightness", "a", "b", "chroma", "hue_deg", "lightness_p5", "lightness_p95", "illuminant",
    "colour_class",
}  # fmt: skip


def a_leaf_of(folder: Path) -> Path:
    return next(path for path in sorted(folder.glob("*.jpg")) if "blank" not in path.name)


def test_measure_writes_the_records_that_other_programs_rely_on(measured):
    assert measured.code == 0, measured.stderr
    assert len(measured.json) == 8
    for record in measured.json:
        assert set(record) >= {"file", "size", "colour", "figure", "flags"}
        assert set(record["size"]) == SIZE_FIELDS
        assert set(record["colour"]) == COLOUR_FIELDS
        assert set(record["figure"]) >= FIGURE_FIELDS
        assert isinstance(record["flags"], list)


def test_measure_takes_the_size_from_the_shot_list_beside_the_photograph(drawn):
    ran = run_ui("measure", a_leaf_of(drawn), "--json")

    assert ran.code == 0, ran.stderr
    assert ran.json[0]["size"]["scale_class"] == "typed"
    assert ran.json[0]["size"]["length_mm"] == pytest.approx(1200.0, abs=10.0)


def test_measure_without_scale_gives_no_millimetres_and_says_so(drawn, tmp_path):
    shutil.copy(a_leaf_of(drawn), tmp_path / "alone.jpg")

    ran = run_ui("measure", tmp_path / "alone.jpg", "--json")

    size = ran.json[0]["size"]
    assert size["length_mm"] is None
    assert size["scale_class"] == "none"
    assert "scale-missing" in ran.json[0]["flags"]


def test_measure_without_json_is_a_table_for_people(drawn):
    ran = run_ui("measure", a_leaf_of(drawn))

    assert ran.code == 0, ran.stderr
    assert " mm" in ran.stdout
    assert len(ran.stdout.splitlines()) == 2 + 1


def test_progress_goes_to_standard_error_only(measured):
    assert "Reading photographs" in measured.stderr
    assert "Reading photographs" not in measured.stdout


def test_a_photograph_that_is_not_there_is_refused_and_the_rest_measured(drawn):
    ran = run_ui("measure", a_leaf_of(drawn), drawn / "gone.jpg", "--json")

    assert ran.code == 1
    assert "size" in ran.json[0]
    assert ran.json[1]["file"] == "gone.jpg"
    assert ran.json[1]["refused"].endswith(".")
    assert "gone.jpg" in ran.stderr


def test_nothing_measured_is_exit_code_three_without_a_traceback(tmp_path):
    (tmp_path / "words.jpg").write_text("not a picture")

    ran = run_ui_alone("measure", tmp_path / "words.jpg", "--json")

    assert ran.code == 3
    assert "Refused words.jpg" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_no_photograph_named_is_wrong_use():
    assert run_ui("measure").code == 2
