"""A leaf between rails, seen askew through a lens, must come out straight, in its true size."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.vision.made_rails import (
    MadeRails,
    draw_rails,
    photograph,
    seen_markers,
    some_camera,
    tape_of,
)
from vision.board import find_board
from vision.cut_out import cut_out
from vision.errors import RailsUnfit
from vision.flatten import straighten
from vision.outline import Outline, choose_leaves, find_leaves
from vision.photo import Photo
from vision.rail_fit import find_markers, fit_table
from vision.rail_plan import RailPlan
from vision.readings import ScaleClass
from vision.shot import Shot

SIZE = (1600, 2400)
LENGTH_MM, WIDTH_MM = 2400.0, 300.0
SAMPLES = 4


def leaf_rim(middle_mm, *, length=LENGTH_MM, width=WIDTH_MM, turn_deg=1.0):
    """Return a rectangle's rim, densely, table mm."""
    side = np.linspace(-0.5, 0.5, 200)[:-1]
    x = np.concatenate([side, np.full(199, 0.5), -side, np.full(199, -0.5)]) * width
    y = np.concatenate([np.full(199, -0.5), side, np.full(199, 0.5), -side]) * length
    a = np.deg2rad(turn_deg)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    return np.column_stack([x, y]) @ turn + middle_mm


def draw_leaf(picture, camera, rim, *, height_mm=0.0):
    seen = camera.see(rim, height_mm)
    big = (camera.size_px[1] * SAMPLES, camera.size_px[0] * SAMPLES)
    mask = np.zeros(big, np.uint8)
    points = np.round(((seen + 0.5) * SAMPLES - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(mask, [points], 255, lineType=cv2.LINE_8, shift=4)
    share = cv2.resize(mask, camera.size_px, interpolation=cv2.INTER_AREA)[..., None] / 255.0
    picture[:] = np.round(picture * (1 - share) + share * np.array([176, 140, 100]))


def as_photo(rgb):
    height, width = rgb.shape[:2]
    return Photo(rgb, "a.jpg", "", width, height, 1.0, None, 28.0, (), b"")


def a_scene(rng, *, height_mm=0.0):
    rails = MadeRails(
        scale=tuple(1 + rng.uniform(-0.004, 0.004, 2)),
        gaps_mm=tuple(760 + rng.uniform(-4, 4, 2)),
        shift_mm=rng.uniform(-4, 4),
    )
    camera = some_camera(rng, SIZE, rails=rails, tilt_deg=6.0)
    picture = np.full((SIZE[1], SIZE[0], 3), 120, np.uint8)
    draw_rails(picture, camera, rails)
    draw_leaf(picture, camera, leaf_rim([380.0, 1600.0]), height_mm=height_mm)
    return rails, camera, photograph(picture, rng)


def the_table(rgb, camera, rails, *, tape=True):
    return fit_table(
        find_markers(rgb),
        RailPlan(rails.markers, rails.pitch_mm),
        tape=tape_of(rails) if tape else None,
        size_px=SIZE,
        focal_35mm=camera.focal_35mm,
        camera_height_mm=camera.height_mm,
    )


def cut(rgb, table, shot):
    board = find_board(rgb)
    outlines = choose_leaves(find_leaves(board), pair=False)
    (leaf,) = cut_out(
        as_photo(rgb), board, outlines, shot=shot, rails=(), board_rgb=(0.2,) * 3, table=table
    )
    return leaf


@pytest.mark.parametrize("thickness_mm", [None, 40.0])
def test_a_leaf_askew_under_a_lens_has_its_true_size_and_straight_edges(thickness_mm):
    rng = np.random.default_rng()
    rails, camera, rgb = a_scene(rng, height_mm=thickness_mm or 0.0)
    table = the_table(rgb, camera, rails)

    leaf = cut(rgb, table, Shot("a.jpg", "1", thickness_mm=thickness_mm))

    assert leaf.size.scale_class is ScaleClass.MEASURED
    # At half a pixel to a millimetre an edge is good to a millimetre or so.
    assert leaf.size.length_mm == pytest.approx(LENGTH_MM, abs=1.5)
    assert leaf.size.width_mm == pytest.approx(WIDTH_MM, abs=1.2)
    assert abs(leaf.size.length_mm - LENGTH_MM) <= 3 * leaf.size.length_sd_mm
    filled = leaf.image.on_leaf[8:-8, 8:-8].mean()
    assert filled > 0.99
    assert leaf.image.px_per_mm == pytest.approx(len(leaf.image.on_leaf) / LENGTH_MM, rel=0.01)


def test_outline_points_on_the_true_rim_measure_true_to_a_tenth():
    rng = np.random.default_rng()
    rails = MadeRails(gaps_mm=(760.0, 763.0), shift_mm=2.0)
    camera = some_camera(rng, (4000, 6000), rails=rails)
    table = fit_table(
        seen_markers(camera, rails, rng),
        RailPlan(rails.markers),
        tape=tape_of(rails),
        size_px=camera.size_px,
        focal_35mm=camera.focal_35mm,
        camera_height_mm=camera.height_mm,
    )
    outline = Outline(camera.see(leaf_rim([380.0, 1600.0]), 20.0), 1.0, touches_frame=False)

    straight = straighten(outline, table=table, height_mm=20.0)

    assert straight.on_table is not None
    scale = straight.on_table.px_per_mm
    assert straight.length_px / scale == pytest.approx(LENGTH_MM, abs=0.4)
    assert straight.width_px / scale == pytest.approx(WIDTH_MM, abs=0.2)
    back = straight.in_photo(straight.points)
    assert np.abs(back - outline.points).max() < 0.01


def test_rails_of_unmeasured_length_are_not_called_measured():
    rng = np.random.default_rng()
    rails, camera, rgb = a_scene(rng)
    table = the_table(rgb, camera, rails, tape=False)

    printed = cut(rgb, table, Shot("a.jpg", "1")).size
    typed = cut(rgb, table, Shot("a.jpg", "1", length_mm=LENGTH_MM)).size

    assert printed.scale_class is ScaleClass.RAILS
    assert printed.length_mm == pytest.approx(LENGTH_MM, rel=0.006)
    assert printed.length_sd_mm > 5
    assert typed.scale_class is ScaleClass.TYPED
    assert typed.length_mm == pytest.approx(LENGTH_MM)
    assert typed.width_mm == pytest.approx(WIDTH_MM, abs=1.2)


def test_foot_and_eye_are_where_the_camera_stood():
    rng = np.random.default_rng()
    rails, camera, rgb = a_scene(rng)

    leaf = cut(rgb, the_table(rgb, camera, rails), Shot("a.jpg", "1"))

    top = 1600.0 - LENGTH_MM / 2
    assert leaf.foot == pytest.approx((camera.foot_mm[1] - top) / LENGTH_MM, abs=0.01)
    assert leaf.station.eye_height == pytest.approx(camera.height_mm / LENGTH_MM, rel=0.02)


def test_a_leaf_that_the_rails_do_not_flank_is_refused():
    rng = np.random.default_rng()
    rails, camera, rgb = a_scene(rng)
    table = replace(the_table(rgb, camera, rails), span_mm=(0.0, 1700.0))

    with pytest.raises(RailsUnfit, match=r"54% of the leaf's length; 70% is needed"):
        cut(rgb, table, Shot("a.jpg", "1"))
