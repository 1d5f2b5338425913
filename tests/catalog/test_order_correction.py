"""The order of a bundle set by hand: kept with its history, taken back by undo."""

from __future__ import annotations

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from catalog.catalog import Catalog
from catalog.database import connect, database_url, writing
from catalog.errors import AlreadyThere, EntryFaulty, NotInCatalog
from catalog.order_correction import set_order, undo_order
from catalog.records import BundleId, OrderAct
from tests.catalog.made_photos import a_bundle, a_photo, a_shot
from vision.settings import DEFAULT_VISION_SETTINGS

SETTINGS = DEFAULT_VISION_SETTINGS
CAME = ("01", "02", "03", "04")


def filled(catalog: Catalog) -> BundleId:
    bundle = a_bundle(catalog)
    for label in CAME:
        catalog.record_photo(bundle, a_photo(a_shot(label)), listed=CAME)
    return bundle


def lying(catalog: Catalog, bundle: BundleId) -> tuple[str, ...]:
    leaves = catalog.leaves(bundle)
    assert [leaf.position for leaf in leaves] == list(range(1, len(leaves) + 1))
    return tuple(leaf.label for leaf in leaves)


def test_leaves_lie_as_they_were_put_and_light_and_dark_is_told_of_the_new_neighbours(
    catalog: Catalog,
) -> None:
    bundle = filled(catalog)

    set_order(catalog, bundle, ("03", "01", "02", "04"), settings=SETTINGS, who="Jo")

    assert lying(catalog, bundle) == ("03", "01", "02", "04")
    pairs = {(pair.left, pair.right) for pair in catalog.alternation(bundle)}
    assert pairs == {("03", "01"), ("01", "02"), ("02", "04")}
    (row,) = catalog.order_corrections(bundle)
    assert (row.act, row.who, row.before) == (OrderAct.SET, "Jo", CAME)
    last = catalog.changes(of=("bundle", bundle))[-1]
    assert (last.what, last.who) == ("order of the leaves set", "Jo")


def test_undo_goes_back_act_by_act_and_keeps_every_row(catalog: Catalog) -> None:
    bundle = filled(catalog)
    set_order(catalog, bundle, ("02", "01", "03", "04"), settings=SETTINGS)
    set_order(catalog, bundle, ("04", "03", "02", "01"), settings=SETTINGS)

    assert undo_order(catalog, bundle, settings=SETTINGS) == ("02", "01", "03", "04")
    assert undo_order(catalog, bundle, settings=SETTINGS) == CAME
    with pytest.raises(EntryFaulty, match="nothing to undo"):
        undo_order(catalog, bundle, settings=SETTINGS)

    acts = [row.act for row in catalog.order_corrections(bundle)]
    assert acts == [OrderAct.SET, OrderAct.SET, OrderAct.UNDONE, OrderAct.UNDONE]


def test_a_leaf_taken_in_since_stays_behind_its_neighbour_at_undo(sqlite_catalog: Catalog) -> None:
    bundle = filled(sqlite_catalog)
    set_order(sqlite_catalog, bundle, ("04", "03", "02", "01"), settings=SETTINGS)
    sqlite_catalog.record_photo(bundle, a_photo(a_shot("02a")), listed=("02", "02a"))

    back = undo_order(sqlite_catalog, bundle, settings=SETTINGS)

    assert back == ("01", "02", "02a", "03", "04")


@pytest.mark.parametrize(
    "labels", [("01", "02", "03"), ("01", "02", "03", "03"), ("01", "02", "03", "9"), CAME]
)
def test_an_order_that_is_none_of_this_bundle_changes_nothing(
    sqlite_catalog: Catalog, labels: tuple[str, ...]
) -> None:
    bundle = filled(sqlite_catalog)

    with pytest.raises(EntryFaulty):
        set_order(sqlite_catalog, bundle, labels, settings=SETTINGS)

    assert lying(sqlite_catalog, bundle) == CAME
    assert sqlite_catalog.order_corrections(bundle) == ()


def test_an_order_made_of_what_lies_otherwise_by_now_is_refused(sqlite_catalog: Catalog) -> None:
    bundle = filled(sqlite_catalog)
    set_order(sqlite_catalog, bundle, ("02", "01", "03", "04"), settings=SETTINGS)

    with pytest.raises(AlreadyThere, match="in the meantime"):
        set_order(sqlite_catalog, bundle, ("01", "03", "02", "04"), settings=SETTINGS, before=CAME)

    assert lying(sqlite_catalog, bundle) == ("02", "01", "03", "04")


def test_a_bundle_that_is_not_there_is_named(sqlite_catalog: Catalog) -> None:
    with pytest.raises(NotInCatalog, match="9"):
        set_order(sqlite_catalog, BundleId(9), CAME, settings=SETTINGS)


@pytest.mark.parametrize(
    "statement", ["UPDATE order_correction SET who = 'X'", "DELETE FROM order_correction"]
)
def test_the_database_itself_keeps_the_rows(
    catalog: Catalog, database: str, statement: str
) -> None:
    bundle = filled(catalog)
    set_order(catalog, bundle, ("02", "01", "03", "04"), settings=SETTINGS)

    engine = connect(database_url(database))
    with pytest.raises(DatabaseError, match="never"), writing(engine) as connection:
        connection.execute(text(statement))
    engine.dispose()
