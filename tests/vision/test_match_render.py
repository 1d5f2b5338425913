"""Painting a match: symmetry to the pixel, no board in the joints, honest sizes."""

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from vision.colour_space import srgb_to_linear
from vision.match_layout import Layout, Match, lay_out
from vision.match_render import (
    PAPER,
    extent_of,
    px_per_mm_to_fit,
    render,
    straight_edges,
    whole_leaf,
)
from vision.picture_file import MM_PER_INCH
from vision.placed_picture import PlacedPicture, Trim
from vision.shot import Laid

BOARD = (20, 20, 20)


def wood(rows: int, columns: int, seed: int = 1) -> NDArray[np.uint8]:
    return np.random.default_rng(seed).integers(90, 200, (rows, columns, 3), dtype=np.uint8)


def picture(
    pixels: NDArray[np.uint8],
    on_leaf: NDArray[np.bool_] | None = None,
    *,
    moved: Laid = Laid.AS_LIES,
    px_per_mm: float = 1.0,
) -> PlacedPicture:
    mask = np.ones(pixels.shape[:2], bool) if on_leaf is None else on_leaf
    pixels = np.where(mask[..., np.newaxis], pixels, np.array(BOARD, np.uint8))
    return PlacedPicture(pixels, mask, moved, px_per_mm)


def match_of(pictures: list[PlacedPicture], match: Match = Match.BOOK) -> tuple[Layout, list[Trim]]:
    trims = [straight_edges(one.on_leaf, px_per_mm=one.px_per_mm) for one in pictures]
    run = [
        extent_of(f"{i:02}", one, trim)
        for i, (one, trim) in enumerate(zip(pictures, trims, strict=True))
    ]
    return lay_out(run, match), trims


@pytest.mark.parametrize("px_per_mm", [0.13, 0.37, 1.0, 1.7])
def test_a_leaf_booked_with_itself_is_symmetric_to_the_pixel(px_per_mm: float) -> None:
    pixels = wood(301, 87)
    four = [
        picture(pixels, moved=laid)
        for laid in (Laid.AS_LIES, Laid.FACE_OVER, Laid.AS_LIES, Laid.FACE_OVER)
    ]
    layout, trims = match_of(four)

    painted = render(layout, four, trims=trims, px_per_mm=px_per_mm)

    assert np.array_equal(painted, painted[:, ::-1])


@pytest.mark.parametrize("moved", [Laid.AS_LIES, Laid.FACE_OVER, Laid.END_OVER, Laid.END_TURNED])
def test_at_its_own_size_a_leaf_is_painted_pixel_for_pixel(moved: Laid) -> None:
    pixels = wood(60, 40)
    layout, _ = match_of([picture(pixels)])
    whole = Trim(0, 40, 0, 60)
    layout = lay_out([extent_of("01", picture(pixels), whole)], Match.SLIP)

    painted = render(layout, [picture(pixels, moved=moved)], trims=[whole], px_per_mm=1.0)

    turned = {
        Laid.AS_LIES: pixels,
        Laid.FACE_OVER: np.fliplr(pixels),
        Laid.END_OVER: np.flipud(pixels),
        Laid.END_TURNED: np.rot90(pixels, 2),
    }
    assert np.array_equal(painted, turned[moved])


def test_no_board_shows_in_the_joint_of_two_wavy_leaves() -> None:
    rows = np.arange(400)
    mask = np.zeros((400, 100), bool)
    for row, wave in zip(rows, 4 * np.sin(rows / 30), strict=True):
        mask[row, round(8 + wave) : round(92 + wave)] = True
    bright = np.full((400, 100, 3), 180, np.uint8)
    pair = [picture(bright, mask), picture(bright, mask, moved=Laid.FACE_OVER)]
    layout, trims = match_of(pair)

    painted = render(layout, pair, trims=trims, px_per_mm=0.5)

    assert painted[5:-5].min() >= 179


