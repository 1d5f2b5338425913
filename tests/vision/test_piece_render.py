"""Painting pieces at a slant: against scikit-image, against geometry, and for symmetry."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.transform import AffineTransform, rotate, warp

from vision.layout import Layout, Placement
from vision.match_layout import Allowances, FaceWish, LeafExtent, Match, lay_out
from vision.match_render import PAPER, render
from vision.placed_picture import PlacedPicture, Trim
from vision.shot import Laid

WIDTH_MM, LENGTH_MM, PX_PER_MM = 200.0, 400.0, 2.5
WHOLE = Trim(0, int(WIDTH_MM * PX_PER_MM), 0, int(LENGTH_MM * PX_PER_MM))
DRAWN = (
    Match.SUNBURST,
    Match.BOX,
    Match.REVERSE_BOX,
    Match.DIAMOND,
    Match.REVERSE_DIAMOND,
    Match.HERRINGBONE,
    Match.PARQUET,
)


def smooth_wood(seed: int) -> NDArray[np.uint8]:
    """Return a leaf without anything finer than a few millimetres, no symmetry in it."""
    rows, columns = WHOLE.bottom, WHOLE.right
    chance = np.random.default_rng(seed)
    y, x = np.mgrid[0:rows, 0:columns] / PX_PER_MM
    light = np.full((rows, columns, 3), 140.0)
    for _ in range(14):
        along, across = chance.uniform(-0.02, 0.02), chance.uniform(-0.05, 0.05)
        wave = np.sin(2 * np.pi * (along * y + across * x) + chance.uniform(0, 6.3))
        light += wave[..., None] * chance.uniform(2, 6, 3)
    return np.clip(np.rint(light), 0, 255).astype(np.uint8)


def run(count: int) -> list[LeafExtent]:
    return [LeafExtent(f"{number:02}", WIDTH_MM, LENGTH_MM) for number in range(count)]


def painted(
    layout: Layout, px_per_mm: float, leaves: dict[str, NDArray[np.uint8]]
) -> NDArray[np.uint8]:
    pictures = [
        PlacedPicture(
            leaves[place.leaf], np.ones((WHOLE.bottom, WHOLE.right), bool), place.laid, PX_PER_MM
        )
        for place in layout.placements
    ]
    return render(layout, pictures, trims=[WHOLE] * len(pictures), px_per_mm=px_per_mm)


def by_skimage(
    place: Placement, leaf: NDArray[np.uint8], px_per_mm: float, shape: tuple[int, int]
) -> NDArray[np.float64]:
    """Return a whole leaf warped into the panel, cubic between pixels."""
    move = place.to_panel
    to_panel = np.array([[move.xx, move.xy, move.x_mm], [move.yx, move.yy, move.y_mm], [0, 0, 1]])

    def from_px(scale: float) -> NDArray[np.float64]:
        return np.array([[1 / scale, 0, 0.5 / scale], [0, 1 / scale, 0.5 / scale], [0, 0, 1]])

    matrix = np.linalg.inv(from_px(px_per_mm)) @ to_panel @ from_px(PX_PER_MM)
    inverse = AffineTransform(matrix=np.linalg.inv(matrix))
    warped = warp(leaf, inverse, output_shape=shape, order=3, preserve_range=True, mode="edge")
    return np.asarray(warped)


def inside(place: Placement, px_per_mm: float, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Return the pixels that lie two pixels and more within a piece."""
    ys, xs = (np.mgrid[0 : shape[0], 0 : shape[1]] + 0.5) / px_per_mm
    deep = np.full(shape, np.inf)
    outline = place.blank_mm
    for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        long = math.hypot(x1 - x0, y1 - y0)
        deep = np.minimum(deep, ((x1 - x0) * (ys - y0) - (y1 - y0) * (xs - x0)) / long)
    return deep * px_per_mm > 2


@pytest.mark.parametrize("match", DRAWN)
def test_every_piece_shows_what_scikit_image_warps_into_its_place(match: Match) -> None:
    pieces = {Match.PARQUET: 2, Match.SUNBURST: 6}.get(match)
    wish = FaceWish(pieces=pieces, allowances=Allowances(2.0, 5.0, 5.0))
    layout = lay_out(run(6), match, wish=wish)
    leaves = {leaf.label: smooth_wood(int(leaf.label)) for leaf in run(6)}
    px_per_mm = 1.0

    result = painted(layout, px_per_mm, leaves)

    radius = layout.width_mm / 2
    ys, xs = (np.mgrid[0 : result.shape[0], 0 : result.shape[1]] + 0.5) / px_per_mm
    for place in layout.placements[:4]:
        seen = inside(place, px_per_mm, result.shape[:2])
        if match is Match.SUNBURST:
            seen &= np.hypot(xs - radius, ys - radius) < radius - 2
        wanted = by_skimage(place, leaves[place.leaf], px_per_mm, result.shape[:2])
        off = np.abs(result[seen] - wanted[seen])
        assert seen.sum() > 100
        assert off.mean() < 0.6
        assert np.percentile(off, 99) < 2.0


