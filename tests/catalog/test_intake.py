"""Folders of photographs come into the catalogue."""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import astuple, replace
from pathlib import Path

import pytest
from PIL import Image

from catalog.catalog import Catalog, open_catalog
from catalog.errors import NotInCatalog, PicturesNotKept
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.records import AlreadyIn, BundleId, Outcome, PhotoRecord, Refused, TakenIn
from tests.catalog.made_photos import a_bundle
from tests.catalog.measured_before import MeasuredBefore
from tests.catalog.photo_folders import listed, some_photos, write_list
from vision.bundle_light import BundleLight
from vision.errors import ShotListFaulty
from vision.readings import ColourClass, LightReference
from vision.settings import DEFAULT_VISION_SETTINGS as SETTINGS
from vision.shot import Lamp

MEASURED = MeasuredBefore()
"""Shared by the tests, so that each of the drawn photographs is measured once."""
LIGHT = BundleLight((0.28, 0.28, 0.28), ColourClass.GREY_STEPS)
"""What the drawn board reflects; given to bundles beforehand where the survey is not the point."""


def taken(folder: Path, bundle: BundleId, catalog: Catalog) -> list[Outcome]:
    plan = plan_intake(folder, bundle, catalog=catalog)
    outcomes = list(take_in(plan, catalog=catalog, settings=SETTINGS, executor=MEASURED))
    assert len(outcomes) == plan.total
    return outcomes


def a_lit_bundle(catalog: Catalog, *, name: str = "Ashgrove 17") -> BundleId:
    bundle = a_bundle(catalog, name=name)
    catalog.settle_bundle_light(bundle, LIGHT)
    return bundle


def kinds(outcomes: Iterable[Outcome]) -> list[tuple[str, type[Outcome]]]:
    return sorted(((one.file, type(one)) for one in outcomes), key=lambda kind: kind[0])


def labels(catalog: Catalog, bundle: BundleId) -> list[str]:
    return [leaf.label for leaf in catalog.leaves(bundle)]


def picture_names(photo: PhotoRecord) -> list[str]:
    return [photo.sha256, *(name for keys in photo.pictures for name in astuple(keys))]


def test_a_whole_folder_comes_in_leaf_by_leaf(photos: Path, catalog: Catalog) -> None:
    bundle = a_bundle(catalog)

    outcomes = taken(photos, bundle, catalog)
    pairs = finish_bundle(bundle, catalog=catalog, settings=SETTINGS)

    assert outcomes[0].file == "flitch_blank_A.jpg"
    assert kinds(outcomes) == [
        (name, TakenIn) for name in sorted(row["file"] for row in listed(photos))
    ]
    assert labels(catalog, bundle) == ["01", "02", "03"]
    kept = catalog.photos(bundle)
    assert all(catalog.pictures.holds(name) for photo in kept for name in picture_names(photo))
    assert {(pair.left, pair.right, pair.light) for pair in pairs} == {
        (left, right, f"lamp {lamp}")
        for left, right in (("01", "02"), ("02", "03"))
        for lamp in "AB"
    }
    assert all(pair.is_measured for pair in pairs)
    assert catalog.alternation(bundle, match="book") == pairs
    assert {pair.match for pair in catalog.alternation(bundle, match="slip")} == {"slip"}


