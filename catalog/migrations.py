"""Bring a catalogue up to date when it is opened: ordered steps, each recorded as it is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    Integer,
    MetaData,
    Table,
    Text,
    func,
    insert,
    inspect,
    select,
    text,
)

from catalog.database import reading, writing
from catalog.errors import CatalogError, CatalogTooNew
from catalog.migration_1_stock import create_stock
from catalog.migration_2_stations import create_stations
from catalog.migration_3_outlines import create_outline_corrections
from catalog.migration_4_orders import create_order_corrections
from catalog.migration_5_traces import create_leaf_traces
from catalog.tables import Moment

_ADVISORY_LOCK = 7_316_204_551
"""Any number, as long as only migrations of this catalogue take it (PostgreSQL)."""

_versions = Table(
    "catalog_version",
    MetaData(),
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
    Column("migrated_at", Moment, nullable=False),
)


@dataclass(frozen=True, slots=True)
class Migration:
    """One step; a released one is never edited."""

    name: str
    apply: Callable[[Connection], None]


MIGRATIONS: tuple[Migration, ...] = (
    Migration("stock", create_stock),
    Migration("stations", create_stations),
    Migration("outlines", create_outline_corrections),
    Migration("orders", create_order_corrections),
    Migration("traces", create_leaf_traces),
)
"""In order; the version of a catalogue is how many of them it has seen."""


def migrate(
    engine: Engine,
    *,
    now: Callable[[], datetime],
    migrations: Sequence[Migration] = MIGRATIONS,
) -> None:
    """Bring the catalogue behind ``engine`` to the last version, making it if it is new.

    Each step and its record are one transaction; a second process that opens the catalogue in the
    meantime waits and then finds nothing left to do.

    Raises
    ------
    CatalogTooNew
        If a newer program has been at it.
    CatalogError
        If the database holds something else.
    """
    if version_of(engine) == len(migrations):
        return
    while _migrate_one_step(engine, now=now, migrations=migrations):
        pass


def version_of(engine: Engine) -> int:
    """Return how many migrations the catalogue has seen; 0 for an empty database."""
    with reading(engine) as connection:
        return _version(connection)


def _migrate_one_step(
    engine: Engine, *, now: Callable[[], datetime], migrations: Sequence[Migration]
) -> bool:
    with writing(engine) as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text(f"SELECT pg_advisory_xact_lock({_ADVISORY_LOCK})"))
        version = _version(connection)
        if version > len(migrations):
            raise CatalogTooNew(
                f"This catalogue is at version {version}; this program knows versions up to "
                f"{len(migrations)}. Update the program, then open the catalogue again."
            )
        if version == len(migrations):
            return False
        if version == 0:
            _refuse_foreign_tables(connection)
            _versions.create(connection)
        step = migrations[version]
        step.apply(connection)
        connection.execute(
            insert(_versions).values(version=version + 1, name=step.name, migrated_at=now())
        )
    return True


def _version(connection: Connection) -> int:
    if not inspect(connection).has_table(_versions.name):
        return 0
    return connection.scalar(select(func.max(_versions.c.version))) or 0


def _refuse_foreign_tables(connection: Connection) -> None:
    found = inspect(connection).get_table_names()
    if found:
        raise CatalogError(
            f"This database holds other tables ({', '.join(sorted(found)[:5])}) and is no "
            "catalogue. Name an empty one, or another file."
        )
