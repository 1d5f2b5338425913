"""Words drawn under pictures."""

import numpy as np
import pytest

from catalog.picture_caption import bar_length_mm, caption_leaf, font_at


@pytest.mark.parametrize(
    ("width_mm", "bar_mm"), [(2900, 500), (960, 200), (240, 50), (33, 5), (0.9, 0.2)]
)
def test_a_scale_bar_is_a_round_length_that_fits(width_mm: float, bar_mm: float) -> None:
    assert bar_length_mm(width_mm) == pytest.approx(bar_mm)


def test_the_picture_itself_stays_untouched_above_its_caption() -> None:
    wood = np.random.default_rng(4).integers(90, 200, (900, 120, 3), dtype=np.uint8)

    page = caption_leaf(wood, ["Leaf 01"], px_per_mm=0.5)

    top = int(np.flatnonzero((page < 230).any(axis=(1, 2)))[0])
    left = (page.shape[1] - 120) // 2
    assert np.array_equal(page[top : top + 900, left : left + 120], wood)


def test_a_narrow_leaf_gets_a_sheet_wide_enough_for_its_words() -> None:
    line = "A rather long name of a flitch, leaf 01 of many, in words that shall not be cut off"
    wood = np.full((2400, 100, 3), 150, np.uint8)

    page = caption_leaf(wood, [line], px_per_mm=1.0)

    assert page.shape[1] > font_at(round(0.014 * 2400), bold=True).getlength(line)


def test_letters_of_many_alphabets_are_in_the_house_font() -> None:
    missing = font_at(20).getmask("\ue000").getbbox()

    for letter in "ŁżęğÑßΔΩЖяñ²×“”−":
        assert font_at(20).getmask(letter).getbbox() != missing
