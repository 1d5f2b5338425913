"""From drawn photographs through the catalogue to a match whose lamp can be moved."""

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from catalog.catalog import Catalog, open_catalog
from catalog.errors import LampFixed
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.match_preview import preview_match
from catalog.records import BundleId
from catalog.relit_lamps import Carried
from catalog.relit_match import RelitMatch, relit_match
from catalog.relit_payload import relit_payload
from sample_images import FlitchPlan, draw_flitch
from tests.catalog.painted_stock import painted_catalog
from vision.colour_space import linear_to_lab, srgb_to_linear
from vision.match_layout import Match
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot import Laid, Lamp, Shot

PLAN = FlitchPlan(
    seed=41,
    species="cherry",
    leaves=3,
    length_mm=1200.0,
    width_mm=200.0,
    mean_tilt_deg=3.0,
    tilt_drift_deg=0.2,
    lobe_ratio=0.7,
    lobe_width_deg=12.0,
    photo_px=(800, 1200),
    end_damage=0.0,
    sapwood=False,
    waney=False,
)
LABELS = ("01", "02", "03")


def taken_in(folder: Path, plan: FlitchPlan) -> tuple[Catalog, BundleId]:
    for _ in draw_flitch(plan, folder / "photos"):
        pass
    catalog = open_catalog(folder / "stock.db")
    flitch = catalog.add_flitch(name="Lowfell 2", species="Cherry", cut="plain")
    bundle = catalog.add_bundle(flitch, label="1")
    taking = plan_intake(folder / "photos", bundle, catalog=catalog)
    for _ in take_in(taking, catalog=catalog, settings=DEFAULT_VISION_SETTINGS):
        pass
    finish_bundle(bundle, catalog=catalog, settings=DEFAULT_VISION_SETTINGS)
    return catalog, bundle


def relit(
    catalog: Catalog,
    bundle: BundleId,
    match: Match = Match.BOOK,
    labels: Sequence[str] = LABELS,
) -> RelitMatch:
    preview = preview_match(catalog, bundle, labels, match=match, lamp=Lamp.A)
    return relit_match(catalog, bundle, preview.layout)


@pytest.fixture(scope="module")
def stock(tmp_path_factory: pytest.TempPathFactory) -> tuple[Catalog, BundleId]:
    return taken_in(tmp_path_factory.mktemp("relit"), PLAN)


def lightness(match: RelitMatch, picture: np.ndarray) -> list[float]:
    """L* of each leaf's middle."""
    found = []
    for place in match.places:
        rows, columns = place.leaf.figure.shape[:2]
        part = picture[
            place.top_px + rows // 4 : place.top_px + 3 * rows // 4,
            place.left_px + columns // 8 : place.left_px + columns - columns // 8,
        ]
        found.append(float(linear_to_lab(srgb_to_linear(part).mean(axis=(0, 1)))[0]))
    return found


@pytest.mark.parametrize(("mark", "lamp"), [(0, Lamp.A), (1, Lamp.B)])
def test_at_a_photographed_lamp_the_match_looks_as_its_preview(stock, mark, lamp):
    catalog, bundle = stock
    match = relit(catalog, bundle)
    preview = preview_match(catalog, bundle, LABELS, match=Match.BOOK, lamp=lamp)
    place = match.marks[mark]

    shown = lightness(match, match.lit(place.along, place.height))

    listed = [joint.lightness_step for joint in preview.joints]
    assert np.diff(shown) == pytest.approx(listed, abs=0.6)
    assert min(abs(step) for step in listed) > 2


def test_light_and_dark_change_places_on_the_way_from_lamp_to_lamp(stock):
    match = relit(*stock)
    lamp_a, lamp_b = match.marks

    at_a, at_b = (np.diff(lightness(match, match.lit(m.along, m.height))) for m in match.marks)
    middle = np.diff(
        lightness(
            match,
            match.lit((lamp_a.along + lamp_b.along) / 2, (lamp_a.height + lamp_b.height) / 2),
        )
    )

    assert (at_a * at_b < 0).all()
    assert (np.abs(middle) < np.minimum(np.abs(at_a), np.abs(at_b))).all()


