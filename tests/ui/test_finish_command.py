"""`finish` and `alternation --finish`: leaves spoken of as finished."""

from tests.ui.running import run_ui


def test_a_folder_with_several_leaves_is_no_offcut(drawn, tmp_path):
    ran = run_ui("finish", drawn, drawn, "--out", tmp_path / "oil.json")

    assert ran.code == 3
    assert "exactly one is needed" in ran.stderr


def test_a_file_that_is_no_finish_is_refused_in_words(stock, tmp_path):
    wrong = tmp_path / "oil.json"
    wrong.write_text("{}")

    words = ["alternation", "--bundle", 1, "--room", "low-sun", "--finish", wrong]
    ran = run_ui(*words, environment=stock)

    assert ran.code == 3
    assert "no record of a finish" in ran.stderr


def test_leaves_are_spoken_of_as_finished(stock, tmp_path):
    oil = tmp_path / "oil.json"
    oil.write_text(
        '{"name": "oil", "strength_times": 2.0, "width_times": 1.0, "slope_times": 1.2, '
        '"light_times": [0.7, 0.7, 0.7], "strength_sd": 0.1, "width_sd": 0.1, "slope_sd": 0.1, '
        '"light_sd": 0.02}'
    )
    words = ["alternation", "--bundle", 1, "--lamp-at", "0,900,1500", "--json"]

    raw = run_ui(*words, environment=stock).json["pairs"]
    oiled = run_ui(*words, "--finish", oil, environment=stock).json["pairs"]

    for one, other in zip(raw, oiled, strict=True):
        assert abs(other["lightness_step"]) > abs(one["lightness_step"])
