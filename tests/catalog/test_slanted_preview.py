"""Drawn faces from drawn photographs: light and dark held against the samples' own physics."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from catalog.catalog import Catalog, open_catalog
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.leaf_views import leaf_views
from catalog.light_asked import LightAsked
from catalog.match_preview import MatchPreview, preview_match
from catalog.records import BundleId
from catalog.slanted_light import fitted_leaves
from sample_images import FlitchPlan, draw_flitch
from sample_images.board_scene import level_camera
from sample_images.lamps import Light, lamps_of
from sample_images.leaf import open_flitch
from sample_images.placing import Place, reflectance
from tests.room_lights import true_rooms
from vision.colour_space import linear_to_lab, srgb_to_linear
from vision.match_layout import FaceWish, Joint, Match
from vision.readings import Evidence
from vision.room_lights import ROOM_WORDS
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot import Lamp

PLAN = FlitchPlan(
    seed=11,
    species="walnut",
    leaves=4,
    length_mm=1200.0,
    width_mm=220.0,
    sapwood=False,
    waney=False,
    end_damage=0.0,
    photo_px=(800, 1200),
    shots=("as-lies/A", "as-lies/B", "as-lies/side", "blank/A", "blank/B"),
    mean_tilt_deg=3.0,
    lobe_ratio=0.8,
    face_lobe_sd=0.0,
    face_albedo_sd=0.0,
)
FACES = [Match.DIAMOND, Match.BOX, Match.REVERSE_BOX, Match.HERRINGBONE]
EDGE_MM = 6.0
BESIDE_MM = 20.0
MOST_OFF = 1.0
"""L*, root mean square over the pieces of a face in a light that was never photographed."""


@dataclass(frozen=True)
class Stock:
    catalog: Catalog
    bundle: BundleId

    def shown(
        self,
        match: Match,
        lamp: Lamp = Lamp.A,
        *,
        wish: FaceWish | None = None,
        asked: LightAsked | None = None,
    ) -> MatchPreview:
        return preview_match(
            self.catalog,
            self.bundle,
            ("01", "02", "03", "04"),
            match=match,
            lamp=lamp,
            long_px=700,
            wish=wish,
            asked=asked,
        )


def taken_in(place: Path, *, without: str = "none") -> Iterator[Stock]:
    with open_catalog(place / "stock.db") as catalog:
        flitch = catalog.add_flitch(name="Marl 2", species="Walnut", cut="crown")
        bundle = catalog.add_bundle(flitch, label="1")
        photos = place.parent / "photos"
        lines = (photos / "shots.csv").read_text().splitlines()
        kept = [line for line in lines if f",{without}," not in line]
        (place / "shots.csv").write_text("\n".join(kept) + "\n")
        for file in photos.iterdir():
            if file.suffix == ".jpg":
                (place / file.name).symlink_to(file)
        plan = plan_intake(place, bundle, catalog=catalog)
        for _ in take_in(plan, catalog=catalog, settings=DEFAULT_VISION_SETTINGS):
            pass
        finish_bundle(bundle, catalog=catalog, settings=DEFAULT_VISION_SETTINGS)
        yield Stock(catalog, bundle)


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("walnut")
    for _ in draw_flitch(PLAN, place / "photos"):
        pass
    return place


@pytest.fixture(scope="module")
def stock(photos: Path) -> Iterator[Stock]:
    (photos / "all").mkdir()
    yield from taken_in(photos / "all")


def inside(outline, size_px, px_per_mm) -> np.ndarray:
    """Return which pixels lie inside an outline, its edges left out."""
    mask = np.zeros(size_px, np.uint8)
    points = np.array([[x * px_per_mm * 16, y * px_per_mm * 16] for x, y in outline], np.int32)
    cv2.fillPoly(mask, [points], 255, shift=4)
    inner = cv2.erode(mask, np.ones((3, 3), np.uint8), iterations=int(EDGE_MM * px_per_mm) + 1)
    return inner > 0


def seen_lightness(preview: MatchPreview) -> np.ndarray:
    """Return the mean L* of every piece in the picture."""
    light = srgb_to_linear(preview.rgb)
    scale = preview.px_per_mm
    return np.array(
        [
            linear_to_lab(light[inside(one.outline_mm, light.shape[:2], scale)].mean(axis=0))[0]
            for one in preview.layout.placements
        ]
    )


def step_beside(preview: MatchPreview, joint: Joint) -> float:
    """Return the step of L* in the picture within `BESIDE_MM` of a joint."""
    light, scale = srgb_to_linear(preview.rgb), preview.px_per_mm
    line = np.ones(light.shape[:2], np.uint8)
    ends = [(round(x * scale), round(y * scale)) for x, y in (joint.start_mm, joint.end_mm)]
    cv2.line(line, *ends, 0)
    near = cv2.distanceTransform(line, cv2.DIST_L2, 5) < BESIDE_MM * scale
    left, right = (
        light[near & inside(preview.layout.placements[at].outline_mm, near.shape, scale)]
        for at in (joint.left_at, joint.right_at)
    )
    return linear_to_lab(right.mean(axis=0))[0] - linear_to_lab(left.mean(axis=0))[0]


def under_lamp(preview: MatchPreview, lamp: Lamp) -> np.ndarray:
    """Return the same from the wood: that lamp and the eye above."""
    return true_lightness(preview, lamps_of(PLAN, lamp.value), level_camera(PLAN).position_mm)


def true_lightness(
    preview: MatchPreview, lamps: Sequence[Light], eye_mm: tuple[float, float, float]
) -> np.ndarray:
    """Return the same from the wood: each leaf put where it lies, in that light."""
    flitch = open_flitch(PLAN, px_per_mm=0.5)
    sizes = {leaf.label: leaf for leaf in preview.leaves}
    found = []
    for one in preview.layout.placements:
        size, box = sizes[one.leaf], preview.layout.panels[one.panel].box
        x, y = one.to_panel((size.width_mm / 2, size.length_mm / 2))
        middle = (box.left + box.right) / 2, (box.top + box.bottom) / 2
        place = Place(x - middle[0], middle[1] - y, -one.turned_deg)
        face = flitch.leaf(int(one.leaf)).lay(one.laid.value)
        light = reflectance(face, place, lamps, eye_mm)
        own = np.stack(np.meshgrid(face.sheet.x_mm, face.sheet.y_mm), axis=-1)
        on_panel = place.to_board(own) * (1, -1) + middle
        points = np.array(one.outline_mm, np.float32)
        deep = np.array(
            [
                cv2.pointPolygonTest(points, (float(px), float(py)), True)
                for px, py in on_panel[::4, ::4].reshape(-1, 2)
            ]
        )
        held = (deep > EDGE_MM) & (face.cover[::4, ::4].ravel() > 0.99)
        found.append(linear_to_lab(light[::4, ::4].reshape(-1, 3)[held].mean(axis=0))[0])
    return np.array(found)


def test_the_strip_on_a_blank_frame_does_not_carry_the_lamp_elsewhere(stock):
    seen = leaf_views(stock.catalog.photos(stock.bundle))["01"]

    for view in seen:
        x, y, height = (
            one / PLAN.length_mm for one in lamps_of(PLAN, view.shot.lamp)[0].position_mm
        )
        assert view.light.station.lamp_across == pytest.approx(x, abs=0.15)
        assert view.light.station.lamp_along == pytest.approx(-y, abs=0.15)
        assert view.light.station.lamp_height == pytest.approx(height, abs=0.15)
    assert {view.shot.lamp for view in seen} == {Lamp.A, Lamp.B, Lamp.SIDE}


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
@pytest.mark.parametrize("match", FACES)
def test_the_picture_shows_each_piece_as_light_as_its_wood_is_there(stock, match, lamp):
    preview = stock.shown(match, lamp)

    seen, true = seen_lightness(preview), under_lamp(preview, lamp)

    assert preview.shows_light_and_dark
    assert np.ptp(true) > 2.0
    error = (seen - seen.mean()) - (true - true.mean())
    assert np.sqrt(np.mean(error**2)) < 0.8, (seen, true)


@pytest.mark.parametrize("name", sorted(ROOM_WORDS))
@pytest.mark.parametrize("match", [Match.DIAMOND, Match.BOX, Match.BOOK])
def test_in_the_light_of_a_room_picture_and_joints_show_each_piece_as_its_wood_is(
    stock, match, name
):
    preview = stock.shown(match, asked=LightAsked(name))

    seen = seen_lightness(preview)
    room = true_rooms(preview.layout.length_mm)[name]
    true = true_lightness(preview, room.patches, room.eye_mm)

    assert preview.shows_light_and_dark
    error = (seen - seen.mean()) - (true - true.mean())
    assert np.sqrt(np.mean(error**2)) < MOST_OFF, (seen, true)
    for joint, pair in zip(preview.layout.joints, preview.joints, strict=True):
        assert pair is not None
        assert pair.light == name
        assert pair.lightness_low < pair.lightness_step < pair.lightness_high
        # with wood's own figure beside the joint
        assert pair.lightness_step == pytest.approx(step_beside(preview, joint), abs=2.0)


def test_a_lamp_placed_where_it_was_photographed_shows_what_the_photographs_show(stock):
    lamp, eye = lamps_of(PLAN, "A")[0].position_mm, level_camera(PLAN).position_mm
    placed = stock.shown(Match.DIAMOND, asked=LightAsked("", lamp, eye))

    assert "in the light of a lamp" in placed.title
    other = seen_lightness(stock.shown(Match.DIAMOND))
    assert seen_lightness(placed) == pytest.approx(other, abs=0.8)


def test_a_room_is_told_without_grain_that_runs_many_ways(stock):
    diamond = stock.shown(Match.DIAMOND, asked=LightAsked("window-side"))
    book = stock.shown(Match.BOOK, asked=LightAsked("window-side"))

    assert diamond.title.endswith("in the light of a window at the side")
    assert book.title.endswith("a window at the side, square to the grain")
    assert "No leaf was photographed in it" in " ".join(book.notes)


@pytest.mark.parametrize("match", FACES)
def test_every_joint_of_a_drawn_face_is_flagged_as_its_picture_shows_it(stock, match):
    preview = stock.shown(match)
    seen = seen_lightness(preview)

    assert len(preview.joints) == len(preview.layout.joints) > 0
    for joint, pair in zip(preview.layout.joints, preview.joints, strict=True):
        assert pair is not None
        assert pair.evidence is Evidence.MODEL
        assert pair.light == "lamp A"
        assert pair.lightness_low < pair.lightness_step < pair.lightness_high
        step = seen[joint.right_at] - seen[joint.left_at]
        # light changes along a piece; the joint is judged at its own places
        assert pair.lightness_step == pytest.approx(step, abs=3.0)
        if abs(step) > 3.0:
            assert pair.lightness_step * step > 0


def test_the_words_say_that_light_at_a_slant_is_worked_out_and_not_photographed(stock):
    said = " ".join(stock.shown(Match.DIAMOND).notes)

    assert "is worked out from how each leaf's fibres slope and shine" in said
    assert "lamp at the side" not in said
    assert "cannot be shown" not in said


def test_without_a_lamp_at_the_side_the_intervals_are_wider_and_the_words_say_so(stock, photos):
    (photos / "ends").mkdir()
    for ends in taken_in(photos / "ends", without="side"):
        # no face is turned over: what is not known of other faces would outweigh the lean
        slipped = FaceWish(is_slipped=True)
        known, unsure = (one.shown(Match.DIAMOND, wish=slipped) for one in (stock, ends))

        assert "shine across the grain" in " ".join(unsure.notes)
        wide = [
            [pair.lightness_high - pair.lightness_low for pair in one.joints if pair is not None]
            for one in (known, unsure)
        ]
        assert np.mean(wide[1]) > 1.1 * np.mean(wide[0])


def test_under_one_lamp_nothing_is_claimed_and_the_words_say_what_to_take(photos):
    (photos / "one").mkdir()
    for one in taken_in(photos / "one", without="B"):
        preview = one.shown(Match.DIAMOND)

        assert not preview.shows_light_and_dark
        assert all(pair is None for pair in preview.joints)
        said = " ".join(preview.notes)
        assert "at a slant cannot be shown: the photographs of leaves 01, 02, 03, 04" in said
        assert "under lamp A and under lamp B" in said
        in_room = one.shown(Match.BOOK, asked=LightAsked("low-sun"))
        assert not in_room.shows_light_and_dark
        assert all(pair is None for pair in in_room.joints)
        assert "in this light cannot be shown: the photographs of leaves" in " ".join(in_room.notes)


def test_leaves_whose_fibres_would_lean_as_none_do_are_not_believed(stock):
    views = leaf_views(stock.catalog.photos(stock.bundle))
    misread = {
        leaf: tuple(
            replace(
                view,
                light=replace(view.light, station=replace(view.light.station, lamp_along=1.0)),
            )
            if view.shot.lamp is Lamp.SIDE
            else view
            for view in seen
        )
        for leaf, seen in views.items()
    }

    assert set(fitted_leaves(views)) == {"01", "02", "03", "04"}
    assert fitted_leaves(misread) == {}
