"""Words and numbers on paper."""

from dataclasses import replace

import pytest

from catalog.set_words import FT2_PER_M2, file_word, plain_cell, range_words, size_in, step_sentence
from vision.flags import AlternationFlag
from vision.readings import Evidence, LeafSize, PairAlternation, ScaleClass

PAIR = PairAlternation(
    left="01",
    right="02",
    match="book",
    light="lamp A",
    lightness_step=-4.13,
    lightness_low=-5.02,
    lightness_high=-3.26,
    delta_e00=3.9,
    delta_e00_low=3.1,
    delta_e00_high=4.7,
    tilt_part=-4.0,
    face_part=-0.1,
    local_rms=None,
    likely=AlternationFlag.STRONG,
    flag="strong",
    evidence=Evidence.LAMP_SWAP,
)


def test_a_darker_right_leaf_is_named_with_its_range() -> None:
    assert step_sentence(PAIR) == "02 darker by 4.1 L* (3.3 to 5.0)"


def test_a_darker_left_leaf_is_named_with_its_range() -> None:
    turned = replace(PAIR, lightness_step=4.13, lightness_low=3.26, lightness_high=5.02)

    assert step_sentence(turned) == "01 darker by 4.1 L* (3.3 to 5.0)"


def test_where_zero_is_in_the_range_no_leaf_is_called_darker() -> None:
    level = replace(PAIR, lightness_step=-0.2, lightness_low=-0.7, lightness_high=0.3)

    assert step_sentence(level) == "neither clearly darker, at most 0.7 L*"


def test_square_feet_follow_from_the_foot() -> None:
    # 24 leaves of 2.50 x 0.20 m are 12.00 m2 or 129.17 ft2 (hand count).
    assert pytest.approx(129.17, abs=0.005) == 12.0 * FT2_PER_M2
    assert pytest.approx(1 / 0.3048**2, abs=1e-6) == FT2_PER_M2


def test_sizes_in_inches() -> None:
    assert size_in(LeafSize(2540.0, 254.0, 1.0, ScaleClass.RAILS, 1, 1)) == "100.0 × 10.0 in"


def test_a_range_that_rounds_to_one_number_is_one_number() -> None:
    assert range_words([1999.8, 2000.2]) == "2000 mm (78.7 in)"
    assert range_words([1980.0, None, 2004.0]) == "1980 to 2004 mm (78.0 to 78.9 in)"
    assert range_words([None]) == "no scale"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1"])
def test_no_cell_starts_a_formula(text: str) -> None:
    assert plain_cell(text) == f"'{text}"


@pytest.mark.parametrize(
    ("text", "word"),
    [("01/02", "01-02"), ("..", "x"), ("CON.", "con"), ("Ñandú 3", "nandu-3"), ("木", "x")],
)
def test_file_names_are_safe(text: str, word: str) -> None:
    assert file_word(text) == word
