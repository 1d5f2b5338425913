"""Rails drawn by a camera with a lens must give millimetres back, or be refused with the reason."""

import re
from dataclasses import replace

import numpy as np
import pytest

from tests.vision.made_rails import (
    MadeCamera,
    MadeRails,
    draw_rails,
    photograph,
    seen_markers,
    some_camera,
    some_rails,
    tape_of,
)
from vision.errors import RailsUnfit
from vision.marker_search import Markers
from vision.rail_fit import find_markers, fit_table
from vision.rail_plan import Holder, RailPlan

SIZES = {"24 MP": (4000, 6000), "12 MP": (3000, 4000)}


def fitted(camera, rails, markers, *, tape=None, height_mm=None, **more):
    return fit_table(
        markers,
        RailPlan(rails.markers, rails.pitch_mm),
        tape=tape,
        size_px=camera.size_px,
        focal_35mm=round(camera.focal_35mm),
        camera_height_mm=height_mm,
        **more,
    )


def errors_mm(table, camera, rails, *, height_mm=0.0):
    """Return the largest error of a length of 2.5 m, of a width of 300 mm, and of any point."""
    top, left = (min(rails.lengths_mm) - 2500) / 2, (rails.gaps_mm[0] - 300) / 2
    x, y = np.meshgrid(left + np.linspace(0, 300, 7), top + np.linspace(0, 2500, 21))
    true = np.stack([x, y], axis=-1)
    got = table.to_mm(camera.see(true.reshape(-1, 2), height_mm), height_mm).reshape(true.shape)
    length = np.linalg.norm(got[-1] - got[0], axis=-1) - 2500
    width = np.linalg.norm(got[:, -1] - got[:, 0], axis=-1) - 300
    point = np.linalg.norm(got - true, axis=-1)
    return float(abs(length).max()), float(abs(width).max()), float(point.max())


@pytest.mark.parametrize("gaps", [True, False], ids=["gaps by tape", "gaps unknown"])
@pytest.mark.parametrize("pitch_mm", [100.0, 400.0])
@pytest.mark.parametrize("size", SIZES)
def test_any_camera_gives_length_width_and_every_point_back(size, pitch_mm, gaps):
    rng = np.random.default_rng()
    for _ in range(6):
        rails = some_rails(rng, pitch_mm=pitch_mm)
        camera = some_camera(rng, SIZES[size], rails=rails)
        markers = seen_markers(camera, rails, rng)

        table = fitted(camera, rails, markers, tape=tape_of(rails, gaps=gaps))

        length, width, point = errors_mm(table, camera, rails)
        assert length <= 0.5, (camera, rails)
        # Without the gaps, width rests on the squareness of a few dozen printed markers.
        assert width <= (0.2 if gaps else 0.45), (camera, rails)
        assert point <= (0.6 if gaps else 0.9), (camera, rails)


def test_drawn_markers_are_found_by_their_centres_and_give_the_table_back():
    rng = np.random.default_rng()
    rails = some_rails(rng)
    camera = some_camera(rng, (2000, 3000), rails=rails)
    picture = np.full((3000, 2000, 3), 130, np.uint8)
    draw_rails(picture, camera, rails)

    markers = find_markers(photograph(picture, rng))
    table = fitted(camera, rails, markers, tape=tape_of(rails))

    true = {number: centre for number, centre, _, _ in rails.frames()}
    seen = camera.see(np.array([true[number] for number in markers.ids]))
    off = np.linalg.norm(markers.centres_px - seen, axis=1)
    assert len(markers) >= 0.95 * 2 * rails.markers
    assert np.median(off) < 0.06
    assert off.max() < 0.25
    length, width, point = errors_mm(table, camera, rails)
    assert (length <= 0.5, width <= 0.2, point <= 0.6) == (True, True, True)


