"""SQL for flitches, bundles and the change table; runs alike on SQLite and PostgreSQL."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, Table, insert, select, update
from sqlalchemy.exc import IntegrityError

from catalog import tables
from catalog.errors import AlreadyThere, NotInCatalog
from catalog.reading_json import from_json
from catalog.records import (
    Bundle,
    BundleId,
    Change,
    ChangeId,
    Flitch,
    FlitchId,
)
from vision.bundle_light import BundleLight

FLITCH_FIELDS = ("name", "species", "cut", "figure", "note")


@dataclass(frozen=True, slots=True)
class Signature:
    """Who makes a change, and when."""

    who: str
    at: datetime


def add_flitch(connection: Connection, values: Mapping[str, str], *, by: Signature) -> FlitchId:
    """Add a flitch; ``values`` holds all of `FLITCH_FIELDS`."""
    row_id = insert_row(
        connection,
        tables.flitch,
        {**values, "search_text": search_text(values), "added_at": by.at},
        taken=f"There is a flitch named {values['name']} already. Choose another name.",
    )
    log_change(connection, by, what="flitch added", of=("flitch", row_id), after=values)
    return FlitchId(row_id)


def edit_flitch(
    connection: Connection, flitch_id: FlitchId, values: Mapping[str, str], *, by: Signature
) -> None:
    """Set the given fields of a flitch."""
    row = _row(connection, tables.flitch, flitch_id, kind="flitch", lock=True)
    before, after = _difference(row, values)
    if not after:
        return
    whole = {name: after.get(name, row[name]) for name in FLITCH_FIELDS}
    statement = update(tables.flitch).where(tables.flitch.c.id == flitch_id)
    try:
        connection.execute(statement.values(**after, search_text=search_text(whole)))
    except IntegrityError as error:
        raise AlreadyThere(
            f"There is a flitch named {whole['name']} already. Choose another name."
        ) from error
    log_change(
        connection, by, what="flitch edited", of=("flitch", flitch_id), before=before, after=after
    )


def flitch(connection: Connection, flitch_id: FlitchId) -> Flitch:
    """Return one flitch."""
    return flitch_of(_row(connection, tables.flitch, flitch_id, kind="flitch"))


def flitch_of(row: RowMapping) -> Flitch:
    """Return the flitch that a row of its table holds."""
    return Flitch(
        flitch_id=FlitchId(row["id"]),
        **{name: row[name] for name in FLITCH_FIELDS},
        added_at=row["added_at"],
    )


def add_bundle(
    connection: Connection, flitch_id: FlitchId, *, label: str, note: str, by: Signature
) -> BundleId:
    """Add a bundle to a flitch."""
    owner = _row(connection, tables.flitch, flitch_id, kind="flitch")
    values = {"flitch_id": flitch_id, "label": label, "note": note}
    row_id = insert_row(
        connection,
        tables.bundle,
        {**values, "added_at": by.at},
        taken=f"Flitch {owner['name']} has a bundle {label} already. Choose another label.",
    )
    log_change(connection, by, what="bundle added", of=("bundle", row_id), after=values)
    return BundleId(row_id)


def edit_bundle(
    connection: Connection, bundle_id: BundleId, values: Mapping[str, str], *, by: Signature
) -> None:
    """Set label or note of a bundle."""
    row = _row(connection, tables.bundle, bundle_id, kind="bundle", lock=True)
    before, after = _difference(row, values)
    if not after:
        return
    statement = update(tables.bundle).where(tables.bundle.c.id == bundle_id)
    try:
        connection.execute(statement.values(**after))
    except IntegrityError as error:
        raise AlreadyThere(
            f"The flitch has a bundle {values['label']} already. Choose another label."
        ) from error
    log_change(
        connection, by, what="bundle edited", of=("bundle", bundle_id), before=before, after=after
    )


def bundle(connection: Connection, bundle_id: BundleId) -> Bundle:
    """Return one bundle."""
    return _bundle_of(_row(connection, tables.bundle, bundle_id, kind="bundle"))


def bundles(connection: Connection, flitch_id: FlitchId) -> tuple[Bundle, ...]:
    """Return the bundles of a flitch in the order they were added."""
    _row(connection, tables.flitch, flitch_id, kind="flitch")
    bundle_table = tables.bundle
    rows = connection.execute(
        select(bundle_table)
        .where(bundle_table.c.flitch_id == flitch_id)
        .order_by(bundle_table.c.id)
    )
    return tuple(_bundle_of(row) for row in rows.mappings())


def lock_bundle(connection: Connection, bundle_id: BundleId) -> RowMapping:
    """Return a bundle's row and keep other writers off that bundle until the transaction ends."""
    return _row(connection, tables.bundle, bundle_id, kind="bundle", lock=True)


