"""Photographs of parts of a leaf, placed by the rails, must join without a seam."""

from dataclasses import replace
from functools import partial

import cv2
import numpy as np
import pytest

from tests.vision.made_rails import (
    MadeCamera,
    MadeRails,
    draw_rails,
    photograph,
    seen_markers,
    tape_of,
)
from vision.board import find_board
from vision.errors import RailsUnfit
from vision.joined_shots import PartShot, join_shots
from vision.part_fits import fit_parts
from vision.rail_fit import find_markers
from vision.rail_plan import RailPlan

GAP_MM = 640.0


def part_cameras(rng, size_px, places_mm, *, tilt_deg=4.0):
    """Return one camera held over the leaf at several places, a little tilted each time."""
    diagonal = float(np.hypot(*size_px))
    focal = rng.uniform(28, 40) / 43.267 * diagonal
    lens = {
        "k1": rng.uniform(-0.1, 0.05),
        "k2": rng.uniform(-0.02, 0.02),
        "axis_px": tuple(rng.uniform(-0.003, 0.003, 2) * diagonal),
    }
    cameras = []
    for y in places_mm:
        tilt, way = rng.uniform(0.2, 1) * tilt_deg, rng.uniform(0, 2 * np.pi)
        tilts = (tilt * np.cos(way), tilt * np.sin(way), rng.uniform(-1.5, 1.5))
        camera = MadeCamera(
            size_px, focal, focal * 820 / size_px[0], (GAP_MM / 2, y), tilts, **lens
        )
        for _ in range(6):
            off = camera.see(np.array([[GAP_MM / 2, y]]))[0] - (np.array(size_px) - 1) / 2
            foot = np.array(camera.foot_mm) + off * camera.height_mm / focal
            camera = replace(camera, foot_mm=(float(foot[0]), float(foot[1])))
        cameras.append(camera)
    return cameras


def some_part_rails(rng, markers=33):
    return MadeRails(
        markers=markers,
        scale=tuple(1 + rng.uniform(-0.004, 0.004, 2)),
        gaps_mm=tuple(GAP_MM + rng.uniform(-4, 4, 2)),
        shift_mm=rng.uniform(-4, 4),
    )


@pytest.mark.parametrize("gaps", [True, False], ids=["gaps by tape", "gaps unknown"])
def test_neighbouring_photographs_put_every_point_of_the_leaf_at_one_place(gaps):
    rng = np.random.default_rng()
    for _ in range(5):
        rails = some_part_rails(rng)
        cameras = part_cameras(rng, (4000, 6000), (620, 1600, 2580))
        tables = fit_parts(
            [seen_markers(camera, rails, rng) for camera in cameras],
            RailPlan(rails.markers),
            tape=tape_of(rails, gaps=gaps),
            size_px=(4000, 6000),
            focal_35mm=round(cameras[0].focal_35mm),
            camera_height_mm=None,
        )

        x, y = np.meshgrid(np.linspace(170, 470, 7), np.linspace(1030, 1170, 9))
        points = np.column_stack([x.ravel(), y.ravel()])
        for one, other, along in ((0, 1, 0.0), (1, 2, 980.0)):
            moved = points + [0.0, along]
            here = tables[one].to_mm(cameras[one].see(moved))
            there = tables[other].to_mm(cameras[other].see(moved))
            assert np.linalg.norm(here - there, axis=1).max() <= 0.2


def drawn_part(camera, rails, rng, exposure):
    """Return one photograph: board with fall-off, rails, and dots of a known pitch on the leaf."""
    width, height = camera.size_px
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    light = exposure * (1 - 0.25 * ((x / width - 0.3) ** 2 + (y / height - 0.6) ** 2))
    grey = 255 * (0.45 * light) ** (1 / 2.2)
    picture = np.repeat(grey[..., None], 3, axis=2)
    draw_rails(picture, camera, rails)
    for at in dots():
        place = camera.see(at[None])[0]
        if (place < 12).any() or (place > np.array(camera.size_px) - 12).any():
            continue
        rim = camera.see(at + 8 * np.array([[1, 0], [0, 1], [-1, 0], [0, -1]]))
        radius = float(np.linalg.norm(rim - place, axis=1).mean())
        fixed = tuple(int(v) for v in np.round(place * 64))
        cv2.circle(picture, fixed, round(radius * 64), (40,) * 3, -1, cv2.LINE_AA, 6)
    return photograph(picture, rng)


