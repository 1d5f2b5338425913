"""Light and dark in rooms: cases that are exactly zero, and the samples' own physics beside.

Zero cases follow from the half turns of the leaf: what turns lamp and eye into themselves changes
nothing. The other writing is `sample_images.reflection`, which shares no line with `vision`.
"""

import numpy as np
import pytest

from sample_images.reflection import Lobe, reflectance_gain
from tests.room_lights import true_rooms
from tests.vision.made_fits import fit_of
from vision.alternation import laid_in
from vision.errors import RoomNotPossible
from vision.flags import AlternationFlag
from vision.leaf_lighting import slice_places
from vision.readings import SLICES
from vision.room_alternation import judge_in_room, predict_rooms, show_in_room
from vision.room_lights import ROOM_WORDS, free_room, named_room
from vision.settings import VisionSettings
from vision.shot import Laid

LENGTH = 2000.0
SETTINGS = VisionSettings()


def judged(one, other, room, match="book"):
    return judge_in_room(
        ("1", "2"),
        (one, other),
        laid_in(match),
        room,
        match=match,
        length_mm=LENGTH,
        settings=SETTINGS,
    )


@pytest.mark.parametrize("name", ROOM_WORDS)
def test_a_slip_match_of_one_wood_is_exactly_even_in_every_room(name):
    pair = judged(fit_of(3.0), fit_of(3.0), named_room(name, length_mm=LENGTH), "slip")

    assert pair.lightness_step == 0
    assert pair.delta_e00 == 0


def test_lamp_and_eye_across_the_grain_show_nothing_where_they_stand():
    room = free_room((1500.0, 0.0, 1000.0), (-700.0, 0.0, 2000.0))
    left, right = fit_of(4.0), fit_of(4.0)

    sides = [
        show_in_room(left, Laid.AS_LIES, room, length_mm=1e-6),
        show_in_room(right, Laid.FACE_OVER, room, length_mm=1e-6),
    ]

    assert np.abs(np.log(sides[1].light / sides[0].light)).max() < 1e-8


def test_an_even_sky_shows_nothing_straight_under_the_eye():
    sky = named_room("even-sky", length_mm=LENGTH)
    above = free_room((0.0, 0.0, 1e7), (0.0, 0.0, 2200.0))
    room = type(sky)(sky.name, sky.words, sky.places_mm, sky.facing, sky.power, above.eye_mm)

    sides = [
        show_in_room(fit_of(4.0, lean_deg=3.0), laid, room, length_mm=1e-6)
        for laid in (Laid.AS_LIES, Laid.FACE_OVER)
    ]

    assert np.abs(np.log(sides[1].light / sides[0].light)).max() < 1e-9


@pytest.mark.parametrize("name", ROOM_WORDS)
def test_a_leaf_turned_over_each_way_is_a_leaf_turned_end_for_end(name):
    """Rx Ry = Rz: both turned leaves of a four-way match agree with the group of layings."""
    room = named_room(name, length_mm=LENGTH)
    slopes = np.linspace(-3, 4, SLICES)
    fit = fit_of(slopes, lean_deg=2.0)

    turned = show_in_room(fit, Laid.END_TURNED, room, length_mm=LENGTH)

    same = fit_of(-slopes[::-1], lean_deg=2.0)
    as_it_is = show_in_room(same, Laid.AS_LIES, room, length_mm=LENGTH)
    assert np.allclose(turned.light, as_it_is.light, rtol=1e-12)


def test_an_end_match_with_equal_faces_and_the_lamp_in_line_is_exactly_even():
    room = free_room((0.0, 1700.0, 900.0), (0.0, 300.0, 2200.0))
    slopes = np.full(SLICES, 3.0)

    pair = judged(fit_of(slopes), fit_of(slopes), room, "end")

    assert pair.lightness_step == pytest.approx(0, abs=1e-9)


def test_a_reverse_slip_alternates_by_the_slope_though_not_by_the_face():
    room = free_room((0.0, 900.0, 1500.0))
    faces = {"face_light": 0.05}

    reverse = judged(fit_of(3.0, **faces), fit_of(3.0, **faces), room, "reverse-slip")
    book = judged(fit_of(3.0, **faces), fit_of(3.0, **faces), room, "book")

    assert abs(reverse.lightness_step) > 2
    assert reverse.face_part == pytest.approx(0, abs=1e-9)
    assert book.lightness_step - reverse.lightness_step == pytest.approx(0.05 * 70 / 3, abs=0.25)


