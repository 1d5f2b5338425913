from dataclasses import replace

import pytest

from catalog.blinked_pair import blink_pair
from tests.catalog.painted_stock import painted_catalog
from tests.catalog.test_blinked_pair import SHOTS, figured
from ui.blink_words import pair_words, register_words
from vision.leaf_register import Register
from vision.shot import Laid


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    """Two leaves of different figure, to be given any register."""
    figures = {"02": figured(2), "03": figured(3)}
    place = tmp_path_factory.mktemp("words")
    catalog, bundle = painted_catalog(place, SHOTS, figures=figures)
    with catalog:
        return blink_pair(catalog, bundle, ("02", "03"))


def test_without_register_the_words_say_middle_to_middle(pair):
    (words,) = register_words(pair)

    assert words.startswith("No register")
    assert words.endswith("laid middle to middle.")


def test_a_register_is_told_in_millimetres_with_its_direction_and_how_sure_it_is(pair):
    move = Register(-3.24, 1.06, 0.21, -0.004, along_sure=0.99, across_sure=0.41)

    (words,) = register_words(replace(pair, register=move))

    assert words == (
        "Leaf 03 on leaf 02, from middle on middle: along the grain 3.2 mm toward the top end, "
        "sure (99 %); across 1.1 mm toward the right edge, doubtful (41 %); turned by 0.2° "
        "clockwise; drawn 0.4 % shorter to fit."
    )


def test_a_shift_that_is_not_told_is_said_to_lie_in_the_middle(pair):
    (words,) = register_words(replace(pair, register=Register(None, 0.02, across_sure=0.8)))

    assert "along not told by the figure, so middle to middle" in words
    assert "across 0.0 mm, likely (80 %)" in words


def test_pixels_and_turned_leaves_are_explained(pair):
    move = Register(5.0, 0.0, along_sure=0.7, across_sure=0.7)
    laid = (Laid.AS_LIES, Laid.FACE_OVER)

    plain = " ".join(pair_words(replace(pair, register=move)))
    words = " ".join(pair_words(replace(pair, register=move, unit="px", laid=laid)))

    assert "5.0 px toward the bottom end" in words
    assert "no size in millimetres" in words
    assert "mirrored" in words
    assert "mirrored" not in plain
    assert "millimetres" not in plain
