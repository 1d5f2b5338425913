"""Previews from stored photographs: the light must be true or the preview must say it is not."""

import io
import secrets
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from catalog.errors import NotInCatalog
from catalog.match_preview import MatchPreview, preview_match
from tests.catalog.painted_stock import (
    COLUMNS,
    PX_PER_MM,
    ROWS,
    light_share,
    painted_catalog,
    painted_leaf,
)
from vision.colour_space import linear_to_lab, srgb_to_linear
from vision.cuts import CutUse
from vision.errors import MatchNotPossible
from vision.joint_cut import JointLimits
from vision.match_layout import Match
from vision.picture_file import PictureKind
from vision.shot import Laid, Lamp, Shot

LABELS = ("01", "02", "03")
BOTH_LAMPS = [Shot(f"{leaf}{lamp}.jpg", leaf, lamp=Lamp(lamp)) for leaf in LABELS for lamp in "AB"]
ONE_LAMP = [shot for shot in BOTH_LAMPS if shot.lamp is Lamp.A]


def lightness_of_leaves(preview: MatchPreview) -> list[float]:
    """Return the mean L* of each leaf of a preview, seams left out."""
    found = []
    for place in preview.layout.placements:
        left = round((place.x_mm + 0.1 * place.width_mm) * preview.px_per_mm)
        right = round((place.x_mm + 0.9 * place.width_mm) * preview.px_per_mm)
        light = srgb_to_linear(preview.rgb[:, left:right]).mean(axis=(0, 1))
        found.append(float(linear_to_lab(light)[0]))
    return found


def true_step(lamp: Lamp, laid: tuple[Laid, Laid]) -> float:
    """Return the L* step that the painted fibres make between two leaves of mean light .37."""
    lightness = [116 * (0.37 * light_share(one, lamp)) ** (1 / 3) - 16 for one in laid]
    return lightness[1] - lightness[0]


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
def test_a_book_match_shows_light_and_dark_as_the_fibres_make_it(
    tmp_path: Path, lamp: Lamp
) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)

    preview = preview_match(catalog, bundle, LABELS, match=Match.BOOK, lamp=lamp, long_px=600)

    first, second, third = lightness_of_leaves(preview)
    assert preview.shows_light_and_dark
    step = true_step(lamp, (Laid.AS_LIES, Laid.FACE_OVER))
    assert second - first == pytest.approx(step, abs=0.6)
    assert third - second == pytest.approx(-step, abs=0.6)


def test_the_steps_listed_for_the_joints_are_those_of_the_picture(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)

    preview = preview_match(catalog, bundle, LABELS, match=Match.BOOK, lamp=Lamp.B)

    seen = np.diff(lightness_of_leaves(preview))
    listed = [pair.lightness_step for pair in preview.joints if pair is not None]
    assert listed == pytest.approx(list(seen), abs=0.5)


def test_a_slip_match_shows_no_light_and_dark_from_fibres(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)

    preview = preview_match(catalog, bundle, LABELS, match=Match.SLIP, lamp=Lamp.A)

    assert np.ptp(lightness_of_leaves(preview)) < 0.6
    assert preview.shows_light_and_dark


def test_one_photograph_a_leaf_is_never_mirrored_into_light_and_dark(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, ONE_LAMP)

    preview = preview_match(catalog, bundle, LABELS, match=Match.BOOK, lamp=Lamp.A)

    assert not preview.shows_light_and_dark
    assert preview.notes[0].startswith("Light and dark cannot be shown: there is only one")
    assert np.ptp(lightness_of_leaves(preview)) < 0.6
    assert preview.title == "Book match, light and dark not shown"


def test_one_leaf_without_the_right_photograph_takes_all_leaves_back_to_plain(
    tmp_path: Path,
) -> None:
    shots = [shot for shot in BOTH_LAMPS if shot.file != "02B.jpg"]
    catalog, bundle = painted_catalog(tmp_path, shots)

    preview = preview_match(catalog, bundle, LABELS, match=Match.BOOK, lamp=Lamp.A)

    assert not preview.shows_light_and_dark
    assert "leaf 02" in preview.notes[0]
    assert np.ptp(lightness_of_leaves(preview)) < 0.6


