"""Drawings of a light: everything stands where it stands in the room."""

import re

import pytest

from ui.room_sketch import MIDDLE_Y, TALL, WALL_X, WIDE, room_sketch
from vision.room_lights import ROOM_WORDS, free_room, named_room

DOT = re.compile(r'<circle cx="([-.0-9]+)" cy="([-.0-9]+)" r="4"')


def lamps_in(room):
    """Return where lamps are drawn, first those of the view from the side."""
    drawing = room_sketch(room, length_mm=2000.0)
    return [(float(x), float(y)) for x, y in DOT.findall(drawing)]


def test_a_lamp_above_is_drawn_above_and_one_below_below():
    (_, high), *_ = lamps_in(free_room((0.0, 1500.0, 900.0)))
    (_, low), *_ = lamps_in(free_room((0.0, -1500.0, 900.0)))

    assert high < MIDDLE_Y < low
    assert MIDDLE_Y - high == pytest.approx(low - MIDDLE_Y, abs=0.2)


def test_a_lamp_twice_as_far_out_is_drawn_twice_as_far_from_the_wall():
    (near, _), *_ = lamps_in(free_room((0.0, 0.0, 700.0)))
    (far, _), *_ = lamps_in(free_room((0.0, 0.0, 1400.0)))

    assert far - WALL_X == pytest.approx(2 * (near - WALL_X), abs=0.2)


def test_a_lamp_at_the_right_is_drawn_at_the_right_from_above():
    right = lamps_in(free_room((1000.0, 0.0, 900.0)))[1][0]
    left = lamps_in(free_room((-1000.0, 0.0, 900.0)))[1][0]

    assert left < right


@pytest.mark.parametrize("name", ROOM_WORDS)
def test_every_light_with_a_name_is_drawn_within_its_frame(name):
    for x, y in lamps_in(named_room(name, length_mm=3000.0)):
        assert 0 <= x <= WIDE
        assert 0 <= y <= TALL
