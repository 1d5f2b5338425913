import numpy as np
import pytest

from sample_images import FlitchPlan
from sample_images.lamps import lamps_of
from sample_images.leaf import open_flitch
from sample_images.noise import chance, random_line
from sample_images.placing import Curl, Place, place_pair, reflectance

PLAN = FlitchPlan(seed=6, length_mm=900, width_mm=160, leaves=2, lobe_ratio=0.8, end_damage=3)


def a_curl(size_deg: float) -> Curl:
    line = random_line(chance(1, "curl"), length_mm=900, cell_mm=200, depth_mm=0, depth_cell_mm=1)
    return Curl(line, size_deg, 900.0)


def test_a_place_undoes_itself():
    place = Place(12.0, -40.0, 7.0)
    points = np.array([[0.0, 0.0], [50.0, 300.0]])

    assert place.from_board(place.to_board(points)) == pytest.approx(points)


def test_butted_leaves_touch_and_do_not_overlap():
    flitch = open_flitch(PLAN, px_per_mm=0.5)
    left, right = flitch.leaf(1).lay("as-lies"), flitch.leaf(2).lay("face-over")

    places = place_pair(left, right)

    one = places[0].to_board(left.long_edges_mm[1])
    other = places[1].to_board(right.long_edges_mm[0])
    gap = np.interp(one[:, 1], *other[np.argsort(other[:, 1])].T[::-1]) - one[:, 0]
    assert gap.min() == pytest.approx(0, abs=0.1)
    assert gap.max() < 6
    assert abs(np.polyfit(one[:, 1], one[:, 0], 1)[0]) < 1e-3


def test_a_leaf_that_curls_comes_back_to_the_board():
    heights = np.linspace(-450, 450, 101)

    slope = a_curl(1.0).slope_deg(heights)

    assert slope.std() > 0.3
    assert slope.mean() == pytest.approx(0, abs=1e-9)


def test_a_slope_that_rises_toward_the_lamp_is_darker():
    face = open_flitch(PLAN, px_per_mm=0.3).leaf(1).lay("as-lies")
    lamps, eye = lamps_of(PLAN, "A"), (0.0, 0.0, 1200.0)
    curl = a_curl(1.5)

    flat = reflectance(face, Place(), lamps, eye)
    curled = reflectance(face, Place(), lamps, eye, curl=curl)

    change = np.log(curled / flat).mean(axis=(1, 2))
    assert np.corrcoef(change, curl.slope_deg(face.sheet.y_mm))[0, 1] < -0.8