def test_a_photographed_other_face_is_used_as_it_is(tmp_path: Path) -> None:
    shots = [
        Shot("01.jpg", "01", lamp=Lamp.A),
        Shot("02.jpg", "02", Laid.FACE_OVER, lamp=Lamp.A),
    ]
    catalog, bundle = painted_catalog(tmp_path, shots)

    preview = preview_match(catalog, bundle, ("01", "02"), match=Match.BOOK, lamp=Lamp.A)

    assert preview.shows_light_and_dark
    assert preview.notes == ()


def test_an_opened_pair_gives_both_its_leaves(tmp_path: Path) -> None:
    pair = Shot("p.jpg", "01+02", Laid.OPENED_PAIR, Lamp.A)
    catalog, bundle = painted_catalog(tmp_path, [pair])

    preview = preview_match(catalog, bundle, ("01", "02"), match=Match.BOOK, lamp=Lamp.A)

    first, second = lightness_of_leaves(preview)
    assert preview.shows_light_and_dark
    step = true_step(Lamp.A, (Laid.AS_LIES, Laid.FACE_OVER))
    assert second - first == pytest.approx(step, abs=0.6)


def test_the_drawing_of_a_turned_leaf_is_mirrored_at_the_joint(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)

    preview = preview_match(catalog, bundle, LABELS, match=Match.BOOK, lamp=Lamp.A)

    width = preview.rgb.shape[1] // 3
    row = preview.rgb[preview.rgb.shape[0] // 6, :, 0].astype(int)
    knots = [int(row[i * width : (i + 1) * width].argmin()) / width for i in range(3)]
    assert knots == pytest.approx([0.25, 0.75, 0.25], abs=0.1)


def test_the_layout_is_in_millimetres_and_the_file_prints_at_real_size(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)

    preview = preview_match(catalog, bundle, LABELS, match=Match.SLIP, lamp=Lamp.A)

    assert preview.layout.length_mm == pytest.approx(2000, abs=3)
    assert preview.layout.width_mm == pytest.approx(3 * (110 / PX_PER_MM - 2), rel=0.03)
    dpi = Image.open(io.BytesIO(preview.file(PictureKind.JPEG))).info["dpi"][0]
    assert preview.rgb.shape[0] / dpi * 25.4 == pytest.approx(2000, rel=0.005)


def test_without_a_scale_the_preview_says_so(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS, px_per_mm=None)

    preview = preview_match(catalog, bundle, LABELS, match=Match.BOOK, lamp=Lamp.A)

    assert preview.layout.unit == "px"
    assert any("scale" in note for note in preview.notes)


@pytest.mark.parametrize("long_px", [150, 600, 1600])
def test_the_picture_is_no_larger_than_asked_for(tmp_path: Path, long_px: int) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)

    preview = preview_match(catalog, bundle, LABELS, match=Match.BOOK, lamp=Lamp.A, long_px=long_px)

    assert 0.85 * long_px <= max(preview.rgb.shape) <= long_px


def test_leaves_that_are_no_neighbours_are_judged_by_their_own_light(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)

    preview = preview_match(catalog, bundle, ("01", "03"), match=Match.BOOK, lamp=Lamp.A)

    (pair,) = preview.joints
    (seen,) = np.diff(lightness_of_leaves(preview))
    assert pair is not None
    assert (pair.left, pair.right) == ("01", "03")
    assert pair.lightness_step == pytest.approx(seen, abs=0.5)


def test_a_leaf_that_is_not_in_the_bundle_is_named(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, ONE_LAMP)

    with pytest.raises(NotInCatalog, match="No leaf 99"):
        preview_match(catalog, bundle, ("01", "99"), match=Match.BOOK, lamp=Lamp.A)


def test_no_leaf_at_all_is_refused_in_words(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, ONE_LAMP)

    with pytest.raises(MatchNotPossible, match="Choose a leaf"):
        preview_match(catalog, bundle, (), match=Match.BOOK, lamp=Lamp.A)


