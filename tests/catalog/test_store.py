"""What the catalogue keeps; every test runs on SQLite and on PostgreSQL."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.exc import DBAPIError

from catalog.catalog import Catalog
from catalog.errors import AlreadyThere, EntryFaulty, NotInCatalog
from catalog.migrations import MIGRATIONS
from catalog.records import AlreadyIn, BundleId, FlitchId, Refused, TakenIn
from tests.catalog.made_photos import a_bundle, a_leaf, a_pair, a_photo, a_shot, pictures_of
from vision.bundle_light import BundleLight
from vision.flags import AlternationFlag, PhotoFlag
from vision.readings import ColourClass, ScaleClass
from vision.shot import Laid, Lamp, Shot


def labels(catalog: Catalog, bundle: BundleId) -> list[str]:
    leaves = catalog.leaves(bundle)
    assert [leaf.position for leaf in leaves] == list(range(1, len(leaves) + 1))
    return [leaf.label for leaf in leaves]


def test_a_flitch_comes_back_as_it_was_entered(catalog: Catalog) -> None:
    number = catalog.add_flitch(
        name=" Ö-17 ", species="Érable", cut="crown", figure="fiddleback", note="rack 3; 'dry'"
    )

    flitch = catalog.flitch(number)

    assert (flitch.name, flitch.species, flitch.note) == ("Ö-17", "Érable", "rack 3; 'dry'")
    assert flitch.added_at == datetime(2026, 3, 2, 8, len(MIGRATIONS) + 1, tzinfo=UTC)


def test_names_are_given_once(catalog: Catalog) -> None:
    first = catalog.add_flitch(name="17", species="ash", cut="crown")
    second = catalog.add_flitch(name="18", species="ash", cut="crown")
    catalog.add_bundle(first, label="1")
    other = catalog.add_bundle(first, label="2")
    catalog.add_bundle(second, label="1")

    with pytest.raises(AlreadyThere, match="flitch named 17 already"):
        catalog.add_flitch(name="17", species="oak", cut="")
    with pytest.raises(AlreadyThere, match="flitch named 17 already"):
        catalog.edit_flitch(second, name="17")
    with pytest.raises(AlreadyThere, match="17 has a bundle 1 already"):
        catalog.add_bundle(first, label="1")
    with pytest.raises(AlreadyThere, match="bundle 1 already"):
        catalog.edit_bundle(other, label="1")


def test_what_is_not_there_is_said(catalog: Catalog) -> None:
    with pytest.raises(NotInCatalog, match="no flitch number 7"):
        catalog.add_bundle(FlitchId(7), label="1")
    with pytest.raises(NotInCatalog, match="no bundle number 9"):
        catalog.record_photo(BundleId(9), a_photo(a_shot("01")), listed=["01"])
    with pytest.raises(NotInCatalog, match="no flitch number 7"):
        catalog.bundles(FlitchId(7))


def test_names_are_needed(catalog: Catalog) -> None:
    with pytest.raises(EntryFaulty, match="needs a name"):
        catalog.add_flitch(name="  ", species="ash", cut="crown")
    with pytest.raises(EntryFaulty, match="needs a label"):
        catalog.add_bundle(FlitchId(1), label="")


def test_every_change_to_stock_is_written_down_with_who_and_when(catalog: Catalog) -> None:
    flitch = catalog.add_flitch(name="17", species="ash", cut="crown")
    catalog.edit_flitch(flitch, note="rack 3", species="ash")
    bundle = catalog.add_bundle(flitch, label="1")
    catalog.edit_bundle(bundle, label="2")
    catalog.record_photo(bundle, a_photo(a_shot("01")), listed=["01"])

    changes = catalog.changes()

    assert [change.what for change in changes] == [
        "flitch added",
        "flitch edited",
        "bundle added",
        "bundle edited",
        "leaf added",
        "photograph taken in",
    ]
    assert {change.who for change in changes} == {"Ines"}
    assert changes[1].before == {"note": ""}
    assert changes[1].after == {"note": "rack 3"}
    assert changes[1].at == datetime(2026, 3, 2, 8, len(MIGRATIONS) + 2, tzinfo=UTC)
    assert catalog.changes(of=("bundle", bundle)) == changes[2:4]
    assert catalog.changes(after=changes[1].change_id, limit=2) == changes[2:4]


def test_an_edit_that_changes_nothing_leaves_no_trace(catalog: Catalog) -> None:
    flitch = catalog.add_flitch(name="17", species="ash", cut="crown")

    catalog.edit_flitch(flitch, species=" ash ")

    assert len(catalog.changes()) == 1


@pytest.mark.parametrize(
    "statement", ["UPDATE change SET who = 'nobody'", "DELETE FROM change WHERE id = 1"]
)
def test_the_database_itself_refuses_to_rewrite_changes(
    catalog: Catalog, database: str, statement: str
) -> None:
    catalog.add_flitch(name="17", species="ash", cut="crown")
    before = catalog.changes()
    engine = create_engine(database)

    with pytest.raises(DBAPIError, match="rows of the change table are never"), engine.begin() as c:
        c.execute(text(statement))

    engine.dispose()
    assert catalog.changes() == before


def test_a_photograph_comes_back_with_everything_that_was_read(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    shot = Shot("03+04.jpg", "03+04", Laid.OPENED_PAIR, Lamp.B, length_mm=2010.5)
    new = a_photo(shot, a_leaf("03"), a_leaf("04", length_mm=None, width_mm=None))

    outcome = catalog.record_photo(bundle, new, listed=["03", "04"])

    (photo,) = catalog.photos(bundle)
    assert isinstance(outcome, TakenIn)
    assert outcome.labels == ("03", "04")
    assert outcome.photo_id == photo.photo_id
    assert photo.shot == shot
    assert photo.reading == new.reading
    assert photo.pictures == new.pictures
    assert photo.leaf_ids == tuple(leaf.leaf_id for leaf in catalog.leaves(bundle))
    assert photo.settings["slight_from"] == new.settings.slight_from
    assert photo.taken_in_at.tzinfo is UTC


def test_the_same_photograph_comes_in_once(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    new = a_photo(a_shot("01"))
    catalog.record_photo(bundle, new, listed=["01"])
    before = catalog.changes()

    again = catalog.record_photo(bundle, new, listed=["01"])

    assert again == AlreadyIn("01-as-lies-A.jpg")
    assert len(catalog.photos(bundle)) == 1
    assert catalog.changes() == before


def test_a_photograph_measured_again_with_other_pictures_takes_their_place(
    catalog: Catalog,
) -> None:
    bundle = a_bundle(catalog)
    old = a_photo(a_shot("01"))
    better = a_leaf("01", length_mm=2100.0)
    new = replace(
        old,
        reading=replace(old.reading, leaves=(better,), pipeline_version="2"),
        pictures=(pictures_of("made anew"),),
    )
    catalog.record_photo(bundle, old, listed=["01"])
    (before,) = catalog.photos(bundle)

    outcome = catalog.record_photo(bundle, new, listed=["01"])

    (photo,) = catalog.photos(bundle)
    change = catalog.changes()[-1]
    assert isinstance(outcome, TakenIn)
    assert photo == replace(before, reading=new.reading, pictures=new.pictures)
    assert catalog.leaves(bundle)[0].size == better.size
    assert (change.what, change.before["pipeline_version"]) == ("photograph measured again", "1")  # type: ignore[index]


def test_the_same_bytes_under_another_name_are_refused(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    catalog.record_photo(bundle, a_photo(a_shot("01"), content="x"), listed=["01"])

    outcome = catalog.record_photo(bundle, a_photo(a_shot("02"), content="x"), listed=["02"])

    assert isinstance(outcome, Refused)
    assert "same photograph as 01-as-lies-A.jpg" in outcome.reason
    assert labels(catalog, bundle) == ["01"]


def test_the_same_photograph_as_another_shot_is_refused(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    catalog.record_photo(bundle, a_photo(Shot("a.jpg", "01", lamp=Lamp.A)), listed=["01"])

    outcome = catalog.record_photo(bundle, a_photo(Shot("a.jpg", "01", lamp=Lamp.B)), listed=["01"])

    assert isinstance(outcome, Refused)
    assert "leaf 01, as-lies, lamp A; now the shot list says leaf 01, as-lies, lamp B" in (
        outcome.reason
    )


def test_one_photograph_may_be_in_two_bundles(catalog: Catalog) -> None:
    bundles = [a_bundle(catalog, name="17"), a_bundle(catalog, name="18")]

    outcomes = [catalog.record_photo(b, a_photo(a_shot("01")), listed=["01"]) for b in bundles]

    assert all(isinstance(outcome, TakenIn) for outcome in outcomes)


def test_leaves_lie_in_list_order_whatever_order_they_are_measured_in(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    listed = ["01", "02", "03", "04", "05"]

    for leaf in ("03", "05", "01", "04", "02"):
        catalog.record_photo(bundle, a_photo(a_shot(leaf)), listed=listed)

    assert labels(catalog, bundle) == listed


def test_leaves_of_a_second_folder_follow_those_of_the_first(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    for leaf in ("01", "02"):
        catalog.record_photo(bundle, a_photo(a_shot(leaf)), listed=["01", "02"])
    for leaf in ("20", "10", "02"):
        catalog.record_photo(bundle, a_photo(a_shot(leaf, Lamp.B)), listed=["20", "10", "02"])

    assert labels(catalog, bundle) == ["01", "20", "10", "02"]


def test_the_plain_picture_is_dry_as_it_lies_and_lit_from_both_ends(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    shots = [
        a_shot("01", Lamp.BOTH, wet=True),
        a_shot("01", Lamp.A, Laid.FACE_OVER),
        a_shot("01+02", Lamp.A, Laid.OPENED_PAIR),
        a_shot("01", Lamp.B),
        a_shot("01", Lamp.A),
        a_shot("01", Lamp.BOTH),
    ]
    plain = []

    for shot in shots:
        catalog.record_photo(bundle, a_photo(shot), listed=["01", "02"])
        plain.append(catalog.leaves(bundle)[0].shot)

    card = catalog.leaves(bundle)[0]
    assert plain == shots
    assert card.pictures == pictures_of(shots[-1].file)
    assert card.photo_count == 6
    assert card.flags == (PhotoFlag.STRIP_MISSING,)


def test_what_is_shown_does_not_depend_on_which_photograph_came_in_first(
    catalog: Catalog,
) -> None:
    bundles = [a_bundle(catalog, name=name) for name in ("17", "18")]
    shots = [Shot(f"{number}.jpg", "01", lamp=Lamp.A) for number in (2, 10, 1)]

    for bundle, in_order in zip(bundles, (shots, reversed(shots)), strict=True):
        for shot in in_order:
            catalog.record_photo(bundle, a_photo(shot), listed=["01"])

    for bundle in bundles:
        files = [photo.shot.file for photo in catalog.photos(bundle)]
        assert files == ["1.jpg", "2.jpg", "10.jpg"]
        assert catalog.leaves(bundle)[0].shot.file == "1.jpg"


def test_a_card_takes_its_millimetres_from_any_photograph_that_has_a_scale(
    catalog: Catalog,
) -> None:
    bundle = a_bundle(catalog)
    bare = a_leaf("01", length_mm=None, width_mm=None)
    catalog.record_photo(bundle, a_photo(a_shot("01", Lamp.BOTH), bare), listed=["01"])
    unknown = catalog.leaves(bundle)[0].size

    catalog.record_photo(bundle, a_photo(a_shot("01", Lamp.A)), listed=["01"])

    size = catalog.leaves(bundle)[0].size
    assert (unknown.length_mm, unknown.scale_class) == (None, ScaleClass.NONE)
    assert (size.length_mm, size.width_mm, size.scale_class) == (2000.0, 250.0, ScaleClass.TYPED)
    assert size.px_per_mm == pytest.approx(0.9)


def test_a_bare_board_keeps_its_photograph_and_makes_no_leaf(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    shot = Shot("blank.jpg", "", lamp=Lamp.A, blank=True)

    catalog.record_photo(bundle, a_photo(shot), listed=[])

    assert catalog.photos(bundle)[0].pictures == ()
    assert catalog.leaves(bundle) == ()


def test_the_light_of_a_bundle_is_settled_once(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    first = BundleLight((0.5, 0.45, 0.4), ColourClass.RELATIVE)

    kept = [
        catalog.settle_bundle_light(bundle, first),
        catalog.settle_bundle_light(bundle, BundleLight((0.1, 0.1, 0.1), ColourClass.GREY_STEPS)),
        catalog.bundle(bundle).light,
    ]

    assert kept == [first, first, first]


def test_a_refusal_is_kept_until_the_file_comes_in(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    shot = a_shot("01")
    catalog.record_refusal(bundle, Refused(shot.file, "Cut short."), folder="/photos")
    catalog.record_refusal(bundle, Refused(shot.file, "Too dark."), folder="/photos")
    catalog.record_refusal(bundle, Refused("line 7", "Names no file."), folder="/photos")
    before = catalog.refusals(bundle)

    catalog.record_photo(bundle, a_photo(shot), listed=["01"])

    assert before == (Refused(shot.file, "Too dark."), Refused("line 7", "Names no file."))
    assert catalog.refusals(bundle) == (Refused("line 7", "Names no file."),)


def test_light_and_dark_is_forgotten_when_a_photograph_is_added(catalog: Catalog) -> None:
    bundle = a_bundle(catalog)
    catalog.record_photo(bundle, a_photo(a_shot("01")), listed=["01"])
    pairs = [a_pair("01", "02", AlternationFlag.STRONG), a_pair("01", "02", AlternationFlag.NONE)]
    catalog.record_alternation(bundle, "book", pairs[:1])
    catalog.record_alternation(bundle, "book", pairs)
    before = catalog.alternation(bundle)

    catalog.record_photo(bundle, a_photo(a_shot("02")), listed=["01", "02"])

    assert list(before) == pairs
    assert catalog.alternation(bundle) == ()


def test_many_threads_may_use_one_catalogue(catalog: Catalog) -> None:
    from concurrent.futures import ThreadPoolExecutor

    bundle = a_bundle(catalog)
    listed = [f"{number:02}" for number in range(24)]

    with ThreadPoolExecutor(8) as pool:
        list(
            pool.map(
                lambda leaf: catalog.record_photo(bundle, a_photo(a_shot(leaf)), listed=listed),
                reversed(listed),
            )
        )

    assert labels(catalog, bundle) == listed
