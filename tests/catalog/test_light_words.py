"""Sentences on light and dark of leaves whose slopes and photographs are known."""

from itertools import pairwise

import pytest

from catalog.light_words import (
    choice_words,
    missing_words,
    spread_words,
    worst_pair,
    worst_room_words,
    worst_words,
)
from tests.vision.test_match_choice import SETTINGS, bundle
from vision.match_choice import judge_in_lights, judge_matches
from vision.room_lights import named_room
from vision.shot import Lamp

ROOMS = [named_room(name, length_mm=2000.0) for name in ("lamp-row", "window-side")]


def pairs_of(slopes_deg, **more):
    joints = judge_in_lights(
        *bundle(slopes_deg), match="book", rooms=ROOMS[:1], settings=SETTINGS, **more
    )
    return [joint[0] for joint in joints]


def test_the_worst_pair_is_the_one_whose_slopes_add_up_most():
    pairs = pairs_of([0.5, 0.5, 4.0, 4.0, 0.5])

    worst = worst_pair(pairs)

    assert (worst.left, worst.right) == ("03", "04")
    assert worst_words(pairs).startswith("Worst pair 03 | 04: ")


def test_a_book_match_steps_up_and_down_in_turn_as_its_leaves_lie():
    steps = [pair.lightness_step for pair in pairs_of([3.0] * 5)]

    assert all(one * other < 0 for one, other in pairwise(steps))


def test_every_joint_is_counted_once():
    pairs = pairs_of([3.0] * 5)

    words = spread_words(pairs)

    assert words.startswith(f"4 joints: 4 {pairs[0].flag}.")


def test_what_was_not_photographed_is_asked_for_by_leaf_and_lamp():
    order, under_a = bundle([3.0] * 3, lamps=(Lamp.A,))
    _, both = bundle([3.0] * 3)
    seen = [*under_a[:2], *both[4:]]

    (words,) = missing_words([*order, "04"][:3], seen)
    more = missing_words([*order, "04"], seen)

    assert words.startswith("Leaves 01 and 02: ")
    assert "under lamp B too" in words
    assert more[1].startswith("Leaf 04: photograph as it lies under lamp A and under lamp B")


def test_leaves_under_both_lamps_lack_nothing():
    order, seen = bundle([3.0] * 3)

    assert missing_words(order, seen) == ()


@pytest.mark.parametrize(("slope", "name"), [(3.0, "slip match"), (0.0, "book match")])
def test_the_match_to_take_is_named_with_its_cost(slope, name):
    words = choice_words(judge_matches(*bundle([slope] * 5), rooms=ROOMS, settings=SETTINGS))

    assert f"take the {name}" in words
    assert "What it costs: " in words


def test_without_photographs_no_match_is_advised():
    words = choice_words(judge_matches(["01", "02"], [], rooms=ROOMS, settings=SETTINGS))

    assert "cannot be told" in words


def test_the_light_that_shows_most_is_named_first():
    joints = judge_in_lights(*bundle([3.0] * 4), match="book", rooms=ROOMS, settings=SETTINGS)
    means = [
        sum(joint[index].delta_e00 for joint in joints) / len(joints) for index in range(len(ROOMS))
    ]
    by_room = {room.name: [joint[index] for joint in joints] for index, room in enumerate(ROOMS)}

    worst = ROOMS[means.index(max(means))]

    assert f"worst in {worst.words}" in worst_room_words(by_room)
