"""Pieces turned in their plane: cases that are exactly zero, and the samples' own physics beside.

The other writing is `sample_images.reflection`, which shares no line with `vision`.
"""

import secrets

import numpy as np
import pytest

from sample_images.reflection import Lobe, reflectance_gain
from tests.vision.made_fits import fit_of
from vision.alternation import laid_in
from vision.laying import compose, reverses_columns, reverses_rows, shows_other_face
from vision.leaf_lighting import slice_places
from vision.match_layout import Allowances, FaceWish, LeafExtent, Match, lay_out
from vision.piece_light import judge_pieces, room_under, show_piece, show_slices
from vision.readings import SLICES, LampAndEye
from vision.room_alternation import judge_in_room, show_in_room
from vision.room_lights import ROOM_WORDS, Room, free_room, named_room
from vision.settings import VisionSettings
from vision.shot import Laid, Lamp

LENGTH = 2000.0
SETTINGS = VisionSettings()
WISH = FaceWish(allowances=Allowances(0.0, 0.0, 0.0))
LAMP_A = room_under(Lamp.A, [(LampAndEye(-0.7, 0.0, 0.9, 1.1), LENGTH)])
SLANTED = [
    Match.SUNBURST,
    Match.BOX,
    Match.REVERSE_BOX,
    Match.DIAMOND,
    Match.REVERSE_DIAMOND,
    Match.HERRINGBONE,
    Match.PARQUET,
]


def fibres(rng: np.random.Generator, **more):
    return fit_of(rng.normal(0, 3, SLICES), lean_deg=float(rng.normal(0, 2)), **more)


def drawn(match: Match, *, slipped: bool = False):
    run = [LeafExtent(f"{at:02}", 240.0, LENGTH) for at in range(1, 9)]
    wish = FaceWish(is_slipped=slipped, allowances=WISH.allowances)
    return lay_out(run, match, wish=wish)


def steps(layout, fit, room):
    labels = {place.leaf for place in layout.placements}
    return [
        judge_pieces(
            layout,
            joint,
            dict.fromkeys(labels, fit),
            dict.fromkeys(labels, LENGTH),
            room,
            settings=SETTINGS,
        ).lightness_step
        for joint in layout.joints
    ]


@pytest.mark.parametrize("laid", list(Laid)[:4])
@pytest.mark.parametrize("name", ROOM_WORDS)
def test_turned_by_half_a_turn_a_leaf_is_exactly_one_laid_end_for_end(name, laid):
    room = named_room(name, length_mm=LENGTH)
    fit = fibres(np.random.default_rng(secrets.randbelow(2**32)))

    turned = show_in_room(fit, laid, room, length_mm=LENGTH, turned_deg=180.0)
    other = show_in_room(fit, compose(laid, Laid.END_TURNED), room, length_mm=LENGTH)

    np.testing.assert_allclose(turned.light[::-1], other.light, rtol=1e-13)
    np.testing.assert_allclose(turned.by_unknown[::-1], other.by_unknown, atol=1e-12)


@pytest.mark.parametrize("match", ["book", "slip", "reverse-slip"])
@pytest.mark.parametrize("name", ROOM_WORDS)
def test_a_joint_of_upright_leaves_is_exactly_what_it_is_along_the_grain(name, match):
    room = named_room(name, length_mm=LENGTH)
    rng = np.random.default_rng(secrets.randbelow(2**32))
    fits = {"01": fibres(rng), "02": fibres(rng)}
    layout = lay_out([LeafExtent(leaf, 240.0, LENGTH) for leaf in fits], Match(match))

    here = judge_pieces(
        layout, layout.joints[0], fits, dict.fromkeys(fits, LENGTH), room, settings=SETTINGS
    )
    along = judge_in_room(
        ("01", "02"),
        (fits["01"], fits["02"]),
        laid_in(match),
        room,
        match=match,
        length_mm=LENGTH,
        settings=SETTINGS,
    )

    assert here.lightness_step == pytest.approx(along.lightness_step, abs=1e-9)
    assert here.tilt_part == pytest.approx(along.tilt_part, abs=1e-9)
    assert here.delta_e00 == pytest.approx(along.delta_e00, abs=1e-9)
    assert here.lightness_low == pytest.approx(along.lightness_low, abs=1e-9)


@pytest.mark.parametrize("laid", list(Laid)[:4])
@pytest.mark.parametrize("turned_deg", [0.0, 30.0, 45.0, 60.0, 90.0, -37.0, 180.0])
def test_a_turned_leaf_sends_what_the_samples_physics_sends(laid, turned_deg):
    rng = np.random.default_rng(secrets.randbelow(2**32))
    slope, lean = rng.normal(0, 3, SLICES), 2.0
    strength, width = 0.9, 11.0
    fit = fit_of(slope, lean_deg=lean, strength=strength, width_deg=width)
    lamp, eye = (300.0, 1500.0, 1100.0), (-200.0, 300.0, 2200.0)

    side = show_in_room(fit, laid, free_room(lamp, eye), length_mm=LENGTH, turned_deg=turned_deg)

    # the sample axes: x right, y up, z out; tilt positive where fibres rise toward +y, angle
    # clockwise from it
    turn = np.radians(turned_deg)
    up = (0.5 - slice_places(laid)) * LENGTH
    at = np.stack([up * np.sin(turn), up * np.cos(turn), np.zeros(SLICES)], axis=-1)
    over = shows_other_face(laid)
    tilt = -slope * (-1 if reverses_columns(laid) else 1)
    # a lean to the right going down is a fibre that runs up to the left
    angle = -lean * (-1 if over else 1) + turned_deg
    to = [np.array(place) - at for place in (lamp, eye)]
    to = [one / np.linalg.norm(one, axis=1, keepdims=True) for one in to]
    gain = reflectance_gain(
        tilt.astype(np.float32), np.float32(angle), *to, Lobe(ratio=strength, width_deg=width)
    )
    gain = gain[::-1] if reverses_rows(laid) else gain
    assert np.abs(side.light[:, 0] / 0.2 - gain).max() < 2e-4