def dots():
    x, y = np.meshgrid(np.linspace(180, 460, 5), np.arange(80.0, 1700.0, 60.0))
    return np.column_stack([x.ravel(), y.ravel()])


@pytest.fixture(scope="module")
def joined():
    rng = np.random.default_rng()
    rails = some_part_rails(rng, markers=18)
    size = (1600, 2400)
    cameras = part_cameras(rng, size, (560, 1160))
    shots = [drawn_part(c, rails, rng, light) for c, light in zip(cameras, (0.8, 1.1), strict=True)]
    tables = fit_parts(
        [find_markers(shot) for shot in shots],
        RailPlan(rails.markers),
        tape=tape_of(rails),
        size_px=size,
        focal_35mm=cameras[0].focal_35mm,
        camera_height_mm=None,
    )
    parts = [
        PartShot(partial(np.asarray, shot), shot.shape[1::-1], find_board(shot).field, table)
        for shot, table in zip(shots, tables, strict=True)
    ]
    return parts, join_shots(parts[::-1], 2.0)


def test_a_joined_picture_keeps_every_place_in_millimetres_across_the_seam(joined):
    _, picture = joined
    off = []
    for x, y in dots():
        column, row = ((np.array([x, y]) - picture.origin_mm) * picture.px_per_mm).tolist()
        if not (24 < column < picture.rgb.shape[1] - 24 and 24 < row < picture.rgb.shape[0] - 24):
            continue
        top, left = round(row) - 22, round(column) - 22
        dark = 255.0 - picture.rgb[top : top + 45, left : left + 45, 0]
        dark = np.maximum(dark - np.median(dark) - 25, 0)
        yy, xx = np.mgrid[:45, :45]
        seen = np.array([(dark * xx).sum(), (dark * yy).sum()]) / dark.sum() + [left, top]
        off.append(np.linalg.norm(seen - [column, row]) / picture.px_per_mm)

    assert len(off) > 80
    assert max(off) <= 0.3
    assert picture.seam_miss_mm <= 0.2


def test_the_board_of_a_joined_picture_is_even_whatever_the_exposures(joined):
    _, picture = joined
    scale, (left, top) = picture.px_per_mm, picture.origin_mm
    column = round((110 - left) * scale)
    board = picture.rgb[:, column - 10 : column + 10].mean(axis=(1, 2))

    assert np.ptp(cv2.blur(board[:, None], (1, 41))[30:-30]) <= 4
    assert top < 0


def test_the_joined_picture_s_own_table_says_where_its_pixels_lie(joined):
    _, picture = joined
    pixels = np.array([[0.0, 0.0], [100.0, 300.0]])

    assert picture.table.to_mm(pixels) == pytest.approx(
        pixels / picture.px_per_mm + picture.origin_mm
    )
    assert picture.table.is_by_tape


def test_photographs_that_do_not_overlap_are_refused(joined):
    parts, _ = joined
    plane = parts[1].table.plane @ np.array([[1, 0, 0], [0, 1, -900.0], [0, 0, 1]])
    apart = replace(parts[1], table=replace(parts[1].table, plane=plane))

    with pytest.raises(RailsUnfit, match="overlap by 0 mm"):
        join_shots([parts[0], apart], 2.0)


def test_a_joined_picture_beyond_measure_is_refused(joined):
    with pytest.raises(RailsUnfit, match="megapixels"):
        join_shots(joined[0], 20.0)