def test_a_marker_is_its_centre_not_its_corners():
    """Corners drawn inwards by half a pixel, as corner finders do, move no centre."""
    rng = np.random.default_rng()
    rails = some_rails(rng)
    camera = some_camera(rng, SIZES["24 MP"], rails=rails)
    markers = seen_markers(camera, rails, rng)
    inward = markers.centres_px[:, None] - markers.corners_px
    pulled = markers.corners_px + 0.63 * inward / np.linalg.norm(inward, axis=2, keepdims=True)

    table = fitted(
        camera, rails, Markers(markers.ids, markers.centres_px, pulled), tape=tape_of(rails)
    )

    assert errors_mm(table, camera, rails)[1] <= 0.2


def test_the_thickness_of_a_stack_is_allowed_for():
    rng = np.random.default_rng()
    for _ in range(6):
        rails = some_rails(rng)
        camera = some_camera(rng, SIZES["24 MP"], rails=rails)
        markers = seen_markers(camera, rails, rng)

        table = fitted(camera, rails, markers, tape=tape_of(rails), height_mm=camera.height_mm)

        assert errors_mm(table, camera, rails, height_mm=20.0)[0] <= 0.3
        assert table.eye_mm[2] == pytest.approx(camera.height_mm, rel=0.01)
        ignored = table.to_mm(camera.see(np.array([[350.0, 350.0], [350.0, 2850.0]]), 20.0))
        assert np.ptp(ignored[:, 1]) > 2510


def test_plain_least_squares_come_before_huber():
    """With a strong lens and one marker astray, Huber from the start settles millimetres off."""
    rng = np.random.default_rng(5)
    rails = replace(some_rails(rng), moved={7: (2.5, 1.5)})
    camera = replace(some_camera(rng, SIZES["24 MP"], rails=rails), k1=-0.12, k2=0.02)
    markers = seen_markers(camera, rails, rng)

    table = fitted(camera, rails, markers, tape=tape_of(rails))

    assert max(errors_mm(table, camera, rails)) <= 0.5
    astray = max(table.misses, key=lambda miss: np.hypot(miss.dx_mm, miss.dy_mm))
    assert astray.number == 7
    assert (astray.dx_mm, astray.dy_mm) == pytest.approx((2.5, 1.5), abs=0.4)


def test_misses_of_good_rails_are_small_and_every_marker_has_one():
    rng = np.random.default_rng()
    rails = some_rails(rng)
    camera = some_camera(rng, SIZES["24 MP"], rails=rails)
    markers = seen_markers(camera, rails, rng)

    table = fitted(camera, rails, markers, tape=tape_of(rails))

    assert [miss.number for miss in table.misses] == markers.ids.tolist()
    assert table.rms_mm < 0.1
    assert table.right_rail.shift_mm == pytest.approx(rails.shift_mm, abs=0.8)


@pytest.mark.parametrize(
    ("bow", "side", "way"), [((4, 0), "left", "right"), ((0, -4), "right", "left")]
)
def test_a_bent_rail_is_named(bow, side, way):
    rng = np.random.default_rng()
    rails = replace(some_rails(rng), bow_mm=bow)
    camera = some_camera(rng, SIZES["24 MP"], rails=rails)

    with pytest.raises(RailsUnfit, match=f"The {side} rail is bent"):
        fitted(camera, rails, seen_markers(camera, rails, rng), tape=tape_of(rails))


def test_markers_off_their_place_are_named():
    rng = np.random.default_rng()
    rails = replace(some_rails(rng), moved={3: (0, 6), 12: (5, 0), 120: (-6, 0)})
    camera = some_camera(rng, SIZES["24 MP"], rails=rails)

    with pytest.raises(RailsUnfit) as refusal:
        fitted(camera, rails, seen_markers(camera, rails, rng), tape=tape_of(rails))

    named = re.findall(r"marker (\d+) \(", str(refusal.value))
    assert set(named) == {"3", "12", "120"}


