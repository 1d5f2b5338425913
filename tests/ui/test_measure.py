import shutil

import pytest

from tests.ui.running import run_ui

FIGURE_FIELDS = {
    "grain_angle_deg", "grain_straightness", "line_pitch_mm", "cross_figure_period_mm",
    "cross_figure_strength", "flake_density",
}  # fmt: skip
COLOUR_FIELDS = {
    "lightness", "a", "b", "chroma", "hue_deg", "lightness_p5", "lightness_p95", "illuminant",
    "colour_class",
}  # fmt: skip


def photos_of(folder):
    return sorted(folder.glob("*.jpg"))


def test_measure_writes_the_records_that_other_programs_rely_on(drawn):
    ran = run_ui("measure", drawn, "--json")

    assert ran.code == 0, ran.stderr
    assert len(ran.json) == 8
    for record in ran.json:
        assert set(record) >= {"file", "size", "colour", "figure", "flags"}
        assert set(record["size"]) == {"length_mm", "width_mm", "px_per_mm", "scale_class"}
        assert set(record["colour"]) == COLOUR_FIELDS
        assert set(record["figure"]) >= FIGURE_FIELDS
        assert isinstance(record["flags"], list)


def test_measure_takes_the_size_from_the_shot_list_beside_the_photograph(drawn):
    photo = next(path for path in photos_of(drawn) if "blank" not in path.name)

    ran = run_ui("measure", photo, "--json")

    assert ran.code == 0, ran.stderr
    assert ran.json[0]["size"]["scale_class"] == "typed"
    assert ran.json[0]["size"]["length_mm"] == pytest.approx(1200.0, abs=1.0)


def test_measure_without_scale_gives_no_millimetres_and_says_so(drawn, tmp_path):
    photo = next(path for path in photos_of(drawn) if "blank" not in path.name)
    shutil.copy(photo, tmp_path / "alone.jpg")

    ran = run_ui("measure", tmp_path / "alone.jpg", "--json")

    size = ran.json[0]["size"]
    assert size["length_mm"] is None
    assert size["scale_class"] == "none"
    assert "scale-missing" in ran.json[0]["flags"]


def test_measure_without_json_is_a_table_for_people(drawn):
    ran = run_ui("measure", drawn)

    assert ran.code == 0, ran.stderr
    assert "1200 ×" in ran.stdout
    assert len(ran.stdout.splitlines()) == 2 + 8


def test_progress_goes_to_standard_error_only(drawn):
    ran = run_ui("measure", drawn, "--json")

    assert "Reading photographs" in ran.stderr
    assert "Reading photographs" not in ran.stdout


def test_a_photograph_that_is_not_there_is_refused_and_the_rest_measured(drawn):
    photo = next(path for path in photos_of(drawn) if "blank" not in path.name)

    ran = run_ui("measure", photo, drawn / "gone.jpg", "--json")

    assert ran.code == 1
    assert "size" in ran.json[0]
    assert ran.json[1]["file"] == "gone.jpg"
    assert "gone.jpg" in ran.stderr


def test_nothing_measured_is_exit_code_three(tmp_path):
    (tmp_path / "words.jpg").write_text("not a picture")

    ran = run_ui("measure", tmp_path / "words.jpg", "--json")

    assert ran.code == 3
    assert "Traceback" not in ran.stderr


def test_no_photograph_named_is_wrong_use():
    assert run_ui("measure").code == 2