def test_the_captioned_picture_adds_names_and_a_scale_bar_below(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, ONE_LAMP)
    preview = preview_match(catalog, bundle, LABELS, match=Match.SLIP, lamp=Lamp.A, long_px=900)

    captioned = preview.captioned()

    assert captioned.shape[0] > preview.rgb.shape[0] + 40
    dark = captioned[-60:].max(axis=2) < 90
    rows = ("".join("#" if ink else " " for ink in row) for row in dark)
    bar_px = max(len(run) for row in rows for run in row.split())
    assert bar_px / preview.px_per_mm == pytest.approx(200, rel=0.03)


def test_a_run_trimmed_where_its_figure_meets_shows_each_place_of_each_leaf_where_it_is_laid(
    tmp_path: Path,
) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS, times=3)

    preview = preview_match(
        catalog,
        bundle,
        LABELS,
        match=Match.SLIP,
        lamp=Lamp.A,
        long_px=2000,
        joints=JointLimits(most_loss_mm=60.0),
    )

    light = {label: srgb_to_linear(painted_leaf(label)) for label in LABELS}
    chance = np.random.default_rng(secrets.randbelow(2**32))
    for place, extent in zip(preview.layout.placements, preview.leaves, strict=True):
        # the extent is cut in by a millimetre or two on either side of the painted leaf
        off = (
            (COLUMNS / PX_PER_MM - extent.width_mm) / 2,
            (ROWS / PX_PER_MM - extent.length_mm) / 2,
        )
        seen, painted = [], []
        for x, y in chance.uniform((0.3, 0.1), (0.7, 0.9), (400, 2)):
            wood = (x * extent.width_mm, y * extent.length_mm)
            column, row = ((one + by) * PX_PER_MM - 0.5 for one, by in zip(wood, off, strict=True))
            painted.append(
                cv2.getRectSubPix(light[place.leaf][..., 1].copy(), (1, 1), (column, row))[0, 0]
            )
            at = [round(one * preview.px_per_mm - 0.5) for one in place.to_panel(wood)]
            seen.append(srgb_to_linear(preview.rgb[at[1], at[0]])[1])
        assert np.corrcoef(seen, painted)[0, 1] > 0.9
    assert preview.layout.trims
    assert "joints trimmed" in preview.title


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
def test_a_trimmed_run_shows_the_same_light_and_dark(tmp_path: Path, lamp: Lamp) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)
    limits = JointLimits(most_loss_mm=60.0)

    preview = preview_match(
        catalog, bundle, LABELS, match=Match.BOOK, lamp=lamp, long_px=600, joints=limits
    )

    assert preview.shows_light_and_dark
    first, second, third = lightness_of_leaves(preview)
    step = true_step(lamp, (Laid.AS_LIES, Laid.FACE_OVER))
    assert second - first == pytest.approx(step, abs=0.8)
    assert third - second == pytest.approx(-step, abs=0.8)


def test_the_cut_list_of_a_trimmed_run_gives_its_trims(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, BOTH_LAMPS)

    preview = preview_match(
        catalog, bundle, LABELS[:2], match=Match.BOOK, lamp=Lamp.A, joints=JointLimits()
    )

    (trim,) = preview.layout.trims
    left, right = preview.cut_pieces()
    middle = min(leaf.length_mm for leaf in preview.leaves) / 2
    for piece, extent, depth in (
        (left, preview.leaves[0], trim.left_mm),
        (right, preview.leaves[1], trim.right_mm),
    ):
        (cut,) = [cut for cut in piece.cuts if cut.use is CutUse.JOINT]
        (x0, y0), (x1, y1) = cut.start_mm, cut.end_mm
        at_middle = x0 + (x1 - x0) * (middle - y0) / (y1 - y0)
        # both joint edges are the leaf's right edge as it lies in the stack
        assert extent.width_mm - at_middle == pytest.approx(depth, abs=0.02)