def test_a_rosette_of_one_leaf_is_mirrored_left_to_right_and_top_to_bottom() -> None:
    leaf = smooth_wood(3)
    layout = lay_out(run(12), Match.SUNBURST, wish=FaceWish(width_mm=300.0, pieces=12))

    result = painted(layout, 1.5, {label.label: leaf for label in run(12)}).astype(float)

    for other in (result[:, ::-1], result[::-1]):
        assert np.abs(result - other).mean() < 0.2
        assert np.percentile(np.abs(result - other), 99.5) < 2.5


def test_a_rosette_of_one_leaf_repeats_after_two_wedges() -> None:
    leaf = smooth_wood(5)
    layout = lay_out(run(12), Match.SUNBURST, wish=FaceWish(width_mm=300.0, pieces=12))
    result = painted(layout, 1.5, {label.label: leaf for label in run(12)}).astype(float)

    turned = rotate(result, 60.0, order=3, preserve_range=True)

    ys, xs = np.mgrid[0 : result.shape[0], 0 : result.shape[1]]
    middle = (result.shape[0] - 1) / 2
    seen = np.hypot(xs - middle, ys - middle) < middle - 3
    off = np.abs(result - turned)[seen]
    assert off.mean() < 0.5
    assert np.percentile(off, 99.5) < 4.0


def test_joints_show_no_paper_and_the_rim_of_a_disc_is_smooth() -> None:
    plain = np.full((WHOLE.bottom, WHOLE.right, 3), 90, np.uint8)
    layout = lay_out(run(12), Match.SUNBURST, wish=FaceWish(width_mm=300.0, pieces=12))

    result = painted(layout, 1.0, {label.label: plain for label in run(12)})

    ys, xs = np.mgrid[0:300, 0:300] + 0.5
    off = np.hypot(xs - 150, ys - 150)
    assert np.all(np.abs(result[off < 148].astype(int) - 90) <= 1)
    assert np.all(result[off > 152] == PAPER)
    rim = result[(off > 149) & (off < 151), 0]
    assert len(np.unique(rim)) > 20


def test_leaves_photographed_the_other_way_up_give_the_same_face() -> None:
    layout = lay_out(run(4), Match.DIAMOND)
    leaf = smooth_wood(8)
    every = np.ones((WHOLE.bottom, WHOLE.right), bool)
    as_lies = [PlacedPicture(leaf, every, place.laid, PX_PER_MM) for place in layout.placements]
    # as it would be photographed end turned: half a turn in the picture, undone on the way
    spun = {
        Laid.AS_LIES: Laid.END_TURNED,
        Laid.END_TURNED: Laid.AS_LIES,
        Laid.FACE_OVER: Laid.END_OVER,
        Laid.END_OVER: Laid.FACE_OVER,
    }
    turned = [
        PlacedPicture(np.rot90(leaf, 2).copy(), every, spun[place.laid], PX_PER_MM)
        for place in layout.placements
    ]
    trims = [WHOLE] * 4

    one = render(layout, as_lies, trims=trims, px_per_mm=2.0)
    other = render(layout, turned, trims=trims, px_per_mm=2.0)

    assert np.abs(one.astype(int) - other.astype(int)).max() <= 2


@pytest.mark.parametrize("px_per_mm", [0.37, 0.8, 1.3])
def test_a_four_way_match_of_one_leaf_is_mirrored_to_the_pixel(px_per_mm: float) -> None:
    noise = np.random.default_rng(2).integers(60, 220, (WHOLE.bottom, WHOLE.right, 3))
    leaf = noise.astype(np.uint8)
    layout = lay_out(run(4), Match.FOUR_WAY)

    result = painted(layout, px_per_mm, {one.label: leaf for one in run(4)})

    assert np.array_equal(result, result[:, ::-1])
    assert np.array_equal(result, result[::-1])


def test_a_booked_face_trimmed_to_width_meets_mirrored_at_every_joint() -> None:
    noise = np.random.default_rng(4).integers(60, 220, (WHOLE.bottom, WHOLE.right, 3))
    leaf = noise.astype(np.uint8)
    layout = lay_out(run(6), Match.CENTRE_BALANCE, wish=FaceWish(width_mm=600.0))

    result = painted(layout, 1.0, {one.label: leaf for one in run(6)})

    assert result.shape[1] == 600
    assert np.array_equal(result, result[:, ::-1])
    for joint in (150, 300, 450):
        left, right = result[:, joint - 40 : joint], result[:, joint : joint + 40]
        assert np.array_equal(left, right[:, ::-1])


def test_a_face_is_kept_for_the_next_look_but_not_for_another_light():
    layout = lay_out(run(4), Match.DIAMOND)
    wood = smooth_wood(7)

    def seen(gain: float | None) -> NDArray[np.uint8]:
        pictures = [
            PlacedPicture(
                wood,
                np.ones(wood.shape[:2], bool),
                place.laid,
                PX_PER_MM,
                None if gain is None else np.full((20, 3), gain),
                name=f"kept for the next look {place.leaf}",
            )
            for place in layout.placements
        ]
        return render(layout, pictures, trims=[WHOLE] * 4, px_per_mm=1.0)

    first, again, darker = seen(None), seen(None), seen(0.5)

    assert again is first
    assert darker.mean() < first.mean() - 10
    assert np.array_equal(
        first, painted(layout, 1.0, {place.leaf: wood for place in layout.placements})
    )
