"""Faults of photographs, each on a photograph made in sight with that one fault."""

import io
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.vision.made_scenes import WOODS, MadeLeaf, Scene
from vision.board import find_board
from vision.bundle_light import judge_board
from vision.coarse_jpeg import table_coarseness, traced_coarseness
from vision.flags import MEANINGS, PhotoFlag
from vision.outline import find_leaves
from vision.photo import read_photo
from vision.photo_faults import LIMITS, faults_flags, find_faults
from vision.settings import VisionSettings

SETTINGS = VisionSettings()
SCENE = Scene(
    (MadeLeaf(WOODS["walnut"]),), size_px=(1000, 1500), leaf_mm=(440.0, 2300.0), strip=False
)


def paint(scene=SCENE):
    return scene.paint()


def faults_of(rgb, folder, *, quality=92):
    path = folder / ("photo.png" if quality is None else "photo.jpg")
    Image.fromarray(rgb).save(path, **({} if quality is None else {"quality": quality}))
    photo = read_photo(path, settings=SETTINGS)
    board = find_board(photo.rgb)
    board_rgb = judge_board(board, settings=SETTINGS).board_rgb
    return find_faults(photo, board, find_leaves(board), board_rgb=board_rgb)


def flags_of(rgb, folder, **more):
    return faults_flags(faults_of(rgb, folder, **more))


def score(flag, rgb, folder):
    (found,) = [fault for fault in faults_of(rgb, folder, quality=None) if fault.flag is flag]
    return found.score


def shaded(rgb, gain):
    linear = (rgb / 255.0) ** 2.2 * gain
    return (np.clip(linear, 0, 1) ** (1 / 2.2) * 255 + 0.5).astype(np.uint8)


def places(rgb):
    return np.mgrid[0 : rgb.shape[0], 0 : rgb.shape[1]].astype(np.float32)


def test_every_fault_has_a_limit_and_advice():
    assert set(LIMITS) <= set(MEANINGS)


@pytest.mark.parametrize("wood", sorted(WOODS))
def test_a_good_photograph_has_no_fault(wood, tmp_path):
    scene = replace(SCENE, leaves=(MadeLeaf(WOODS[wood]),), strip=True)

    assert flags_of(paint(scene), tmp_path) == ()


def test_an_opened_pair_of_unlike_lightness_has_no_fault(tmp_path):
    oak = np.array(WOODS["oak"])
    pair = (MadeLeaf(tuple(oak)), MadeLeaf(tuple(0.75 * oak), mirrored=True))

    assert flags_of(paint(replace(SCENE, leaves=pair, leaf_mm=(240.0, 2300.0))), tmp_path) == ()


@pytest.mark.parametrize("sd_px", [3.0, 5.0])
def test_the_blur_of_a_whole_picture_is_measured_in_pixels(sd_px, tmp_path):
    soft = cv2.GaussianBlur(paint(), (0, 0), sd_px)

    assert score(PhotoFlag.BLURRED, soft, tmp_path) == pytest.approx(sd_px, rel=0.15)
    assert PhotoFlag.BLURRED in flags_of(soft, tmp_path)


def test_a_camera_that_moved_along_the_leaf_is_told_by_the_leafs_ends(tmp_path):
    moved = cv2.blur(paint(), (1, 17))

    assert PhotoFlag.BLURRED in flags_of(moved, tmp_path)


def test_one_soft_end_is_uneven_focus_and_not_blur(tmp_path):
    rgb = paint()
    soft = cv2.GaussianBlur(rgb, (0, 0), 6.0)
    share = np.clip((places(rgb)[0] - 800) / 60, 0, 1)[..., None]

    flags = flags_of((rgb + share * (soft.astype(float) - rgb)).astype(np.uint8), tmp_path)

    assert PhotoFlag.FOCUS_UNEVEN in flags
    assert PhotoFlag.BLURRED not in flags


def test_a_spot_of_the_lamps_own_light_is_glare_and_more_light_on_the_wood_is_not(tmp_path):
    rgb = paint()
    y, x = places(rgb)
    spot = np.exp(-((x - 500) ** 2 + (y - 700) ** 2) / (2 * 40**2))[..., None]
    white = np.clip((rgb / 255.0) ** 2.2 + 0.12 * spot, 0, 1) ** (1 / 2.2) * 255

    assert PhotoFlag.GLARE in flags_of(white.astype(np.uint8), tmp_path)
    assert PhotoFlag.GLARE not in flags_of(shaded(rgb, 1 + 0.6 * spot), tmp_path)


@pytest.mark.parametrize("soft_px", [2.0, 25.0])
def test_the_edge_of_a_shadow_across_the_board_is_told(soft_px, tmp_path):
    rgb = paint()
    y, x = places(rgb)
    covered = np.clip((y + 0.4 * x - 1100) / soft_px, 0, 1)[..., None]

    assert PhotoFlag.SHADOW_EDGE in flags_of(shaded(rgb, 1 - 0.4 * covered), tmp_path)