def test_edges_are_cut_at_the_innermost_hollow_of_a_tapered_leaf() -> None:
    mask = np.zeros((1000, 240), bool)
    for row in range(1000):  # 210 wide at the top, 190 at the bottom
        mask[row, 15 + row // 100 : 225 - row // 100] = True

    trim = straight_edges(mask, px_per_mm=1.0)

    assert (trim.left, trim.right) == (25, 215)


def test_one_deep_notch_does_not_halve_the_leaf() -> None:
    mask = np.ones((1000, 200), bool)
    mask[480:500, :90] = False

    trim = straight_edges(mask, px_per_mm=1.0)

    assert trim.left <= 0.1 * 200


def test_rounded_corners_do_not_bind_the_cut() -> None:
    mask = np.ones((1000, 200), bool)
    mask[:10, :30] = False

    assert straight_edges(mask, px_per_mm=1.0).left == 1


def test_a_picture_without_a_leaf_is_kept_whole() -> None:
    assert straight_edges(np.zeros((30, 20), bool), px_per_mm=None) == Trim(0, 20, 0, 30)


def test_fine_lines_average_out_instead_of_beating() -> None:
    # Lines of one pixel, dark and light by turns, scaled to about a seventh: any ripple left
    # would be a pattern the wood does not have.
    lines = np.zeros((700, 700, 3), np.uint8)
    lines[:, ::2] = 200
    leaf = picture(lines)
    whole = Trim(0, 700, 0, 700)
    layout = lay_out([extent_of("01", leaf, whole)], Match.SLIP)

    painted = render(layout, [leaf], trims=[whole], px_per_mm=96 / 700)

    assert np.ptp(painted.astype(int)) <= 30
    half_the_light_of_200 = 147
    assert painted.mean() == pytest.approx(half_the_light_of_200, abs=1.5)


def test_a_slanted_end_is_blended_with_the_paper() -> None:
    mask = np.ones((400, 80), bool)
    for column in range(80):
        mask[: column // 2, column] = False
    bright = picture(np.full((400, 80, 3), 100, np.uint8), mask)
    layout, trims = match_of([bright])

    painted = render(layout, [bright], trims=trims, px_per_mm=0.25)

    levels = {int(level) for level in np.unique(painted[..., 0])}
    assert len(levels) > 4
    assert max(levels) <= PAPER[0]
    assert tuple(painted[0, -1]) == PAPER


def test_beside_a_shorter_leaf_is_paper() -> None:
    pair = [picture(wood(200, 50)), picture(wood(100, 50), moved=Laid.FACE_OVER)]
    layout, trims = match_of(pair)

    painted = render(layout, pair, trims=trims, px_per_mm=1.0)

    assert np.all(painted[100:, 48:] == PAPER)
    assert not np.any(np.all(painted[:100] == PAPER, axis=2))


def test_leaves_photographed_at_different_scales_come_out_at_one() -> None:
    near = picture(wood(400, 100), px_per_mm=2.0)
    far = picture(wood(200, 50), px_per_mm=1.0, moved=Laid.FACE_OVER)
    layout, _ = match_of([near, far])

    assert layout.placements[0].width_mm == pytest.approx(layout.placements[1].width_mm, abs=0.5)
    assert layout.placements[0].length_mm == layout.placements[1].length_mm == 200.0


def test_the_size_asked_for_is_not_exceeded_and_prints_at_whole_dots_per_inch() -> None:
    layout, trims = match_of([picture(wood(2003, 240)), picture(wood(1998, 236))])

    for long_px in (200, 300, 777, 1600):
        scale = px_per_mm_to_fit(layout, long_px)
        painted = render(layout, [picture(wood(2003, 240))] * 2, trims=trims, px_per_mm=scale)
        assert 0.9 * long_px <= max(painted.shape) <= long_px
        if scale * MM_PER_INCH >= 10:
            assert scale * MM_PER_INCH == pytest.approx(round(scale * MM_PER_INCH))


def test_without_a_scale_the_picture_keeps_the_pictures_own_proportions() -> None:
    leaf = PlacedPicture(wood(300, 60), np.ones((300, 60), bool), Laid.AS_LIES, 1.0)
    extent = extent_of("01", leaf, Trim(0, 60, 0, 300))
    layout = lay_out([extent], Match.SLIP, unit="px")

    assert (extent.width_mm, extent.length_mm) == (60, 300)
    assert px_per_mm_to_fit(layout, 150) == 0.5


def test_a_whole_leaf_is_framed_with_nothing_cut_off() -> None:
    mask = np.zeros((50, 30), bool)
    mask[4:46, 7:20] = True
    mask[30, 3] = True

    assert whole_leaf(mask) == Trim(3, 20, 4, 46)
    assert whole_leaf(np.zeros((5, 6), bool)) == Trim(0, 6, 0, 5)


def test_a_picture_too_few_is_refused() -> None:
    leaf = picture(wood(100, 50))
    layout, trims = match_of([leaf, leaf])

    with pytest.raises(ValueError, match="shorter"):
        render(layout, [leaf], trims=trims, px_per_mm=1.0)


def test_every_leaf_keeps_its_mean_colour() -> None:
    colours = [(200, 170, 130), (190, 160, 120), (150, 110, 80)]
    leaves = [
        picture(np.full((500, 90, 3), colour, np.uint8), moved=laid)
        for colour, laid in zip(
            colours, itertools.cycle((Laid.AS_LIES, Laid.FACE_OVER)), strict=False
        )
    ]
    layout, trims = match_of(leaves)

    painted = render(layout, leaves, trims=trims, px_per_mm=0.4)

    for middle, colour in zip((0.17, 0.5, 0.83), colours, strict=True):
        seen = painted[:, int(middle * painted.shape[1])].mean(axis=0)
        assert seen == pytest.approx(colour, abs=0.5)


def test_light_is_changed_along_the_leaf_as_told_and_nowhere_else() -> None:
    even = np.full((200, 40, 3), 150, np.uint8)
    gain = np.repeat(np.linspace(0.7, 1.3, 20)[:, np.newaxis], 3, axis=1)
    whole = Trim(0, 40, 0, 200)
    pair = [
        PlacedPicture(even, np.ones((200, 40), bool), Laid.AS_LIES, 1.0),
        PlacedPicture(even, np.ones((200, 40), bool), Laid.END_OVER, 1.0, gain),
    ]
    layout = lay_out([extent_of(label, pair[0], whole) for label in ("01", "02")], Match.SLIP)

    painted = render(layout, pair, trims=[whole, whole], px_per_mm=1.0)

    light = srgb_to_linear(painted)
    assert np.all(painted[:, :40] == 150)
    ratio = light[:, 40:].mean(axis=(1, 2)) / light[:, :40].mean(axis=(1, 2))
    assert ratio[[5, 100, 194]] == pytest.approx([0.7, 1.0, 1.3], abs=0.02)