def test_the_photographed_lamps_are_marked_where_they_stood(stock):
    match = relit(*stock)
    lamp_a, lamp_b = match.marks

    angles = [
        np.rad2deg(np.arctan2(mark.along - match.eye_along, mark.height)) for mark in match.marks
    ]
    assert (lamp_a.name, lamp_b.name) == ("A", "B")
    assert angles == pytest.approx([-PLAN.lamp_angle_deg, PLAN.lamp_angle_deg], abs=4)
    assert lamp_a.height == pytest.approx(
        (PLAN.length_mm / 2 + 350) / np.tan(np.radians(33)), rel=0.25
    )


def test_leaves_whose_upper_face_was_not_photographed_are_named(stock):
    match = relit(*stock)

    assert [place.face_seen for place in match.places] == [True, False, True]
    assert match.grid.face_sd.max() > 0
    assert relit_payload(match)["unseen"] == ["02"]


def test_a_slip_match_shows_faces_that_were_photographed(stock):
    match = relit(*stock, match=Match.SLIP)

    assert all(place.face_seen for place in match.places)
    assert match.grid.face_sd.max() == 0


def test_flat_lamps_are_beyond_and_photographed_ones_are_not(stock):
    match = relit(*stock)
    grid = match.grid

    lowest = grid.carried[0]
    near_a = grid.carried[int(np.abs(grid.height - match.marks[0].height).argmin())][
        int(np.abs(grid.along - match.marks[0].along).argmin())
    ]

    assert lowest[0] is Carried.FLAT
    assert near_a is Carried.YES


def test_the_payload_is_plain_json_of_a_few_hundred_kilobytes(stock):
    payload = relit_payload(relit(*stock))

    assert len(json.dumps(payload)) < 350_000 * len(payload["leaves"])


def test_one_lamp_and_the_leaf_spun_tell_as_much(tmp_path):
    plan = replace(PLAN, leaves=1, shots=("as-lies/A", "end-turned/A"))
    catalog, bundle = taken_in(tmp_path, plan)

    match = relit(catalog, bundle, labels=("01",))

    assert [mark.name for mark in match.marks] == ["A", "B"]
    assert "spun end for end" in match.marks[1].words
    first, second = match.places[0].leaf.pictures
    at_a, at_b = (match.lit(mark.along, mark.height) for mark in match.marks)
    assert lightness(match, at_a) == pytest.approx(lightness(match, first), abs=0.5)
    assert lightness(match, at_b) == pytest.approx(lightness(match, second), abs=0.5)
    assert abs(lightness(match, at_a)[0] - lightness(match, at_b)[0]) > 1


def test_leaves_that_are_stacked_are_refused_in_words(stock):
    with pytest.raises(LampFixed, match="whole leaves that stand side by side"):
        relit(*stock, match=Match.FOUR_WAY, labels=("01", "02", "03", "01"))


@pytest.mark.parametrize(
    ("shots", "said"),
    [
        ([Shot("1.jpg", "01", lamp=Lamp.A)], "under lamp B as well, or spun end for end under la"),
        ([Shot("1.jpg", "01")], "as it lies under lamp A and then, unmoved, under lamp B"),
        (
            [Shot("1.jpg", "01", lamp=Lamp.A), Shot("2.jpg", "01", Laid.FACE_OVER, lamp=Lamp.B)],
            "where the lamps stood is not known",
        ),
    ],
)
def test_what_is_missing_is_said(tmp_path, shots, said):
    catalog, bundle = painted_catalog(tmp_path, shots)
    preview = preview_match(catalog, bundle, ("01",), match=Match.BOOK, lamp=Lamp.A)

    with pytest.raises(LampFixed, match=said):
        relit_match(catalog, bundle, preview.layout)
