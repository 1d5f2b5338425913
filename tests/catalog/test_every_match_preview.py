"""Every match from stored photographs: light and dark flagged, true sizes in the files."""

import io
import secrets
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from catalog.catalog import Catalog
from catalog.match_preview import MatchPreview, preview_match
from catalog.records import BundleId
from tests.catalog.painted_stock import light_share, painted_catalog
from vision.colour_space import linear_to_lab, srgb_to_linear
from vision.errors import MatchNotPossible
from vision.laying import slope_sign
from vision.match_layout import Allowances, FaceWish, JointKind, Match
from vision.match_names import MATCH_NAMES
from vision.picture_file import PictureKind
from vision.shot import Lamp, Shot

LABELS = tuple(f"{number:02}" for number in range(1, 9))
SHOTS = [Shot(f"{leaf}{lamp}.jpg", leaf, lamp=Lamp(lamp)) for leaf in LABELS for lamp in "AB"]
SPARE = Allowances(1.0, 2.0, 2.0)
PANELS = ((400.0, 1500.0), (400.0, 1500.0))


@pytest.fixture(scope="module")
def stock(tmp_path_factory) -> tuple[Catalog, BundleId]:
    return painted_catalog(tmp_path_factory.mktemp("stock"), SHOTS)


def shown(
    stock: tuple[Catalog, BundleId], match: Match, lamp: Lamp = Lamp.A, long_px: int = 500
) -> MatchPreview:
    panels = PANELS if match in (Match.SEQUENCE, Match.BLUEPRINT) else ()
    wish = FaceWish(panels=panels, allowances=SPARE)
    return preview_match(*stock, LABELS, match=match, lamp=lamp, wish=wish, long_px=long_px)


@pytest.mark.parametrize("match", list(Match))
def test_every_match_names_itself_and_flags_what_is_turned(stock, match: Match) -> None:
    preview = shown(stock, match)

    assert preview.title.startswith(MATCH_NAMES[match].name)
    slopes = {slope_sign(place.laid) for place in preview.layout.placements}
    said = " ".join(preview.notes)
    judged = [pair for pair in preview.joints if pair is not None]
    if preview.layout.is_upright:
        assert preview.shows_light_and_dark
        assert len(judged) == len(preview.layout.joints)
    else:
        assert not preview.shows_light_and_dark
        assert "at a slant cannot be shown" in said
    if len(slopes) > 1:
        told = any("strong" in pair.flag for pair in judged) or "slope the other way" in said
        assert told


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
@pytest.mark.parametrize(
    "match",
    [Match.REVERSE_SLIP, Match.FOUR_WAY, Match.BOOK_AND_BUTT, Match.SLIP_CENTRE_BOOK],
)
def test_light_and_dark_of_each_piece_is_as_its_fibres_make_it(stock, match, lamp) -> None:
    preview = shown(stock, match, lamp)

    for place in preview.layout.placements:
        scale = preview.px_per_mm
        x, y = place.x_mm + 0.2 * place.width_mm, place.y_mm + 0.45 * place.length_mm
        part = preview.rgb[
            round(y * scale) : round((y + 0.1 * place.length_mm) * scale),
            round(x * scale) : round((x + 0.6 * place.width_mm) * scale),
        ]
        seen = linear_to_lab(srgb_to_linear(part).mean(axis=(0, 1)))[0]
        true = 116 * (0.37 * light_share(place.laid, lamp)) ** (1 / 3) - 16
        assert seen == pytest.approx(true, abs=1.6)


def test_an_end_joint_is_judged_by_slope_as_a_side_joint_is(stock) -> None:
    preview = shown(stock, Match.FOUR_WAY)

    steps = {
        joint.kind: abs(pair.lightness_step)
        for joint, pair in zip(preview.layout.joints, preview.joints, strict=True)
    }
    # turned over on its end a leaf keeps its slope; turned over on its edge it does not
    assert steps[JointKind.END] < 1.0
    assert steps[JointKind.SIDE] > 4.0


@pytest.mark.parametrize("kind", [PictureKind.PNG, PictureKind.TIFF])
@pytest.mark.parametrize("match", [Match.SUNBURST, Match.CENTRE_BALANCE])
def test_a_picture_file_holds_its_real_size_and_an_srgb_profile(stock, match, kind) -> None:
    preview = shown(stock, match, long_px=700 + secrets.randbelow(500))

    with Image.open(io.BytesIO(preview.file(kind))) as picture:
        dpi = picture.info["dpi"]
        size_mm = [
            px / float(per_inch) * 25.4 for px, per_inch in zip(picture.size, dpi, strict=True)
        ]
        profile = picture.info["icc_profile"]

    # pixels are whole: one more or less is the picture's own grain
    wanted = (preview.layout.width_mm, preview.layout.length_mm)
    pixel = 1 / preview.px_per_mm
    for found, true in zip(size_mm, wanted, strict=True):
        assert found == pytest.approx(true, rel=0.002, abs=pixel)
    assert "sRGB" in ImageCms.getProfileDescription(io.BytesIO(profile))


def test_two_looks_at_one_match_give_the_same_pixels(stock) -> None:
    first, again = (shown(stock, Match.SUNBURST).rgb for _ in range(2))

    assert np.array_equal(first, again)


def test_a_wish_in_millimetres_is_refused_where_there_is_no_scale(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, SHOTS[:4], px_per_mm=None)

    with pytest.raises(MatchNotPossible, match="scale"):
        preview_match(
            catalog,
            bundle,
            ("01", "02"),
            match=Match.BALANCE,
            lamp=Lamp.A,
            wish=FaceWish(width_mm=300.0),
        )
