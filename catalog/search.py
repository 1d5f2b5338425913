"""SQL for finding stock: flitches by word and flag, the leaves of a bundle as cards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, RowMapping, ScalarSelect, Select, func, select

from catalog import tables
from catalog.reading_json import from_json
from catalog.records import (
    BundleId,
    FlitchCard,
    FlitchId,
    LeafCard,
    LeafId,
    PhotoId,
    PictureKeys,
)
from catalog.store import flitch_of, fold
from catalog.store_findings import WORST_ORDER
from catalog.store_photos import PICTURE_COLUMNS, SHOT_COLUMNS, picture_keys, shot_of
from vision.flags import AlternationFlag, PhotoFlag
from vision.readings import LeafColour, LeafFigure, LeafSize, ScaleClass

MM2_PER_M2 = 1_000_000.0


def find_flitches(
    connection: Connection,
    *,
    words: str,
    exactly: Mapping[str, str],
    flag: str,
    after: FlitchId | None,
    limit: int | None,
) -> tuple[FlitchCard, ...]:
    """Return flitches, newest first, that hold every one of the ``words``.

    ``exactly`` maps columns to the value they must have; ``flag`` is the worst alternation flag;
    ``after`` and ``limit`` turn pages.
    """
    flitch = tables.flitch
    worst = _worst_rank()
    statement = select(flitch, worst.label("worst_rank")).order_by(flitch.c.id.desc())
    for word in fold(words).split():
        statement = statement.where(flitch.c.search_text.contains(word, autoescape=True))
    for column, value in exactly.items():
        statement = statement.where(flitch.c[column] == value)
    if flag:
        statement = statement.where(worst == WORST_ORDER.index(AlternationFlag(flag)))
    if after is not None:
        statement = statement.where(flitch.c.id < after)
    if limit is not None:
        statement = statement.limit(limit)
    rows = connection.execute(statement).mappings().all()
    return _with_counts(connection, rows)


def values_in_use(connection: Connection, column: str) -> tuple[str, ...]:
    """Return the different values of a column of the flitches, without the empty one."""
    chosen = tables.flitch.c[column]
    found = connection.scalars(select(chosen).distinct().where(chosen != ""))
    return tuple(sorted(found, key=fold))


def leaves(connection: Connection, bundle_id: BundleId) -> tuple[LeafCard, ...]:
    """Return a bundle's leaves in order, each with its plain picture."""
    leaf, lp, photo = tables.leaf, tables.leaf_picture, tables.photo
    every = lp.alias()
    photo_count = (
        select(func.count())
        .select_from(every)
        .where(every.c.leaf_id == leaf.c.id)
        .scalar_subquery()
    )
    shot = [photo.c[name].label(f"shot_{name}") for name in SHOT_COLUMNS]
    statement = (
        select(
            leaf,
            *(lp.c[name] for name in (*PICTURE_COLUMNS, "measured", "photo_id")),
            photo.c.reading["flags"].label("flags"),
            *shot,
            photo_count.label("photo_count"),
        )
        .join(lp, (lp.c.leaf_id == leaf.c.id) & lp.c.is_plain)
        .join(photo, photo.c.id == lp.c.photo_id)
        .where(leaf.c.bundle_id == bundle_id)
        .order_by(leaf.c.position)
    )
    return tuple(_leaf_card(row) for row in connection.execute(statement).mappings())


def _worst_rank() -> ScalarSelect[Any]:
    alternation, bundle = tables.alternation, tables.bundle
    return (
        select(func.max(alternation.c.worst_rank))
        .join(bundle, bundle.c.id == alternation.c.bundle_id)
        .where(bundle.c.flitch_id == tables.flitch.c.id, alternation.c.match == "book")
        .scalar_subquery()
    )


def _with_counts(connection: Connection, rows: Sequence[RowMapping]) -> tuple[FlitchCard, ...]:
    ids = [row["id"] for row in rows]
    totals = {row["flitch_id"]: row for row in connection.execute(_totals(ids)).mappings()}
    covers = _covers(connection, ids)
    cards = []
    for row in rows:
        total = totals.get(row["id"])
        rank = row["worst_rank"]
        cards.append(
            FlitchCard(
                flitch=flitch_of(row),
                bundle_count=total["bundle_count"] if total else 0,
                leaf_count=total["leaf_count"] if total else 0,
                area_m2=(total["area_mm2"] or 0.0) / MM2_PER_M2 if total else 0.0,
                sized_leaf_count=total["sized_leaf_count"] if total else 0,
                cover=covers.get(row["id"]),
                worst=None if rank is None else WORST_ORDER[rank],
            )
        )
    return tuple(cards)


def _totals(flitch_ids: Sequence[int]) -> Select[Any]:
    bundle, leaf = tables.bundle, tables.leaf
    area = leaf.c.length_mm * leaf.c.width_mm
    return (
        select(
            bundle.c.flitch_id,
            func.count(bundle.c.id.distinct()).label("bundle_count"),
            func.count(leaf.c.id).label("leaf_count"),
            func.count(area).label("sized_leaf_count"),
            func.sum(area).label("area_mm2"),
        )
        .outerjoin(leaf, leaf.c.bundle_id == bundle.c.id)
        .where(bundle.c.flitch_id.in_(flitch_ids))
        .group_by(bundle.c.flitch_id)
    )


def _covers(connection: Connection, flitch_ids: Sequence[int]) -> dict[int, PictureKeys]:
    """Return the plain picture of each flitch's first leaf."""
    bundle, leaf, lp = tables.bundle, tables.leaf, tables.leaf_picture
    first = (
        func.row_number()
        .over(partition_by=bundle.c.flitch_id, order_by=(bundle.c.id, leaf.c.position))
        .label("place")
    )
    ranked = (
        select(bundle.c.flitch_id, leaf.c.id.label("leaf_id"), first)
        .join(leaf, leaf.c.bundle_id == bundle.c.id)
        .where(bundle.c.flitch_id.in_(flitch_ids))
        .subquery()
    )
    statement = (
        select(ranked.c.flitch_id, *(lp.c[name] for name in PICTURE_COLUMNS))
        .join(lp, (lp.c.leaf_id == ranked.c.leaf_id) & lp.c.is_plain)
        .where(ranked.c.place == 1)
    )
    rows = connection.execute(statement).mappings()
    return {row["flitch_id"]: picture_keys(row) for row in rows}


def _leaf_card(row: RowMapping) -> LeafCard:
    measured = row["measured"]
    return LeafCard(
        leaf_id=LeafId(row["id"]),
        bundle_id=BundleId(row["bundle_id"]),
        label=row["label"],
        position=row["position"],
        size=_best_size(from_json(LeafSize, measured["size"]), row),
        colour=from_json(LeafColour, measured["colour"]),
        figure=from_json(LeafFigure, measured["figure"]),
        pictures=picture_keys(row),
        shot=shot_of({name: row[f"shot_{name}"] for name in SHOT_COLUMNS}),
        photo_id=PhotoId(row["photo_id"]),
        flags=tuple(PhotoFlag(flag) for flag in row["flags"]),
        photo_count=row["photo_count"],
    )


def _best_size(plain: LeafSize, row: RowMapping) -> LeafSize:
    """Return the plain picture's size, its scale taken from another photograph if need be."""
    if plain.length_mm is not None or row["length_mm"] is None:
        return plain
    return replace(
        plain,
        length_mm=row["length_mm"],
        width_mm=row["width_mm"],
        px_per_mm=plain.length_px / row["length_mm"],
        scale_class=ScaleClass(row["scale_class"]),
    )