@pytest.mark.parametrize("name", ROOM_WORDS)
@pytest.mark.parametrize("laid", ["as-lies", "face-over", "end-over", "end-turned"])
def test_light_in_a_room_agrees_with_the_other_writing_of_the_physics(name, laid):
    """Axes there: y toward the upper end, tilt positive where fibres rise toward it."""
    slope, lean, lobe = 3.0, 4.0, Lobe(ratio=0.7, width_deg=10.0)
    fit = fit_of(slope, strength=0.7, width_deg=10.0, lean_deg=lean)
    room = true_rooms(LENGTH)[name]
    columns = laid in {"face-over", "end-turned"}
    over = laid in {"face-over", "end-over"}
    tilt = slope if columns else -slope
    angle = -lean * (-1 if over else 1)
    y = (0.5 - (np.arange(SLICES) + 0.5) / SLICES) * LENGTH
    places = np.stack([np.zeros(SLICES), y], axis=-1)
    eye = np.array(room.eye_mm) - np.concatenate([places, np.zeros((SLICES, 1))], axis=1)
    eye /= np.linalg.norm(eye, axis=1, keepdims=True)
    total, white = np.zeros(SLICES), np.zeros(SLICES)
    for patch in room.patches:
        light, toward = patch.on(places)
        tilts = np.full(SLICES, tilt, np.float32)
        total += light * reflectance_gain(tilts, angle, toward, eye, lobe)
        white += light

    shown = show_in_room(fit, Laid(laid), named_room(name, length_mm=LENGTH), length_mm=LENGTH)

    assert shown.light[:, 0] / 0.2 == pytest.approx(total / white, rel=0.012)


def test_the_derivatives_are_those_of_the_light():
    room = named_room("low-sun", length_mm=LENGTH)
    fit = fit_of(np.linspace(-2, 3, SLICES), lean_deg=1.0, face_light=0.01)
    small = 1e-5
    changed = {
        20: fit_of(np.linspace(-2, 3, SLICES), lean_deg=1.0, face_light=0.01,
                   strength=0.6 * np.exp(small)),
        21: fit_of(np.linspace(-2, 3, SLICES), lean_deg=1.0, face_light=0.01,
                   width_deg=11 * np.exp(small)),
        22: fit_of(np.linspace(-2, 3, SLICES), lean_deg=1.0, face_light=0.01, face_width=small),
        23: fit_of(np.linspace(-2, 3, SLICES), lean_deg=1.0 + np.rad2deg(small), face_light=0.01),
        44: fit_of(np.linspace(-2, 3, SLICES), lean_deg=1.0, face_light=0.01 + small),
    }  # fmt: skip

    here = show_in_room(fit, Laid.FACE_OVER, room, length_mm=LENGTH)

    for index, other in changed.items():
        there = show_in_room(other, Laid.FACE_OVER, room, length_mm=LENGTH)
        by = np.log(there.light[:, 0] / here.light[:, 0]) / small
        assert here.by_unknown[:, index] == pytest.approx(by, abs=1e-3)


def test_a_leaf_without_photographs_is_not_measured():
    pairs = predict_rooms(
        ["1", "2"], [], rooms=[named_room("low-sun", length_mm=LENGTH)], settings=SETTINGS
    )

    assert [pair.flag for pair in pairs] == [AlternationFlag.NOT_MEASURED]


def test_a_lamp_behind_the_panel_is_refused_in_words():
    with pytest.raises(RoomNotPossible, match="out of the panel"):
        free_room((0.0, 0.0, -100.0))
    with pytest.raises(RoomNotPossible, match="known are lamp-row"):
        named_room("moonlight", length_mm=LENGTH)


def test_slices_of_a_turned_leaf_lie_from_the_other_end():
    assert slice_places(Laid.END_OVER) == pytest.approx(slice_places(Laid.AS_LIES)[::-1])