def settle_bundle_light(
    connection: Connection, bundle_id: BundleId, light: Mapping[str, Any]
) -> BundleLight:
    """Set a bundle's common light if it has none, and return the one it has now."""
    row = lock_bundle(connection, bundle_id)
    if row["light"] is not None:
        return from_json(BundleLight, row["light"])
    statement = update(tables.bundle).where(tables.bundle.c.id == bundle_id)
    connection.execute(statement.values(light=dict(light)))
    return from_json(BundleLight, light)


def log_change(
    connection: Connection,
    by: Signature,
    *,
    what: str,
    of: tuple[str, int],
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
) -> None:
    """Append to the change table, in the transaction of the change itself."""
    connection.execute(
        insert(tables.change).values(
            at=by.at,
            who=by.who,
            what=what,
            kind=of[0],
            kind_id=of[1],
            before=None if before is None else dict(before),
            after=None if after is None else dict(after),
        )
    )


def changes(
    connection: Connection,
    *,
    of: tuple[str, int] | None,
    after: ChangeId | None,
    limit: int | None,
) -> tuple[Change, ...]:
    """Return changes in the order they were made."""
    change = tables.change
    statement = select(change).order_by(change.c.id)
    if of is not None:
        statement = statement.where(change.c.kind == of[0], change.c.kind_id == of[1])
    if after is not None:
        statement = statement.where(change.c.id > after)
    if limit is not None:
        statement = statement.limit(limit)
    return tuple(
        Change(
            change_id=ChangeId(row["id"]),
            **{
                name: row[name]
                for name in ("at", "who", "what", "kind", "kind_id", "before", "after")
            },
        )
        for row in connection.execute(statement).mappings()
    )


def insert_row(
    connection: Connection, table: Table, values: Mapping[str, Any], *, taken: str
) -> int:
    """Insert a row and return its number; `AlreadyThere` says ``taken`` if its key is in use."""
    try:
        row_id: int = connection.execute(
            insert(table).values(**values).returning(table.c.id)
        ).scalar_one()
    except IntegrityError as error:
        raise AlreadyThere(taken) from error
    return row_id


def search_text(values: Mapping[str, str]) -> str:
    """Return the words of a flitch, folded so that both databases compare them alike."""
    return fold(" ".join(values[name] for name in FLITCH_FIELDS))


def fold(text: str) -> str:
    """Return ``text`` without capitals and accents, for comparing.

    Examples
    --------
    >>> fold("Érable Sycomore")
    'erable sycomore'
    """
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in decomposed if not unicodedata.combining(letter))


def _bundle_of(row: RowMapping) -> Bundle:
    light = row["light"]
    return Bundle(
        bundle_id=BundleId(row["id"]),
        flitch_id=FlitchId(row["flitch_id"]),
        label=row["label"],
        note=row["note"],
        light=None if light is None else from_json(BundleLight, light),
        added_at=row["added_at"],
    )


def _row(
    connection: Connection, table: Table, row_id: int, *, kind: str, lock: bool = False
) -> RowMapping:
    statement = select(table).where(table.c.id == row_id)
    if lock:
        statement = statement.with_for_update()  # SQLite's writer is alone already
    row = connection.execute(statement).mappings().one_or_none()
    if row is None:
        raise NotInCatalog(f"There is no {kind} number {row_id}. Look it up in the list again.")
    return row


def _difference(
    row: RowMapping, values: Mapping[str, str]
) -> tuple[dict[str, str], dict[str, str]]:
    changed = [name for name, value in values.items() if row[name] != value]
    return {name: row[name] for name in changed}, {name: values[name] for name in changed}
