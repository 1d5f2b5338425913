"""The four layings are the Klein four-group, on paper and on pixels."""

import itertools

import numpy as np
import pytest

from vision.laying import (
    compose,
    lay_pixels,
    reverses_rows,
    shows_other_face,
    slope_sign,
)
from vision.shot import Laid

LAYINGS = (Laid.AS_LIES, Laid.FACE_OVER, Laid.END_OVER, Laid.END_TURNED)
WOOD = np.random.default_rng(3).integers(0, 256, (5, 4, 3), dtype=np.uint8)


def test_a_leaf_opened_like_a_book_twice_lies_as_it_lay() -> None:
    twice = lay_pixels(lay_pixels(WOOD, Laid.FACE_OVER), Laid.FACE_OVER)

    assert np.array_equal(twice, lay_pixels(WOOD, Laid.AS_LIES))


def test_end_over_then_opened_like_a_book_is_turned_end_for_end() -> None:
    both = lay_pixels(lay_pixels(WOOD, Laid.END_OVER), Laid.FACE_OVER)

    assert np.array_equal(both, lay_pixels(WOOD, Laid.END_TURNED))
    assert np.array_equal(both, np.rot90(WOOD, 2))


def test_opened_like_a_book_is_the_mirror_image_across_the_joint() -> None:
    booked = lay_pixels(WOOD, Laid.FACE_OVER)

    assert np.array_equal(booked, np.fliplr(WOOD))


def test_end_over_is_the_mirror_image_end_to_end() -> None:
    assert np.array_equal(lay_pixels(WOOD, Laid.END_OVER), np.flipud(WOOD))


@pytest.mark.parametrize(("first", "second"), list(itertools.product(LAYINGS, LAYINGS)))
def test_two_layings_one_after_the_other_are_the_composed_one(first: Laid, second: Laid) -> None:
    step_by_step = lay_pixels(lay_pixels(WOOD, first), second)

    assert np.array_equal(step_by_step, lay_pixels(WOOD, compose(first, second)))


@pytest.mark.parametrize(("first", "second"), list(itertools.product(LAYINGS, LAYINGS)))
def test_slope_and_face_follow_the_composition(first: Laid, second: Laid) -> None:
    both = compose(first, second)

    assert slope_sign(both) == slope_sign(first) * slope_sign(second)
    assert shows_other_face(both) == (shows_other_face(first) != shows_other_face(second))
    assert reverses_rows(both) == (reverses_rows(first) != reverses_rows(second))


def test_the_table_of_compositions_is_the_four_group() -> None:
    klein = [[0, 1, 2, 3], [1, 0, 3, 2], [2, 3, 0, 1], [3, 2, 1, 0]]

    table = [[LAYINGS.index(compose(a, b)) for b in LAYINGS] for a in LAYINGS]
    assert table == klein


def test_what_each_laying_does_to_face_and_slope() -> None:
    told = {laid: (shows_other_face(laid), slope_sign(laid)) for laid in LAYINGS}

    assert told == {
        Laid.AS_LIES: (False, 1),
        Laid.FACE_OVER: (True, -1),
        Laid.END_OVER: (True, 1),
        Laid.END_TURNED: (False, -1),
    }


def test_moving_the_drawing_keeps_every_pixel() -> None:
    for laid in LAYINGS:
        moved = lay_pixels(WOOD, laid)
        assert sorted(map(tuple, moved.reshape(-1, 3))) == sorted(map(tuple, WOOD.reshape(-1, 3)))
