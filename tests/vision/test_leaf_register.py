"""A leaf laid on another by its figure: planted moves come back, strangers are not laid at all."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from sample_images import FlitchPlan, draw_flat
from vision.blink_frame import as_laid, frame_of, paint_in_frame, span_of
from vision.colour_space import linear_to_srgb8
from vision.laying import lay_pixels
from vision.leaf_image import LeafImage
from vision.leaf_register import register
from vision.placed_picture import PlacedPicture
from vision.shot import Laid

PX_PER_MM = 0.8
MARGIN = 30


def plan(seed: int, figure: str = "none", species: str = "walnut") -> FlitchPlan:
    return FlitchPlan(
        seed=seed, species=species, figure=figure, leaves=6, length_mm=1200, width_mm=220
    )


def flat(of: FlitchPlan, number: int) -> LeafImage:
    leaf = draw_flat(of, number, px_per_mm=PX_PER_MM)
    return LeafImage(leaf.light.copy(), leaf.on_leaf.copy(), PX_PER_MM)


def moved(leaf: LeafImage, *, along: int, across: int, trim: int = 0) -> LeafImage:
    """A leaf on a larger board, so many pixels lower and to the right, its top end cut off."""
    rows, columns = leaf.on_leaf.shape
    light = np.full((rows + 2 * MARGIN, columns + 2 * MARGIN, 3), 0.02, np.float32)
    wood = np.zeros(light.shape[:2], bool)
    place = np.s_[
        MARGIN + along : MARGIN + along + rows, MARGIN + across : MARGIN + across + columns
    ]
    light[place], wood[place] = leaf.light, leaf.on_leaf
    wood[: MARGIN + along + trim] = False
    return LeafImage(light, wood, leaf.px_per_mm)


def photographed(leaf: LeafImage, laid: Laid) -> PlacedPicture:
    """The same leaf, so turned before the photograph, and to be turned back."""
    light = np.ascontiguousarray(lay_pixels(leaf.light, laid))
    wood = np.ascontiguousarray(lay_pixels(leaf.on_leaf, laid))
    return PlacedPicture(linear_to_srgb8(light), wood, laid, leaf.px_per_mm or 1.0)


def middle(leaf: LeafImage) -> np.ndarray:
    """The middle of a leaf's outline, mm right and down on its sheet."""
    columns, rows = (np.flatnonzero(leaf.on_leaf.any(axis=axis)) for axis in (0, 1))
    return np.array([columns[0] + columns[-1], rows[0] + rows[-1]]) / 2 / PX_PER_MM


def apart(one: np.ndarray, other: np.ndarray) -> float:
    inside = np.s_[90:-60, 15:-15]
    return float(np.abs(one[inside].astype(float) - other[inside].astype(float)).mean())


@pytest.mark.parametrize("laid", [Laid.AS_LIES, Laid.END_TURNED, Laid.FACE_OVER, Laid.END_OVER])
@pytest.mark.parametrize("px_per_mm", [PX_PER_MM, 0.5])
def test_a_planted_shift_and_turn_makes_both_pictures_agree_to_the_pixel(laid, px_per_mm):
    leaf = flat(plan(5), 2)
    other_board = moved(leaf, along=-11, across=6, trim=70)
    first, second = photographed(leaf, Laid.AS_LIES), photographed(other_board, laid)
    planted = middle(other_board) - middle(leaf) - np.array([MARGIN + 6, MARGIN - 11]) / PX_PER_MM

    found = register(as_laid(first), as_laid(second))
    frame = frame_of(first, second, found)
    one = paint_in_frame(first, span_of(first), frame, px_per_mm=px_per_mm)
    other = paint_in_frame(second, span_of(second), frame, px_per_mm=px_per_mm, register=found)

    assert one.shape == other.shape
    assert apart(one, other) < 0.3
    for axis in (0, 1):
        for step in (-1, 1):
            assert apart(one, np.roll(other, step, axis)) > 2 * apart(one, other)
    assert apart(one, paint_in_frame(second, span_of(second), frame, px_per_mm=px_per_mm)) > 3
    assert planted[1] > 20
    assert (found.across_mm, found.along_mm) == pytest.approx(tuple(planted), abs=0.4)
    assert found.along_sure > 0.95


