"""Markers must be found wherever they lie, however large, and measured by their centres."""

import cv2
import numpy as np
import pytest

from tests.vision.made_rails import MadeCamera, draw_marker, photograph
from vision.marker_cells import dictionary_of, read_cells
from vision.marker_search import find_markers


def a_sheet(rng, *, side_px, count=9, ground=120):
    """Return a photograph with markers turned at random, and their centres by number."""
    scale = side_px / 40.0
    camera = MadeCamera((1400, 2000), 3000.0, 3000.0 / scale, (700 / scale, 1000 / scale))
    picture = np.full((2000, 1400, 3), ground, np.uint8)
    true = {}
    for index in range(count):
        centre = np.array([250 + 450 * (index % 3), 300 + 650 * (index // 3)]) / scale
        centre += rng.uniform(-5, 5, 2)
        a = rng.uniform(0, 2 * np.pi)
        turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        draw_marker(picture, camera, 20 * index, np.vstack([centre, turn]))
        true[20 * index] = camera.see(centre[None])[0]
    return photograph(picture, rng), true


@pytest.mark.parametrize("side_px", [26, 50, 110, 190])
def test_centres_are_good_to_a_tenth_of_a_pixel_at_any_size_and_turn(side_px):
    picture, true = a_sheet(np.random.default_rng(), side_px=side_px)

    markers = find_markers(picture)

    assert markers.ids.tolist() == sorted(true)
    off = np.linalg.norm(markers.centres_px - [true[n] for n in sorted(true)], axis=1)
    assert off.max() < 0.2
    assert np.median(off) < 0.08


def test_a_number_seen_twice_is_left_out():
    picture, _ = a_sheet(np.random.default_rng(), side_px=60)
    twice = np.hstack([picture, picture[:, :500]])

    assert set(find_markers(twice).ids.tolist()).isdisjoint({0, 60, 120})


def test_a_picture_without_markers_has_none():
    rng = np.random.default_rng()
    wood = rng.normal(120, 30, (60, 900, 3)).clip(0, 255).astype(np.uint8)

    assert len(find_markers(np.full((600, 400, 3), 90, np.uint8))) == 0
    assert len(find_markers(cv2.resize(wood, (900, 1300)))) == 0


def test_markers_whose_cells_the_reduced_picture_does_not_show_are_read_at_full_size():
    picture, true = a_sheet(np.random.default_rng(), side_px=60, ground=225)
    step = 2.5
    size = (round(picture.shape[1] / step), round(picture.shape[0] / step))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    for number in (0, 60, 160):
        x, y = (true[number] + 0.5) / step - 0.5
        cv2.circle(small, (round(x), round(y)), round(0.42 * 60 / step), (20, 20, 20), -1)

    markers = find_markers(picture, reduced=(small, picture.shape[1] / size[0]))

    assert markers.ids.tolist() == sorted(true)
    off = np.linalg.norm(markers.centres_px - [true[n] for n in sorted(true)], axis=1)
    assert off.max() < 0.2


@pytest.mark.parametrize("quarter", range(4))
def test_a_square_is_read_from_whichever_corner_it_begins(quarter):
    picture, true = a_sheet(np.random.default_rng(), side_px=60)
    found = find_markers(picture)

    places, corners = read_cells(
        picture, np.roll(found.corners_px, quarter, axis=1), dictionary_of(sorted(true))
    )

    assert [sorted(true)[place] for place in places] == found.ids.tolist()
    assert corners == pytest.approx(found.corners_px)