@pytest.mark.parametrize("turned_deg", [30.0, 45.0, 60.0, 90.0])
def test_lamp_and_eye_across_the_grain_of_a_turned_leaf_show_nothing(turned_deg):
    turn = np.radians(turned_deg)
    across = np.array([np.cos(turn), -np.sin(turn)])
    lamp, eye = (
        (float(out * across[0]), float(out * across[1]), height)
        for out, height in ((1.5e7, 1e7), (-0.7e7, 2e7))
    )
    room = free_room(lamp, eye)

    sides = [
        show_in_room(fit_of(4.0), laid, room, length_mm=1.0, turned_deg=turned_deg)
        for laid in (Laid.AS_LIES, Laid.FACE_OVER)
    ]

    assert np.abs(np.log(sides[1].light / sides[0].light)).max() < 1e-6


@pytest.mark.parametrize("turned_deg", [15.0, 30.0, 45.0, 60.0, 90.0])
def test_an_even_sky_shows_nothing_straight_under_the_eye_however_a_leaf_is_turned(turned_deg):
    sky = named_room("even-sky", length_mm=LENGTH)
    room = Room(sky.name, sky.words, sky.places_mm, sky.facing, sky.power, (0.0, 0.0, 2200.0))

    plain = show_in_room(fit_of(4.0), Laid.AS_LIES, room, length_mm=1e-6)
    for laid in list(Laid)[:4]:
        turned = show_in_room(fit_of(4.0), laid, room, length_mm=1e-6, turned_deg=turned_deg)

        assert np.abs(np.log(turned.light / plain.light)).max() < 1e-9


@pytest.mark.parametrize("match", SLANTED)
def test_flat_fibres_show_no_more_where_pieces_are_turned_over_than_where_they_are_not(match):
    layout = drawn(match)

    flat = steps(layout, fit_of(0.0), LAMP_A)
    sloped = [
        judge_pieces(
            layout,
            joint,
            dict.fromkeys([joint.left, joint.right], fit_of(0.0)),
            dict.fromkeys([joint.left, joint.right], LENGTH),
            LAMP_A,
            settings=SETTINGS,
        ).tilt_part
        for joint in layout.joints
    ]

    assert np.abs(sloped).max() == 0.0
    assert len(flat) == len(layout.joints)


def test_a_radial_face_of_alike_flat_leaves_is_even_under_a_lamp_and_eye_above_its_middle():
    layout = drawn(Match.SUNBURST)
    above = free_room((0.0, 0.0, 1e9), (0.0, 0.0, 1e9))

    assert np.abs(steps(layout, fit_of(0.0), above)).max() < 1e-9
    # booked, wedges slope toward and away by turns; straight from above even that does not show
    assert np.abs(steps(layout, fit_of(4.0), above)).max() < 1e-4


def test_wedges_that_mirror_each_other_about_the_lamp_meet_without_a_step():
    layout = drawn(Match.SUNBURST)
    found = steps(layout, fit_of(0.0), LAMP_A)

    upright = [abs(one.start_mm[0] - one.end_mm[0]) < 1e-6 for one in layout.joints]
    assert sum(upright) == 2
    for is_upright, step in zip(upright, found, strict=True):
        assert (abs(step) < 1e-9) == is_upright


def test_grain_across_the_lamp_is_the_lighter_where_fibres_lie_flat():
    run = [LeafExtent("01", 240.0, LENGTH)]
    wish = FaceWish(width_mm=400.0, pieces=2, allowances=WISH.allowances)
    layout = lay_out(run, Match.PARQUET, wish=wish)
    found = steps(layout, fit_of(0.0), LAMP_A)

    assert len(found) == 4
    for joint, step in zip(layout.joints, found, strict=True):
        turned = [abs(layout.placements[at].turned_deg) for at in (joint.left_at, joint.right_at)]
        assert (step > 1.0) if turned == [0.0, 90.0] else (step < -1.0)


def test_the_light_along_a_piece_is_that_of_its_places_in_the_panel():
    layout = drawn(Match.HERRINGBONE)
    piece = layout.placements[1]
    fit = fibres(np.random.default_rng(secrets.randbelow(2**32)))
    along = show_slices(layout, piece, fit, LAMP_A, length_mm=LENGTH)

    (x0, x1), (y0, y1) = (
        (min(p[axis] for p in piece.on_leaf_mm), max(p[axis] for p in piece.on_leaf_mm))
        for axis in (0, 1)
    )
    at = next(i for i in range(SLICES) if y0 < (i + 0.5) / SLICES * LENGTH < y1)
    y = (at + 0.5) / SLICES * LENGTH
    edges = [x for x in np.linspace(x0, x1, 4001) if _is_inside(piece.on_leaf_mm, (x, y))]
    place = piece.to_panel(((edges[0] + edges[-1]) / 2, y))
    one = show_piece(layout, piece, fit, np.array([place]), LAMP_A, length_mm=LENGTH)
    assert along.light[at] == pytest.approx(one.light[0], rel=1e-4)


def _is_inside(outline, point) -> bool:
    x, y = point
    turns = [
        (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)
        for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True)
    ]
    return min(turns) >= 0 or max(turns) <= 0
