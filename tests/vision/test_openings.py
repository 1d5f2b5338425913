import cv2
import numpy as np
import pytest

from tests.vision.made_scenes import BOARDS, WOODS, MadeLeaf, Scene
from vision.board import find_board
from vision.colour_space import linear_to_srgb8, srgb_to_linear
from vision.openings import Openings, find_openings
from vision.outline import find_leaves

PX_PER_MM = 2.0
FINER = 4
"""A split is cut into a picture that much finer, then seen by the camera."""


def leaf_with(cuts, *, wood="walnut", board="light"):
    """Return a photograph of a leaf of 240 x 1400 px with board in its cuts (photo px)."""
    tone = (BOARDS[board],) * 3
    scene = Scene((MadeLeaf(WOODS[wood]),), board=tone, strip=False)
    bare = srgb_to_linear(Scene((), board=tone, strip=False).paint())
    light = srgb_to_linear(scene.paint())
    cut = np.zeros((light.shape[0] * FINER, light.shape[1] * FINER), np.uint8)
    for polygon in cuts:
        fine = (np.asarray(polygon) + 0.5) * FINER - 0.5
        cv2.fillPoly(cut, [np.round(fine * 16).astype(np.int32)], 255, shift=4)
    size = light.shape[1::-1]
    share = cv2.resize(cut, size, interpolation=cv2.INTER_AREA)[..., None] / np.float32(255)
    seen = cv2.GaussianBlur(light * (1 - share) + bare * share, (0, 0), 0.5)
    return linear_to_srgb8(seen)


def openings_of(picture) -> Openings:
    board = find_board(picture)
    (leaf,) = find_leaves(board)
    return find_openings(picture, board, leaf)


def split(width_px, *, length_px=200, x=300.0, end_y=100):
    """Return a split that runs down from the leaf's upper end, its sides parallel."""
    left, right = x - width_px / 2, x + width_px / 2
    return [(left, end_y - 5), (right, end_y - 5), (right, end_y + length_px),
            (left, end_y + length_px)]  # fmt: skip


def disc(radius_px, x=300.0, y=450.0):
    angle = np.linspace(0, 2 * np.pi, 60)
    return np.stack([x + radius_px * np.cos(angle), y + radius_px * np.sin(angle)], axis=1)


@pytest.mark.parametrize("board", BOARDS)
@pytest.mark.parametrize("wood", WOODS)
@pytest.mark.parametrize("width_mm", [1.5, 2.0, 4.0])
def test_an_open_split_is_measured(width_mm, wood, board):
    width_px = width_mm * PX_PER_MM

    found = openings_of(leaf_with([split(width_px)], wood=wood, board=board))

    assert len(found.splits) == 1
    assert found.holes == ()
    assert found.split_area_px == pytest.approx(width_px * 200, rel=0.18)


@pytest.mark.parametrize("board", BOARDS)
@pytest.mark.parametrize("diameter_mm", [4.0, 12.0, 24.0])
def test_a_hole_is_measured(diameter_mm, board):
    radius_px = diameter_mm * PX_PER_MM / 2

    found = openings_of(leaf_with([disc(radius_px)], wood="cherry", board=board))

    assert len(found.holes) == 1
    assert found.splits == ()
    assert found.hole_area_px == pytest.approx(np.pi * radius_px**2, rel=0.15)


@pytest.mark.parametrize("board", BOARDS)
@pytest.mark.parametrize("wood", WOODS)
def test_a_whole_leaf_has_no_openings(wood, board):
    found = openings_of(leaf_with([], wood=wood, board=board))

    assert found.polygons == ()


@pytest.mark.parametrize("board", BOARDS)
@pytest.mark.parametrize("darker", [0.5, 0.25, 0.1])
def test_dark_wood_is_no_hole(darker, board):
    light = srgb_to_linear(leaf_with([], wood="cherry", board=board))
    light[430:470, 270:300] *= darker
    light[200:700, 330:333] *= darker
    light = cv2.GaussianBlur(light, (0, 0), 0.8)

    found = openings_of(linear_to_srgb8(light))

    assert found.polygons == ()


def test_a_shadow_in_a_hole_hides_none_of_it():
    light = srgb_to_linear(leaf_with([disc(12)], wood="oak", board="light"))
    light[430:450, 280:320] *= 0.75

    found = openings_of(linear_to_srgb8(light))

    assert found.hole_area_px == pytest.approx(np.pi * 144, rel=0.15)


def test_openings_lie_where_they_were_cut():
    (hole,) = openings_of(leaf_with([disc(15, x=280.0, y=400.0)])).holes

    assert hole.mean(axis=0) == pytest.approx([280.0, 400.0], abs=0.5)
