"""A quality sheet shows what a photograph says of itself, where and in the colours it says it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from catalog.light_map import band_limits
from catalog.patch_table import shown_colour
from catalog.quality_sheet import LEFT, MARGIN, MISS, WIDTH, draw_quality_sheet
from catalog.sheet_pen import short, wrapped
from tests.catalog.made_photos import a_photo, a_shot
from vision.flags import PhotoFlag
from vision.readings import MarkerMiss, PatchMiss, PhotoQuality, PhotoReading

GREY_PHOTO = np.full((900, 600, 3), 128, np.uint8)
PLAIN = replace(a_photo(a_shot("01")).reading, flags=(), leaves=())
TOP = 162
"""Where the photograph begins on the sheet."""


def sheet(quality: PhotoQuality | None, **more: object) -> NDArray[np.uint8]:
    reading: PhotoReading = replace(PLAIN, quality=quality, **more)  # type: ignore[arg-type]
    return np.asarray(draw_quality_sheet(GREY_PHOTO, reading))


def near(
    rgb: NDArray[np.uint8], colour: tuple[int, int, int], within: int = 12
) -> NDArray[np.bool_]:
    return np.abs(rgb.astype(int) - colour).max(axis=2) <= within


def test_an_arrow_stands_at_its_marker_and_points_where_the_marker_lies() -> None:
    miss = MarkerMiss(7, x_px=1000.0, y_px=3000.0, dx_mm=0.4, dy_mm=0.0)

    red = near(sheet(PhotoQuality(markers=(miss,))), MISS)

    scale = LEFT / PLAIN.width_px
    rows, columns = np.nonzero(red[TOP : TOP + 1050, MARGIN : MARGIN + LEFT])
    assert columns.min() == pytest.approx(1000 * scale, abs=2)
    assert columns.max() == pytest.approx(1000 * scale + 0.4 * 100, abs=3)
    assert rows.mean() == pytest.approx(3000 * scale, abs=2)


def test_a_larger_miss_is_drawn_in_proportion() -> None:
    small = MarkerMiss(1, 800.0, 1500.0, 0.2, 0.0)
    large = MarkerMiss(2, 800.0, 4500.0, 0.6, 0.0)

    red = near(sheet(PhotoQuality(markers=(small, large))), MISS)

    part = red[TOP : TOP + 1050, MARGIN : MARGIN + LEFT]
    widths = [np.ptp(np.nonzero(half)[1]) for half in (part[:525], part[525:])]
    assert widths[1] == pytest.approx(3 * widths[0], abs=6)


@pytest.mark.parametrize(
    ("lab", "rgb"),
    [
        ((54.29, 80.83, 69.91), (255, 0, 0)),  # sRGB red in Lab of D50, two libraries
        ((68.45, 9.54, 27.20), (196, 160, 118)),
        ((100.0, 0.0, 0.0), (255, 255, 255)),
        ((0.0, 0.0, 0.0), (0, 0, 0)),
    ],
)
def test_a_swatch_has_the_srgb_of_its_lab(
    lab: tuple[float, float, float], rgb: tuple[int, int, int]
) -> None:
    assert shown_colour(lab) == pytest.approx(rgb, abs=1)


def test_a_patch_shows_known_colour_left_and_read_colour_right() -> None:
    known, read = (42.43, 51.05, 28.62), (28.37, 15.42, -49.8)
    patch = PatchMiss("red", known, read, 20.0, 25.0)

    drawn = sheet(PhotoQuality(patches=(patch,)))

    red, blue = near(drawn, shown_colour(known), 3), near(drawn, shown_colour(read), 3)
    assert min(red.sum(), blue.sum()) > 5000
    assert np.nonzero(red)[1].max() < np.nonzero(blue)[1].min() + 2


def test_the_light_map_darkens_where_the_light_falls_off() -> None:
    grid = tuple(tuple([1 - 0.08 * row] * 6) for row in range(9))

    with_map = sheet(PhotoQuality(light_map=grid))

    x = WIDTH - MARGIN - 600
    column = with_map[TOP:, x : x + 3].mean(axis=(1, 2))
    shades = column[(column > 80) & (column < 246)]
    assert shades[:20].mean() > shades[-20:].mean() + 60


@pytest.mark.parametrize("low", [0.999, 0.97, 0.9, 0.62, 0.3, 0.05, 0.0])
def test_bands_of_light_are_few_and_reach_down_to_the_darkest_place(low: float) -> None:
    limits = band_limits(low)

    assert len(limits) <= 6
    assert all(low < limit < 1 for limit in limits)
    assert list(limits) == sorted(limits, reverse=True)


@pytest.mark.parametrize("size", [(4000, 6000), (6000, 4000), (900, 9000), (9000, 900)])
def test_a_sheet_holds_all_its_panels_whatever_the_photograph_is_like(
    size: tuple[int, int],
) -> None:
    patches = tuple(
        PatchMiss(f"patch with a long name {n}", (50, 0, 0), (52, 0, 0), 2.0, 2.5)
        for n in range(24)
    )
    quality = PhotoQuality(
        markers=tuple(MarkerMiss(n, 100.0, 40.0 * n, 0.0, 0.0) for n in range(20)),
        patches=patches,
        light_map=((1.0, 0.2), (0.4, 0.1)),
        size_words="word " * 80,
        colour_words="x" * 400,
    )
    reading = replace(
        a_photo(a_shot("01")).reading,
        file="a-very-long-name-of-a-photograph" * 5 + ".jpg",
        width_px=size[0],
        height_px=size[1],
        flags=tuple(PhotoFlag),
        quality=quality,
    )

    drawn = draw_quality_sheet(GREY_PHOTO, reading)

    right_rim = np.asarray(drawn)[:, -MARGIN // 2 :]
    assert drawn.width == WIDTH
    assert drawn.height < 4000
    assert (right_rim == right_rim[0, 0]).all()


def test_what_was_not_read_has_no_panel_and_the_sheet_is_shorter_for_it() -> None:
    patch = PatchMiss("red", (42.0, 51.0, 29.0), (42.0, 50.0, 29.0), 1.0, 1.2)

    bare, full = sheet(None), sheet(PhotoQuality(patches=(patch,) * 24))

    assert len(full) - len(bare) > 500
    assert not near(bare, MISS).any()


def test_words_are_broken_to_the_width_and_none_is_lost() -> None:
    words = "Move the lamp farther off, or photograph the bare board under it."

    lines = wrapped(words, 200, size=17)

    assert " ".join(lines) == words
    assert len(lines) > 2
    assert short(words, 120, size=17).endswith("…")


def test_the_same_reading_gives_the_same_sheet() -> None:
    one, other = sheet(None), sheet(None)

    assert isinstance(draw_quality_sheet(GREY_PHOTO, PLAIN), Image.Image)
    assert (one == other).all()
