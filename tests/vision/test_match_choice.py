"""Every match judged on leaves whose slopes are known, seen under both lamps."""

import numpy as np
import pytest

from tests.vision.test_slope_fit import seen
from vision.alternation import SeenLeaf
from vision.bundle_pattern import leaf_slopes
from vision.lamp_search import search_lamps
from vision.match_choice import MATCH_KINDS, judge_matches
from vision.room_lights import free_room
from vision.settings import VisionSettings
from vision.shot import Laid, Lamp, Shot

SETTINGS = VisionSettings()


def bundle(slopes_deg, lamps=(Lamp.A, Lamp.B)):
    """Leaves that rise by so much toward their lower ends, each under those lamps."""
    order = [f"{number:02d}" for number in range(1, len(slopes_deg) + 1)]
    return order, [
        SeenLeaf(
            Shot(f"{label}{lamp}", label, Laid.AS_LIES, lamp),
            (seen(Laid.AS_LIES, lamp, slope).profile,),
        )
        for label, slope in zip(order, slopes_deg, strict=True)
        for lamp in lamps
    ]


def judged(order, photos, **more):
    return {one.match: one for one in judge_matches(order, photos, settings=SETTINGS, **more)}


def test_sloping_leaves_are_even_when_slipped_and_strong_when_booked_or_reverse_slipped():
    matches = judged(*bundle([3.0] * 8))

    assert (matches["slip"].none, matches["slip"].strong) == (7, 0)
    assert matches["book"].strong == 7
    assert matches["reverse-slip"].strong == 7
    assert matches["end"].strong == 0


def test_the_first_match_told_is_one_that_shows_nothing():
    first, *_others = judge_matches(*bundle([3.0] * 8), settings=SETTINGS)

    assert first.match == "slip"
    assert first.pattern == ""
    assert "mirror picture" in first.kind.cost


def test_level_leaves_may_be_booked_and_that_is_told_first():
    first, *_others = judge_matches(*bundle([0.0] * 6), settings=SETTINGS)

    assert first.match == "book"


def test_slope_makes_columns_of_a_four_way_match():
    matches = judged(*bundle([3.0] * 8), rooms=[free_room((0.0, 900.0, 1500.0))])

    assert matches["four-way"].pattern == "light and dark columns"
    sides, ends = matches["four-way"].joints[:4], matches["four-way"].joints[4:]
    assert np.mean([abs(one.lightness_step) for (one,) in sides]) > 2
    assert np.mean([abs(one.lightness_step) for (one,) in ends]) < 0.3


def test_one_photograph_a_leaf_judges_no_match_that_turns_a_leaf():
    matches = judged(*bundle([3.0] * 5, lamps=(Lamp.A,)))

    assert matches["book"].delta_e00 is None
    assert matches["book"].not_measured == 4
    assert set(matches) == set(MATCH_KINDS)


def test_a_leaf_that_was_turned_unnoticed_is_found_by_its_slope():
    order, photos = bundle([2.5, 2.4, 2.6, -2.5, 2.3, 2.5, 2.4])

    leaves = leaf_slopes(order, photos)

    assert [one.leaf for one in leaves if one.looks_turned] == ["04"]
    assert leaves[0].slope_deg == pytest.approx(-2.5, abs=0.4)


def test_leaves_that_change_slowly_break_no_pattern():
    leaves = leaf_slopes(*bundle(np.linspace(0.5, 3.0, 9)))

    assert not any(one.looks_turned or one.breaks_pattern for one in leaves)


def test_a_leaf_of_another_slope_breaks_the_pattern():
    leaves = leaf_slopes(*bundle([0.5, 0.4, 0.6, 4.5, 0.5, 0.4]))

    assert [one.leaf for one in leaves if one.breaks_pattern] == ["04"]


def test_a_lamp_vanishes_light_and_dark_across_the_grain_and_shows_it_past_an_end():
    """On a short piece: at the ends of a long one lamp and eye stand along the grain after all."""
    eye = (0.0, 0.0, 5000.0)
    search = search_lamps(*bundle([3.0] * 3), length_mm=100.0, eye_mm=eye, settings=SETTINGS)

    quiet = search.quiet(SETTINGS)
    assert abs(np.cos(np.deg2rad(search.worst.turn_deg))) > 0.8
    assert search.worst.delta_e00 > 2
    assert any(place.turn_deg in {90.0, 270.0} and place.slant_deg >= 25 for place in quiet)


def test_without_photographs_there_is_no_worst_light():
    assert search_lamps(["1", "2"], [], settings=SETTINGS).worst is None