def test_leaves_are_as_long_as_they_are_and_the_square_metres_add_up(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    bundle = a_lit_bundle(sqlite_catalog)
    truth = json.loads((photos / "truth.json").read_text(encoding="utf-8"))
    area_m2 = sum(leaf["length_mm"] * leaf["width_mm"] for leaf in truth["leaves"]) / 1e6

    taken(some_photos(photos, tmp_path / "photos"), bundle, sqlite_catalog)

    (card,) = sqlite_catalog.find_flitches()
    assert card.sized_leaf_count == 3
    assert card.area_m2 == pytest.approx(area_m2, rel=0.03)  # photographs of 0.4 px/mm


def test_originals_are_kept_byte_for_byte_and_leaf_pictures_without_the_place(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    bundle = a_lit_bundle(sqlite_catalog)
    taken(some_photos(photos, tmp_path / "photos"), bundle, sqlite_catalog)

    (photo, *_) = sqlite_catalog.photos(bundle)

    original = sqlite_catalog.pictures.read(photo.sha256)
    leaf = Image.open(io.BytesIO(sqlite_catalog.pictures.read(photo.pictures[0].flat)))
    gps = 0x8825
    assert original == (photos / photo.shot.file).read_bytes()
    assert Image.open(io.BytesIO(original)).getexif().get_ifd(gps)
    assert not leaf.getexif().get_ifd(gps)


def test_the_same_command_again_finds_everything_in(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    bundle = a_lit_bundle(sqlite_catalog)
    taken(folder, bundle, sqlite_catalog)
    changes = sqlite_catalog.changes()

    again = taken(folder, bundle, sqlite_catalog)

    assert again == [AlreadyIn(row["file"]) for row in listed(folder)]
    assert sqlite_catalog.changes() == changes


def test_one_bad_photograph_never_stops_the_bundle_and_may_be_mended(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    first, second, third = (folder / row["file"] for row in listed(folder))
    whole = second.read_bytes()
    second.write_bytes(whole[: len(whole) // 3])
    bundle = a_lit_bundle(sqlite_catalog)

    outcomes = taken(folder, bundle, sqlite_catalog)
    refusals = sqlite_catalog.refusals(bundle)
    second.write_bytes(whole)
    again = taken(folder, bundle, sqlite_catalog)

    assert kinds(outcomes) == [(first.name, TakenIn), (second.name, Refused), (third.name, TakenIn)]
    assert refusals == tuple(one for one in outcomes if isinstance(one, Refused))
    assert kinds(again) == [
        (first.name, AlreadyIn),
        (second.name, TakenIn),
        (third.name, AlreadyIn),
    ]
    assert sqlite_catalog.refusals(bundle) == ()
    assert labels(sqlite_catalog, bundle) == ["01", "02", "03"]


@pytest.mark.parametrize("content", [b"", b"no picture at all", b"\xff\xd8\xff\xe0" + bytes(40)])
def test_a_file_that_is_no_photograph_is_refused_with_a_sentence(
    content: bytes, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "01.jpg").write_bytes(content)
    bundle = a_lit_bundle(sqlite_catalog)

    (outcome,) = taken(folder, bundle, sqlite_catalog)

    assert isinstance(outcome, Refused)
    assert outcome.reason.endswith(".")
    assert sqlite_catalog.leaves(bundle) == ()


def test_a_bad_line_of_the_list_stands_refused_until_it_is_corrected(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    rows = listed(folder)
    write_list(folder, [*rows, {**rows[0], "file": "gone.jpg"}])
    bundle = a_lit_bundle(sqlite_catalog)

    outcomes = taken(folder, bundle, sqlite_catalog)
    refusals = sqlite_catalog.refusals(bundle)
    write_list(folder, rows)
    taken(folder, bundle, sqlite_catalog)

    assert [one.file for one in outcomes if isinstance(one, Refused)] == ["gone.jpg"]
    assert [one.file for one in refusals] == ["gone.jpg"]
    assert sqlite_catalog.refusals(bundle) == ()


def test_one_photograph_under_two_names_counts_once(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    rows = listed(folder)
    shutil.copyfile(folder / rows[0]["file"], folder / "copy.jpg")
    write_list(folder, [*rows, {**rows[0], "file": "copy.jpg", "leaf": "04"}])
    bundle = a_lit_bundle(sqlite_catalog)

    outcomes = taken(folder, bundle, sqlite_catalog)

    (refused,) = (one for one in outcomes if isinstance(one, Refused))
    assert refused.file == "copy.jpg"
    assert f"same photograph as {rows[0]['file']}" in refused.reason
    assert labels(sqlite_catalog, bundle) == ["01", "02", "03"]


def test_a_photograph_listed_as_another_shot_is_refused_until_the_list_is_put_back(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    rows = listed(folder)
    bundle = a_lit_bundle(sqlite_catalog)
    taken(folder, bundle, sqlite_catalog)
    write_list(folder, [{**rows[0], "lamp": "B"}, *rows[1:]])

    outcomes = taken(folder, bundle, sqlite_catalog)
    refusals = sqlite_catalog.refusals(bundle)
    write_list(folder, rows)
    taken(folder, bundle, sqlite_catalog)

    assert [one.file for one in outcomes if isinstance(one, Refused)] == [rows[0]["file"]]
    assert len(refusals) == 1
    assert "now the shot list says leaf 01, as-lies, lamp B" in refusals[0].reason
    assert sqlite_catalog.refusals(bundle) == ()


def test_a_size_that_is_typed_in_later_is_taken_over_by_the_same_command(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    sized = listed(folder)
    write_list(folder, [{**row, "length_mm": "", "width_mm": ""} for row in sized])
    bundle = a_lit_bundle(sqlite_catalog)
    taken(folder, bundle, sqlite_catalog)
    unsized = [leaf.size.length_mm for leaf in sqlite_catalog.leaves(bundle)]
    write_list(folder, sized)

    outcomes = taken(folder, bundle, sqlite_catalog)
    again = taken(folder, bundle, sqlite_catalog)

    assert unsized == [None, None, None]
    assert {type(outcome) for outcome in outcomes} == {TakenIn}
    assert {type(outcome) for outcome in again} == {AlreadyIn}
    assert [leaf.size.length_mm for leaf in sqlite_catalog.leaves(bundle)] == pytest.approx(
        [float(row["length_mm"]) for row in sized]
    )
    assert len(sqlite_catalog.photos(bundle)) == 3


def test_the_bare_board_holds_for_its_lamp_only_and_for_a_later_run_too(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos", lamps=("blank-A", "A", "B"))
    rows = listed(folder)
    late = folder / rows[-2]["file"]
    assert rows[-2]["lamp"] == "A"
    whole = late.read_bytes()
    late.write_bytes(b"")
    bundle = a_lit_bundle(sqlite_catalog)
    taken(folder, bundle, sqlite_catalog)
    late.write_bytes(whole)

    taken(folder, bundle, sqlite_catalog)

    leant_on = {
        (photo.shot.lamp, leaf.light.reference)
        for photo in sqlite_catalog.photos(bundle)
        for leaf in photo.reading.leaves
    }
    assert leant_on == {(Lamp.A, LightReference.BLANK), (Lamp.B, LightReference.BOARD)}


def test_a_bundle_keeps_the_light_that_its_first_folder_settled(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    bundle = a_bundle(sqlite_catalog)
    lights = []

    for lamp in "AB":
        folder = some_photos(photos, tmp_path / lamp, lamps=(lamp,))
        write_list(folder, listed(folder)[:1])
        taken(folder, bundle, sqlite_catalog)
        lights.append(sqlite_catalog.bundle(bundle).light)

    assert lights[0] is not None
    assert lights[1] == lights[0]
    assert len(sqlite_catalog.photos(bundle)) == 2


def test_stopped_half_way_it_goes_on_where_it_was(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    bundle = a_lit_bundle(sqlite_catalog)
    plan = plan_intake(folder, bundle, catalog=sqlite_catalog)
    outcomes = take_in(plan, catalog=sqlite_catalog, settings=SETTINGS, executor=MEASURED)
    next(outcomes)
    outcomes.close()  # type: ignore[attr-defined]

    again = taken(folder, bundle, sqlite_catalog)

    assert sorted(type(one).__name__ for one in again) == ["AlreadyIn", "TakenIn", "TakenIn"]
    assert labels(sqlite_catalog, bundle) == ["01", "02", "03"]


@pytest.mark.parametrize("how", ["two processes", "an executor of one's own"])
def test_many_at_once_give_what_one_after_the_other_gives(
    how: str, photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos", lamps=("blank-A", "A"))
    bundles = [a_lit_bundle(sqlite_catalog, name=name) for name in ("17", "18")]
    taken(folder, bundles[0], sqlite_catalog)
    plan = plan_intake(folder, bundles[1], catalog=sqlite_catalog)

    with ThreadPoolExecutor(2) as pool:
        executor = None if how == "two processes" else pool
        outcomes = list(
            take_in(plan, catalog=sqlite_catalog, settings=SETTINGS, workers=2, executor=executor)
        )

    kept = [{p.sha256: (p.reading, p.pictures) for p in sqlite_catalog.photos(b)} for b in bundles]
    assert {type(outcome) for outcome in outcomes} == {TakenIn}
    assert kept[0] == kept[1]
    assert labels(sqlite_catalog, bundles[1]) == ["01", "02", "03"]


def test_a_plan_that_another_take_in_has_overtaken_makes_no_doubles(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    bundle = a_lit_bundle(sqlite_catalog)
    plan = plan_intake(folder, bundle, catalog=sqlite_catalog)
    taken(folder, bundle, sqlite_catalog)
    changes = sqlite_catalog.changes()

    outcomes = list(take_in(plan, catalog=sqlite_catalog, settings=SETTINGS, executor=MEASURED))

    assert {type(outcome) for outcome in outcomes} == {AlreadyIn}
    assert sqlite_catalog.changes() == changes


def test_torn_pictures_and_what_a_power_cut_left_are_mended_on_the_way(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    taken(folder, a_lit_bundle(sqlite_catalog), sqlite_catalog)
    pictures = Path(sqlite_catalog.pictures.place)
    for number, file in enumerate(sorted(path for path in pictures.rglob("*") if path.is_file())):
        file.write_bytes(file.read_bytes()[: number * 40])
    (pictures / "coming").mkdir(exist_ok=True)
    (pictures / "coming" / "half").write_bytes(b"half")

    with open_catalog(tmp_path / "other.db", pictures=pictures) as other:
        bundle = a_lit_bundle(other)
        outcomes = taken(folder, bundle, other)

        assert {type(outcome) for outcome in outcomes} == {TakenIn}
        names = [name for photo in other.photos(bundle) for name in picture_names(photo)]
        assert all(other.pictures.holds(name) for name in names)


@pytest.mark.parametrize("kind", ["original", "flat", "mask"])
def test_a_picture_that_was_lost_is_made_anew_by_the_same_command(
    kind: str, photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    bundle = a_lit_bundle(sqlite_catalog)
    taken(folder, bundle, sqlite_catalog)
    before = sqlite_catalog.photos(bundle)
    lost = before[1].sha256 if kind == "original" else getattr(before[1].pictures[0], kind)
    (tmp_path / "pictures" / lost[:2] / lost).unlink()

    again = taken(folder, bundle, sqlite_catalog)

    assert {type(one) for one in again} == {AlreadyIn}
    assert sqlite_catalog.pictures.holds(lost)
    assert sqlite_catalog.photos(bundle) == before


def test_pictures_that_cannot_be_kept_stop_the_take_in_without_a_row(
    photos: Path, tmp_path: Path
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    (tmp_path / "full").write_bytes(b"")

    with open_catalog(tmp_path / "catalog.db", pictures=tmp_path / "full" / "pictures") as catalog:
        bundle = a_lit_bundle(catalog)
        with pytest.raises(PicturesNotKept, match="Make room"):
            taken(folder, bundle, catalog)

        assert catalog.photos(bundle) == ()
        assert catalog.leaves(bundle) == ()


def test_a_name_that_cannot_be_stored_is_refused_and_the_rest_comes_in(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    (folder / "shots.csv").unlink()
    shutil.copyfile(photos / listed(photos)[0]["file"], os.fsencode(folder) + b"/\xff.jpg")
    bundle = a_lit_bundle(sqlite_catalog)

    outcomes = taken(folder, bundle, sqlite_catalog)

    assert [one.file for one in outcomes if isinstance(one, Refused)] == ["\\udcff.jpg"]
    assert len(sqlite_catalog.leaves(bundle)) == 3
    assert [one.file for one in sqlite_catalog.refusals(bundle)] == ["\\udcff.jpg"]


def test_settings_and_pipeline_version_are_kept_with_each_photograph(
    photos: Path, tmp_path: Path, sqlite_catalog: Catalog
) -> None:
    folder = some_photos(photos, tmp_path / "photos")
    write_list(folder, listed(folder)[:1])
    bundle = a_lit_bundle(sqlite_catalog)
    plan = plan_intake(folder, bundle, catalog=sqlite_catalog)

    list(take_in(plan, catalog=sqlite_catalog, settings=replace(SETTINGS, face_sd=1.25)))

    (photo,) = sqlite_catalog.photos(bundle)
    assert photo.settings["face_sd"] == 1.25
    assert photo.sha256 == hashlib.sha256((folder / photo.shot.file).read_bytes()).hexdigest()


def test_what_is_not_there_cannot_be_planned(tmp_path: Path, sqlite_catalog: Catalog) -> None:
    bundle = a_lit_bundle(sqlite_catalog)

    with pytest.raises(ShotListFaulty, match="There is no folder"):
        plan_intake(tmp_path / "nowhere", bundle, catalog=sqlite_catalog)
    with pytest.raises(NotInCatalog, match="no bundle number 99"):
        plan_intake(tmp_path, BundleId(99), catalog=sqlite_catalog)
