"""What is drawn round a match is to scale with it and never covers it."""

import numpy as np
import pytest

from catalog.surroundings import PERSON_MM, Around, draw_around, surround
from vision.errors import MatchNotPossible
from vision.match_layout import LeafExtent, Match, lay_out

SMALL = lay_out([LeafExtent("01", 300.0, 1200.0), LeafExtent("02", 300.0, 1200.0)], Match.BOOK)
LARGE = lay_out([LeafExtent(f"{at:02}", 300.0, 2400.0) for at in range(6)], Match.BOOK)


def heights(shapes, kind):
    return [y for shape in shapes if shape.kind == kind for _, y in shape.points]


def test_nothing_is_drawn_unless_asked():
    scene = surround(SMALL, Around.NOTHING)

    assert scene.shapes == ()
    assert scene.box == (0.0, 0.0, 600.0, 1200.0)


def test_a_person_stands_as_tall_as_said_on_the_floor_the_match_stands_on():
    scene = surround(LARGE, Around.NOTHING, person=True)

    person = heights(scene.shapes, "solid")
    assert max(person) == pytest.approx(2400.0, abs=5.0)
    assert max(person) - min(person) == pytest.approx(PERSON_MM, abs=8.0)


@pytest.mark.parametrize("layout", [SMALL, LARGE])
def test_a_door_is_2040_mm_high_and_round_a_face_that_fits_it(layout):
    scene = surround(layout, Around.DOOR)

    door = scene.shapes[1]  # the first is the floor
    xs, ys = zip(*door.points, strict=True)
    assert (max(xs) - min(xs), max(ys) - min(ys)) == (826.0, 2040.0)
    is_round_it = min(xs) <= 0 and max(xs) >= layout.width_mm
    assert is_round_it == (layout is SMALL)
    if layout is LARGE:
        assert max(xs) < 0
        assert max(ys) == 2400.0


@pytest.mark.parametrize("around", [Around.DOOR, Around.TABLE, Around.WALL])
@pytest.mark.parametrize("layout", [SMALL, LARGE])
def test_the_match_itself_is_left_as_painted(around, layout):
    scene = surround(layout, around, person=True)
    scale = 0.2
    size = (round(layout.length_mm * scale), round(layout.width_mm * scale), 3)
    rgb = np.random.default_rng(3).integers(0, 256, size, dtype=np.uint8)

    page = draw_around(rgb, scene, px_per_mm=scale)

    x, y = round(-scene.box[0] * scale), round(-scene.box[1] * scale)
    assert np.array_equal(page[y : y + size[0], x : x + size[1]], rgb)
    beside = page.astype(int).sum() - rgb.astype(int).sum()
    paper = (page.shape[0] * page.shape[1] - size[0] * size[1]) * (250 + 249 + 246)
    assert beside < paper  # something is drawn


def test_without_a_scale_nothing_can_be_drawn_round_it():
    pixels = lay_out([LeafExtent("01", 300.0, 1200.0)], Match.SLIP, unit="px")

    with pytest.raises(MatchNotPossible, match="has a scale"):
        surround(pixels, Around.WALL)