@pytest.mark.parametrize(
    ("keep", "words"),
    [
        (lambda ids: ids < 100, "0 markers of the right rail"),
        (lambda ids: ids >= 100, "0 markers of the left rail"),
        (lambda ids: np.isin(ids, [0, 10, 20, 100, 110, 120, 130]), "7 markers .* 8 are needed"),
        (lambda ids: ids > 200, "0 markers .* 8 are needed"),
    ],
)
def test_one_rail_or_too_few_markers_are_refused(keep, words):
    rng = np.random.default_rng()
    rails = some_rails(rng)
    camera = some_camera(rng, SIZES["24 MP"], rails=rails)
    seen = seen_markers(camera, rails, rng)
    kept = keep(seen.ids)
    markers = Markers(seen.ids[kept], seen.centres_px[kept], seen.corners_px[kept])

    with pytest.raises(RailsUnfit, match=words):
        fitted(camera, rails, markers)


def test_what_looks_like_a_marker_elsewhere_in_the_picture_is_left_out():
    rng = np.random.default_rng()
    rails = some_rails(rng)
    camera = some_camera(rng, SIZES["24 MP"], rails=rails)
    seen = seen_markers(camera, rails, rng)
    wrong = seen.ids == 15
    shift = np.where(wrong[:, None], [900.0, 120.0], 0.0)
    markers = Markers(seen.ids, seen.centres_px + shift, seen.corners_px + shift[:, None])

    table = fitted(camera, rails, markers, tape=tape_of(rails))

    assert 15 not in [miss.number for miss in table.misses]
    assert max(errors_mm(table, camera, rails)) <= 0.6


def test_the_chart_holder_is_placed_by_its_own_markers():
    rng = np.random.default_rng()
    rails, holder = some_rails(rng), Holder(30.0)
    camera = some_camera(rng, SIZES["24 MP"], rails=rails)
    seen = seen_markers(camera, rails, rng)
    turn = np.array([[np.cos(0.3), np.sin(0.3)], [-np.sin(0.3), np.cos(0.3)]])

    def on_table(points):
        return np.array(points) @ turn + [350.0, 400.0]

    four = camera.see(on_table(list(holder.marker_centres().values())), 3.0)
    markers = Markers(
        np.append(seen.ids, list(holder.marker_centres())),
        np.vstack([seen.centres_px, four]),
        np.concatenate([seen.corners_px, np.repeat(four[:, None], 4, axis=1)]),
    )

    table = fitted(camera, rails, markers, holder=holder)

    patches = table.holder_to_px(np.array(holder.patch_centres()))
    assert patches == pytest.approx(camera.see(on_table(holder.patch_centres()), 3.0), abs=0.1)
    with pytest.raises(RailsUnfit, match="holder"):
        fitted(camera, rails, seen, holder=holder).holder_to_px(np.zeros((1, 2)))


def test_points_of_the_right_rail_are_placed_as_it_lies():
    rng = np.random.default_rng()
    rails = some_rails(rng)
    camera = some_camera(rng, SIZES["24 MP"], rails=rails)

    table = fitted(camera, rails, seen_markers(camera, rails, rng), tape=tape_of(rails))

    for number, centre, across, along in rails.frames():
        if number == 120:
            true = centre + 40 * across + 50 * along
    got = table.to_px(table.rail_to_mm("right", np.array([[40.0, 20 * 100.0 + 50]])))
    assert got[0] == pytest.approx(camera.see(true[None])[0], abs=0.4)


def test_a_printed_length_is_not_called_measured():
    rails = MadeRails()
    camera = MadeCamera((4000, 6000), 5400.0, 3000.0, (350.0, 1600.0))
    markers = seen_markers(camera, rails, np.random.default_rng())

    assert fitted(camera, rails, markers, tape=tape_of(rails)).is_by_tape
    trusted = fitted(camera, rails, markers)
    assert not trusted.is_by_tape
    assert trusted.trust.along >= 0.003
