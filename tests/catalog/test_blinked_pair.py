"""Two leaves of a catalogue in one frame, from their kept pictures."""

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from catalog.blink_file import MovingKind, blink_file
from catalog.blinked_pair import LONG_PX, BlinkPictures, blink_pair, paint_pair
from catalog.errors import NotInCatalog
from tests.catalog.painted_stock import COLUMNS, PX_PER_MM, ROWS, painted_catalog
from vision.laying import lay_pixels
from vision.shot import Laid, Lamp, Shot

SHOTS = [Shot(f"{label}.jpg", label, lamp=Lamp.A) for label in ("01", "02", "03")]
DOWN, RIGHT = 18, 4
"""Pixels by which the figure of leaf 02 lies off that of 01, in outlines that are alike."""
AS_LIE = (Laid.AS_LIES, Laid.AS_LIES)
TURNED = (Laid.AS_LIES, Laid.END_TURNED)


def figured(seed: int) -> np.ndarray:
    """A leaf of lively figure and nothing else."""
    noise = np.random.default_rng(seed).normal(0, 1, (ROWS, COLUMNS)).astype(np.float32)
    grain = cv2.GaussianBlur(noise, (0, 0), sigmaX=2, sigmaY=9)
    rgb = np.array([186, 148, 108]) + 22 * (grain / grain.std())[..., np.newaxis]
    return np.clip(rgb, 0, 255).astype(np.uint8)


def planted(place, laid: Laid, **how):
    """A catalogue whose leaf 02 shows the figure of 01, moved, a little darker, and so turned."""
    figure = np.roll(figured(1), (DOWN, RIGHT), (0, 1)) * 0.85
    figure = np.ascontiguousarray(lay_pixels(figure.astype(np.uint8), laid))
    return painted_catalog(place, SHOTS, figures={"01": figured(1), "02": figure}, **how)


def apart(pictures: BlinkPictures) -> float:
    inside = [one[60:-60, 12:-12].astype(float) for one in pictures.rgb]
    return float(np.abs(inside[0] - inside[1]).mean())


@pytest.mark.parametrize("laid", [Laid.AS_LIES, Laid.END_TURNED, Laid.FACE_OVER])
def test_what_is_one_figure_stands_still_and_the_planted_move_is_told(tmp_path, laid):
    catalog, bundle = planted(tmp_path, laid)
    with catalog:
        pair = blink_pair(catalog, bundle, ("01", "02"), laid=(Laid.AS_LIES, laid))
        pictures = paint_pair(pair)

    assert pair.register.along_mm == pytest.approx(-DOWN / PX_PER_MM, abs=0.6)
    assert pair.register.across_mm == pytest.approx(-RIGHT / PX_PER_MM, abs=0.6)
    assert pair.unit == "mm"
    assert pictures.rgb[0].shape == pictures.rgb[1].shape
    assert apart(pictures) < 4  # of a figure whose grain spreads by some 20 levels
    still = pictures.rgb[1][..., 1].astype(float).std()
    assert apart(pictures) < still / 3


def test_a_leaf_laid_the_wrong_way_does_not_stand_still(tmp_path):
    catalog, bundle = planted(tmp_path, Laid.END_TURNED)
    with catalog:
        right = blink_pair(catalog, bundle, ("01", "02"), laid=TURNED)
        wrong = blink_pair(catalog, bundle, ("01", "02"), laid=AS_LIE)

        assert apart(paint_pair(wrong)) > 3 * apart(paint_pair(right))


def test_leaves_whose_figure_does_not_tell_are_laid_middle_to_middle(tmp_path):
    catalog, bundle = painted_catalog(tmp_path, SHOTS, figures={"02": figured(2), "03": figured(3)})
    with catalog:
        pair = blink_pair(catalog, bundle, ("02", "03"))
        pictures = paint_pair(pair)

    assert pair.register is None
    low = [np.flatnonzero((one.min(axis=2) < 225).any(axis=1)) for one in pictures.rgb]
    assert abs(low[0][0] - low[1][0]) <= 1
    assert abs(low[0][-1] - low[1][-1]) <= 1


def test_a_stretch_shows_the_same_place_larger_and_never_too_large(tmp_path):
    catalog, bundle = planted(tmp_path, Laid.AS_LIES, times=3)
    with catalog:
        pair = blink_pair(catalog, bundle, ("01", "02"))
        whole, part = paint_pair(pair), paint_pair(pair, start=0.25, end=0.5)

    assert max(whole.rgb[0].shape) <= LONG_PX
    assert max(part.rgb[0].shape) <= LONG_PX
    assert part.px_per_mm > 1.5 * whole.px_per_mm
    rows = len(whole.rgb[1])
    for which in (0, 1):
        seen = Image.fromarray(whole.rgb[which][round(rows / 4) : round(rows / 2)])
        small = Image.fromarray(part.rgb[which]).resize(seen.size, Image.Resampling.BOX)
        off = np.abs(np.asarray(seen, float) - np.asarray(small, float))
        assert off[5:-5, 12:-12].mean() < 2
    assert all(len(jpeg) < 400_000 for jpeg in part.jpegs())
    with pytest.raises(ValueError, match="stretch"):
        paint_pair(pair, start=0.5, end=0.5)


def test_leaves_without_millimetres_are_laid_in_pixels(tmp_path):
    catalog, bundle = planted(tmp_path, Laid.AS_LIES, px_per_mm=None)
    with catalog:
        pair = blink_pair(catalog, bundle, ("01", "02"))

    assert pair.unit == "px"
    assert pair.register.along_mm == pytest.approx(-DOWN, abs=0.4)


def test_a_leaf_that_is_not_there_is_named(tmp_path):
    catalog, bundle = painted_catalog(tmp_path, SHOTS)
    with catalog, pytest.raises(NotInCatalog, match="09"):
        blink_pair(catalog, bundle, ("01", "09"))


@pytest.mark.parametrize("kind", list(MovingKind))
def test_a_moving_picture_holds_both_leaves_at_one_place_with_a_word_for_each(tmp_path, kind):
    catalog, bundle = planted(tmp_path, Laid.AS_LIES)
    with catalog:
        pictures = paint_pair(blink_pair(catalog, bundle, ("01", "02")))
    file = blink_file(pictures, ("Leaf 01", "Leaf 02"), ["A sentence."], kind=kind, seconds=0.5)

    moving = Image.open(io.BytesIO(file))
    frames = []
    for frame in range(moving.n_frames):
        moving.seek(frame)
        frames.append(np.asarray(moving.convert("RGB"), float))
        assert moving.info["duration"] == 500

    assert moving.info["loop"] == 0
    assert len(frames) == 2
    columns, rows = pictures.rgb[0].shape[:2]
    left = (frames[0].shape[1] - columns) // 2
    for frame, rgb in zip(frames, pictures.rgb, strict=True):
        wood = frame[20 : 20 + rows, left : left + columns]
        assert np.abs(wood - np.rot90(rgb)).mean() < 4
    below = [frame[20 + rows + 5 :] for frame in frames]
    assert np.abs(below[0] - below[1]).max() > 100


def test_a_picture_that_flashes_too_fast_is_not_made(tmp_path):
    catalog, bundle = planted(tmp_path, Laid.AS_LIES)
    with catalog:
        pictures = paint_pair(blink_pair(catalog, bundle, ("01", "02")))

    with pytest.raises(ValueError, match="flashes"):
        blink_file(pictures, ("Leaf 01", "Leaf 02"), [], seconds=0.3)
