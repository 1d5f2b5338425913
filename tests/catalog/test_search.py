"""Finding stock; every test runs on SQLite and on PostgreSQL."""

from __future__ import annotations

import pytest

from catalog.catalog import Catalog
from tests.catalog.made_photos import a_leaf, a_pair, a_photo, a_shot, pictures_of
from vision.flags import AlternationFlag


def names(catalog: Catalog, **given: str) -> list[str]:
    return [card.flitch.name for card in catalog.find_flitches(**given)]  # type: ignore[arg-type]


def test_words_are_found_in_any_field_whatever_their_case_and_accents(catalog: Catalog) -> None:
    catalog.add_flitch(name="A1", species="Érable sycomore", cut="quarter", figure="Fiddleback")
    catalog.add_flitch(name="B2", species="Eiche", cut="crown", note="100% straight, süß")

    assert names(catalog, text="ERABLE fiddle") == ["A1"]
    assert names(catalog, text="SÜSS") == ["B2"]
    assert names(catalog, text="100%") == ["B2"]
    assert names(catalog, text="10_") == []
    assert names(catalog, text="erable crown") == []
    assert names(catalog) == ["B2", "A1"]


def test_species_and_cut_are_matched_exactly(catalog: Catalog) -> None:
    catalog.add_flitch(name="A1", species="walnut", cut="crown")
    catalog.add_flitch(name="A2", species="black walnut", cut="crown")
    catalog.add_flitch(name="A3", species="walnut", cut="quarter")

    assert names(catalog, species="walnut", cut="crown") == ["A1"]
    assert catalog.species_in_use() == ("black walnut", "walnut")
    assert catalog.cuts_in_use() == ("crown", "quarter")


def test_a_card_counts_leaves_and_adds_up_the_area_that_is_known(catalog: Catalog) -> None:
    flitch = catalog.add_flitch(name="A1", species="ash", cut="crown")
    bundles = [catalog.add_bundle(flitch, label=label) for label in ("1", "2")]
    catalog.record_photo(bundles[0], a_photo(a_shot("02")), listed=["01", "02"])
    catalog.record_photo(bundles[0], a_photo(a_shot("01")), listed=["01", "02"])
    bare = a_leaf("09", length_mm=None, width_mm=None)
    catalog.record_photo(bundles[1], a_photo(a_shot("09"), bare), listed=["09"])

    (card,) = catalog.find_flitches()

    assert (card.bundle_count, card.leaf_count, card.sized_leaf_count) == (2, 3, 2)
    assert card.area_m2 == pytest.approx(2 * 2.0 * 0.25)
    assert card.cover == pictures_of("01-as-lies-A.jpg")
    assert card.worst is None


def test_an_empty_flitch_has_a_card_too(catalog: Catalog) -> None:
    flitch = catalog.add_flitch(name="A1", species="ash", cut="crown")
    catalog.add_bundle(flitch, label="1")

    (card,) = catalog.find_flitches()

    assert (card.bundle_count, card.leaf_count, card.area_m2, card.cover) == (1, 0, 0.0, None)


def test_the_worst_flag_of_the_book_match_stands_on_the_card(catalog: Catalog) -> None:
    for name, flags in {
        "A1": (AlternationFlag.NONE, AlternationFlag.NOT_MEASURED),
        "A2": (AlternationFlag.SLIGHT, AlternationFlag.STRONG, AlternationFlag.NONE),
        "A3": (AlternationFlag.NOT_MEASURED,),
        "A4": (),
    }.items():
        flitch = catalog.add_flitch(name=name, species="ash", cut="crown")
        bundle = catalog.add_bundle(flitch, label="1")
        if flags:
            catalog.record_alternation(bundle, "book", [a_pair("1", "2", flag) for flag in flags])
        catalog.record_alternation(bundle, "slip", [a_pair("1", "2", AlternationFlag.STRONG)])

    found = {card.flitch.name: card.worst for card in catalog.find_flitches()}

    assert found == {
        "A1": AlternationFlag.NONE,
        "A2": AlternationFlag.STRONG,
        "A3": AlternationFlag.NOT_MEASURED,
        "A4": None,
    }
    assert names(catalog, flag="strong") == ["A2"]
    assert names(catalog, flag="not-measured") == ["A3"]


def test_pages_turn_without_gap_or_double_while_flitches_come_in(catalog: Catalog) -> None:
    for number in range(7):
        catalog.add_flitch(name=f"A{number}", species="ash", cut="crown")

    first = catalog.find_flitches(limit=3)
    catalog.add_flitch(name="late", species="ash", cut="crown")
    second = catalog.find_flitches(limit=3, after=first[-1].flitch.flitch_id)
    third = catalog.find_flitches(limit=3, after=second[-1].flitch.flitch_id)

    assert [card.flitch.name for card in (*first, *second, *third)] == [
        f"A{number}" for number in reversed(range(7))
    ]
