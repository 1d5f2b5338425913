import shutil

from tests.ui.running import run_ui

PAIR_FIELDS = {
    "left", "right", "match", "light", "lightness_step", "lightness_low", "lightness_high",
    "delta_e00", "delta_e00_low", "delta_e00_high", "tilt_part", "face_part", "local_rms", "flag",
    "evidence", "likely", "segments",
}  # fmt: skip


def test_alternation_of_a_folder_needs_no_catalogue_and_names_every_field(alternating):
    pairs = alternating.json["pairs"]

    assert alternating.code == 0, alternating.stderr
    assert [(pair["left"], pair["right"], pair["light"]) for pair in pairs[:2]] == [
        ("01", "02", "lamp A"),
        ("01", "02", "lamp B"),
    ]
    assert len(pairs) == 6
    assert all(set(pair) == PAIR_FIELDS for pair in pairs)
    assert alternating.json["refused"] == []


def test_the_steps_change_sign_with_the_lamp_where_the_fibres_slope(alternating):
    pairs = alternating.json["pairs"]

    for at_a, at_b in zip(pairs[::2], pairs[1::2], strict=True):
        assert at_a["lightness_step"] * at_b["lightness_step"] < 0


def test_a_slip_match_of_the_same_leaves_shows_less(alternating, stock):
    words = ["alternation", "--bundle", 1, "--json", "--match", "slip"]

    slipped = run_ui(*words, environment=stock).json["pairs"]

    assert max(abs(pair["lightness_step"]) for pair in slipped) < max(
        abs(pair["lightness_step"]) for pair in alternating.json["pairs"]
    )


def test_one_photograph_a_leaf_is_never_called_none_or_strong(drawn, tmp_path):
    for photo in drawn.glob("*.jpg"):
        if photo.name.endswith("_A.jpg") and "blank" not in photo.name:
            shutil.copy(photo, tmp_path)

    ran = run_ui("alternation", tmp_path, "--json")

    assert {pair["flag"] for pair in ran.json["pairs"]} == {"not-measured"}
    assert {pair["lightness_step"] for pair in ran.json["pairs"]} == {None}


def test_the_catalogue_tells_the_same_as_the_folder(alternating, stock):
    from_stock = run_ui("alternation", "--bundle", 1, "--json", environment=stock)

    assert from_stock.json["pairs"] == alternating.json["pairs"]


def test_without_json_each_pair_is_a_line_with_the_word_first(stock):
    ran = run_ui("alternation", "--bundle", 1, environment=stock)

    assert "01 | 02" in ran.stdout
    assert "lighter" in ran.stdout


def test_folder_and_bundle_together_are_wrong_use(drawn):
    assert run_ui("alternation", drawn, "--bundle", 1).code == 2
    assert run_ui("alternation").code == 2


def test_a_bundle_that_is_not_there_is_said_in_a_sentence(stock):
    ran = run_ui("alternation", "--bundle", 99, environment=stock)

    assert ran.code == 3
    assert "99" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_every_named_light_is_worked_out_from_the_photographs_of_both_lamps(stock):
    ran = run_ui("alternation", "--bundle", 1, "--room", "all", "--json", environment=stock)

    pairs = ran.json["pairs"]
    assert ran.code == 0, ran.stderr
    assert [pair["light"] for pair in pairs[:6]] == [
        "lamp-row", "window-end", "window-side", "low-sun", "even-sky", "picture-light",
    ]  # fmt: skip
    assert all(set(pair) == PAIR_FIELDS for pair in pairs)
    assert {pair["evidence"] for pair in pairs} == {"model"}
    assert all(
        pair["lightness_low"] < pair["lightness_step"] < pair["lightness_high"] for pair in pairs
    )


def test_a_lamp_may_be_placed_anywhere_before_the_face(stock):
    words = ["alternation", "--bundle", 1, "--json", "--lamp-at", "0,900,1500"]

    above = run_ui(*words, environment=stock).json["pairs"]
    below = run_ui(*words[:-1], "0,-900,1500", "--eye-at=0,0,2200", environment=stock).json["pairs"]

    assert {pair["light"] for pair in above} == {"lamp"}
    assert all(
        one["tilt_part"] * other["tilt_part"] < 0 for one, other in zip(above, below, strict=True)
    )


def test_a_lamp_that_is_no_place_is_wrong_use(stock):
    ran = run_ui("alternation", "--bundle", 1, "--lamp-at", "0,900", environment=stock)

    assert ran.code == 2
    assert "three numbers in mm" in ran.stderr


def test_every_match_is_ranked_in_words_with_its_cost(stock):
    ran = run_ui("alternation", "--bundle", 1, "--match", "all", environment=stock)

    assert "Which match to take" in ran.stdout
    assert "1 slip" in ran.stdout
    assert "Cost: breaks the mirror picture" in ran.stdout
    assert "raw" in ran.stdout


def test_leaves_and_lights_are_told_to_other_programs_when_asked(stock):
    words = ["alternation", "--bundle", 1, "--by-leaf", "--worst-light", "--json"]

    told = run_ui(*words, environment=stock).json

    assert [leaf["leaf"] for leaf in told["leaves"]] == ["01", "02", "03", "04"]
    assert not any(leaf["looks_turned"] for leaf in told["leaves"])
    assert told["worst_light"]["delta_e00"] > 1
    assert all(place["delta_e00"] < 1 for place in told["quiet_lights"])