def test_a_pool_of_light_that_the_outline_ran_into_is_told(tmp_path):
    rgb = paint(
        replace(SCENE, leaves=(MadeLeaf(WOODS["cherry"]),), board=(0.2, 0.15, 0.1), exposure=1.5)
    )
    y, x = places(rgb)
    pool = 1 / (1 + (np.hypot(x - 690, y - 700) / 170) ** 6)[..., None]

    assert PhotoFlag.SHADOW_EDGE in flags_of(shaded(rgb, 0.35 + 0.65 * pool), tmp_path)
    assert PhotoFlag.SHADOW_EDGE not in flags_of(shaded(rgb, 0.35), tmp_path)


def test_a_grey_strip_close_to_the_leaf_on_a_green_board_is_no_shade(tmp_path):
    rgb = paint(replace(SCENE, board=(0.11, 0.15, 0.11)))
    steps = np.repeat(np.linspace(215, 70, 7), 60)[:, None, None]
    rgb[500:920, 345:380] = np.broadcast_to(steps, (420, 35, 3))

    assert PhotoFlag.SHADOW_EDGE not in flags_of(rgb, tmp_path)


def test_light_that_falls_off_smoothly_is_no_shadow(tmp_path):
    rgb = paint()
    falling = np.exp(-0.4 * places(rgb)[0] / len(rgb))[..., None]

    assert flags_of(shaded(rgb, falling), tmp_path) == ()


def test_light_falling_to_a_thirtieth_along_the_leaf_is_too_uneven(tmp_path):
    rgb = paint(replace(SCENE, exposure=2.0))
    falling = np.exp(-np.log(30) * places(rgb)[0] / len(rgb))[..., None]

    assert PhotoFlag.UNEVEN_LIGHT in flags_of(shaded(rgb, falling), tmp_path)


def test_long_ripples_of_shade_are_a_buckled_leaf_and_fiddleback_is_not(tmp_path):
    rgb = paint()
    y, x = places(rgb)
    on_leaf = ((x > 395) & (x < 605))[..., None]

    def rippled(crests_mm):
        return shaded(rgb, 1 + on_leaf * 0.15 * np.sin(2 * np.pi * y / (crests_mm / 2))[..., None])

    assert PhotoFlag.BUCKLED in flags_of(rippled(220), tmp_path)
    assert PhotoFlag.BUCKLED not in flags_of(rippled(16), tmp_path)


@pytest.mark.parametrize(("quality", "coarseness"), [(20, 2.5), (30, 5 / 3), (50, 1.0)])
def test_a_table_tells_how_hard_a_file_was_compressed(quality, coarseness):
    file = io.BytesIO()
    Image.fromarray(paint()).save(file, "JPEG", quality=quality)

    assert table_coarseness(file.getvalue()) == pytest.approx(coarseness, rel=0.03)


@pytest.mark.parametrize(("quality", "coarseness"), [(20, 2.5), (30, 5 / 3)])
def test_hard_compression_is_traced_in_a_file_cropped_turned_and_saved_again(quality, coarseness):
    file = io.BytesIO()
    Image.fromarray(paint()).save(file, "JPEG", quality=quality)
    coarse = np.asarray(Image.open(file))
    again = io.BytesIO()
    Image.fromarray(np.rot90(coarse[3:, 5:])).save(again, "JPEG", quality=97)

    assert table_coarseness(again.getvalue()) < 0.2
    assert traced_coarseness(np.asarray(Image.open(again))) == pytest.approx(coarseness, rel=0.15)


@pytest.mark.parametrize("wood", ["cherry", "maple"])
def test_hard_compression_is_traced_in_quiet_wood(wood):
    rgb = paint(replace(SCENE, leaves=(MadeLeaf(WOODS[wood]),), leaf_mm=(200.0, 2300.0)))
    calm = cv2.GaussianBlur(rgb, (0, 0), 1.0)
    coarse, again = io.BytesIO(), io.BytesIO()
    Image.fromarray(calm).save(coarse, "JPEG", quality=28)
    Image.open(coarse).save(again, "JPEG", quality=92)

    traced = traced_coarseness(np.asarray(Image.open(again)))

    assert traced == pytest.approx(1.79, rel=0.15)


def test_a_picture_that_was_never_compressed_hard_shows_no_trace():
    assert traced_coarseness(paint()) < 0.5


def test_a_file_saved_twice_is_told_by_its_first_saving(tmp_path):
    file = io.BytesIO()
    Image.fromarray(paint()).save(file, "JPEG", quality=20)

    again = flags_of(np.asarray(Image.open(file)), tmp_path, quality=95)

    assert PhotoFlag.OVER_COMPRESSED in again
