"""Wedge and rosette: the geometry of two mirrors on a leaf."""

from math import hypot, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.transform import rotate

from vision.errors import MatchNotPossible
from vision.wedge import Wedge, rosette_to_leaf

EVEN = st.sampled_from([6, 8, 10, 12, 16])
ANGLE = st.floats(-180, 180)


def wedge_of(pieces: int = 12, **more) -> Wedge:
    return Wedge(
        **{"x_mm": 120.0, "y_mm": 700.0, "turn_deg": 20.0, "radius_mm": 457.2} | more, pieces=pieces
    )


@pytest.mark.parametrize(
    ("pieces", "chord", "outside"), [(8, 349.9, 378.8), (12, 236.7, 245.0), (16, 178.4, 181.9)]
)
def test_a_disc_of_36_inches_needs_leaves_as_wide_as_its_geometry_says(pieces, chord, outside):
    """914.4 mm across: chord 2 r sin(180/n) along the rim, 2 r tan(180/n) round the outside."""
    wedge = wedge_of(pieces)

    assert wedge.angle_deg == 360 / pieces
    assert wedge.chord_mm == pytest.approx(chord, abs=0.1)
    assert 2 * 457.2 * tan(np.radians(wedge.angle_deg / 2)) == pytest.approx(outside, abs=0.1)
    (_, one, other) = wedge.corners_mm()
    assert hypot(*(one - other)) == pytest.approx(wedge.chord_mm)


@pytest.mark.parametrize(
    ("faulty", "words"),
    [
        ({"pieces": 5, "is_booked": False}, "takes 6 to"),
        ({"pieces": 7}, "even number"),
        ({"pieces": 12, "radius_mm": 1.0}, "larger"),
    ],
)
def test_what_cannot_be_laid_is_refused_with_what_to_do(faulty, words):
    with pytest.raises(MatchNotPossible, match=words):
        wedge_of(**faulty)


def test_an_odd_number_is_laid_alike():
    assert not any(wedge_of(7, is_booked=False).is_turned(piece) for piece in range(7))


@given(pieces=EVEN, turn=ANGLE, away=st.floats(1, 400), at=ANGLE)
def test_two_places_mirrored_about_a_joint_show_the_same_wood(pieces, turn, away, at):
    wedge = wedge_of(pieces, turn_deg=turn)
    joint = wedge.angle_deg / 2
    both = np.radians([joint + at / 10, joint - at / 10])

    places, found = rosette_to_leaf(wedge, away * np.stack([np.sin(both), -np.cos(both)], axis=-1))

    assert places[0] == pytest.approx(places[1], abs=1e-6)
    assert abs(at) < 1e-6 or wedge.is_turned(found[0]) != wedge.is_turned(found[1])


@given(pieces=st.integers(6, 17), turn=ANGLE, away=st.floats(1, 400), at=ANGLE)
def test_wedges_laid_alike_repeat_from_piece_to_piece(pieces, turn, away, at):
    wedge = wedge_of(pieces, turn_deg=turn, is_booked=False)
    both = np.radians([at, at + wedge.angle_deg])

    places, _ = rosette_to_leaf(wedge, away * np.stack([np.sin(both), -np.cos(both)], axis=-1))

    near_joint = abs((at / wedge.angle_deg + 0.5) % 1 - 0.5) > 0.499
    assert near_joint or places[0] == pytest.approx(places[1], abs=1e-6)


@given(pieces=EVEN, turn=ANGLE, starts=st.booleans())
def test_every_place_seen_lies_inside_the_wedge(pieces, turn, starts):
    wedge = wedge_of(pieces, turn_deg=turn, starts_turned=starts)
    rng = np.random.default_rng(pieces)
    points = rng.uniform(-300, 300, (200, 2))

    places, _ = rosette_to_leaf(wedge, points)

    from_tip = places - [wedge.x_mm, wedge.y_mm]
    turned = np.degrees(np.arctan2(from_tip[:, 1], from_tip[:, 0])) - turn
    off = (turned + 180) % 360 - 180
    assert np.abs(off).max() <= wedge.angle_deg / 2 + 1e-6
    assert np.hypot(*from_tip.T) == pytest.approx(np.hypot(*points.T))


def test_the_other_hand_is_the_same_rosette_turned_by_one_piece():
    wedge, other = wedge_of(8), wedge_of(8, starts_turned=True)
    points = np.random.default_rng(3).uniform(-200, 200, (500, 2))
    turn = np.radians(45)
    moved = points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])

    assert rosette_to_leaf(other, moved)[0] == pytest.approx(rosette_to_leaf(wedge, points)[0])


def test_a_painted_rosette_equals_itself_turned_by_two_pieces():
    """Turned by scikit-image, which knows nothing of wedges."""
    wedge = wedge_of(6, radius_mm=90.0)
    grid = np.stack(np.meshgrid(*[np.arange(201) - 100.0] * 2), axis=-1)
    places, _ = rosette_to_leaf(wedge, grid)
    painted = 0.5 + 0.25 * np.sin(places[..., 0] / 6) + 0.25 * np.cos(places[..., 1] / 9)

    turned = rotate(painted, 120.0, order=3)

    inside = np.hypot(*np.moveaxis(grid, -1, 0)) < 85
    assert np.abs(turned - painted)[inside].mean() < 0.01