def test_a_leaf_that_leans_and_is_drawn_too_long_is_turned_and_shortened():
    leaf = flat(plan(5), 2)
    lean, longer = np.deg2rad(0.3), 1.006
    rows, columns = leaf.on_leaf.shape
    turn = np.array([[np.cos(lean), -np.sin(lean)], [np.sin(lean), np.cos(lean)]])
    turn = turn @ np.diag([1, longer])
    centre = np.array([(columns - 1) / 2, (rows - 1) / 2])
    warp = np.column_stack([turn, centre - turn @ centre])
    light = cv2.warpAffine(leaf.light, warp, (columns, rows), borderMode=cv2.BORDER_REPLICATE)

    leaning = LeafImage(light, leaf.on_leaf.copy(), PX_PER_MM)
    first, second = (photographed(one, Laid.AS_LIES) for one in (leaf, leaning))

    found = register(leaf, leaning)
    frame = frame_of(first, second, found)
    one, other, plain = (
        paint_in_frame(which, span_of(which), frame, px_per_mm=PX_PER_MM, register=move)
        for which, move in (
            (first, None),
            (second, found),
            (second, replace(found, lean_deg=0.0, lengthening=0.0)),
        )
    )

    assert apart(one, other) < 0.8  # the planted turn itself has softened the wood
    assert apart(one, plain) > 5 * apart(one, other)
    assert found.lean_deg == pytest.approx(-0.3, abs=0.04)
    assert 1 + found.lengthening == pytest.approx(1 / longer, abs=0.001)
    assert abs(found.along_mm) < 0.6
    assert abs(found.across_mm) < 0.6


@pytest.mark.parametrize(("figure", "species"), [("fiddleback", "maple"), ("crotch", "mahogany")])
def test_neighbours_are_laid_as_they_lay_in_the_log(figure, species):
    of = plan(31, figure, species)
    one, other = flat(of, 3), flat(of, 4)
    across, along = middle(other) - middle(one)

    found = register(one, other)

    assert found.along_mm == pytest.approx(along, abs=3)
    assert found.across_mm == pytest.approx(across, abs=2)
    assert found.along_sure > 0.8


def test_a_shift_beyond_what_is_looked_at_is_not_told():
    leaf = flat(plan(31, "fiddleback", "maple"), 3)
    far = np.roll(leaf.light, round(0.12 * len(leaf.light)), axis=0)

    found = register(leaf, LeafImage(far, leaf.on_leaf.copy(), PX_PER_MM))

    assert found is None or found.along_mm is None or found.along_sure < 0.6


@pytest.mark.parametrize("seed", [51, 52, 53, 54])
def test_leaves_of_two_flitches_are_not_laid_on_each_other(seed):
    assert register(flat(plan(seed), 2), flat(plan(seed + 40), 3)) is None


def test_a_scrap_of_wood_tells_nothing():
    leaf = flat(plan(5), 2)
    scrap = np.zeros_like(leaf.on_leaf)
    scrap[400:406, 80:86] = True

    assert register(leaf, LeafImage(leaf.light.copy(), scrap, PX_PER_MM)) is None
    empty = np.zeros_like(scrap)
    assert register(LeafImage(leaf.light.copy(), empty, PX_PER_MM), leaf) is None


def test_leaves_without_a_common_scale_are_refused():
    leaf = flat(plan(5), 2)

    with pytest.raises(ValueError, match="scale"):
        register(leaf, LeafImage(leaf.light.copy(), leaf.on_leaf.copy(), None))
