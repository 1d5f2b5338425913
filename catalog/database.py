"""The connection to the database: SQLite in a file, or PostgreSQL by address.

Safe under several processes: SQLite runs with a write-ahead log, so that reading never waits for
writing, and every writing transaction takes the write lock when it begins, so that it never
fails half way for having begun with a read.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, NullPool, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DatabaseError, NoSuchModuleError, OperationalError

from catalog.errors import CatalogError, CatalogOutOfReach

BUSY_TIMEOUT_MS = 30_000
"""How long a writer waits for the others: longer than any one transaction takes."""
DIALECTS = ("sqlite", "postgresql")


def database_url(address: str | Path) -> URL:
    """Return a database address from an URL or from the path of an SQLite file.

    Raises
    ------
    CatalogError
        If it is neither, or names a database that is not supported.

    Examples
    --------
    >>> database_url("stock/catalog.db").database
    'stock/catalog.db'
    >>> database_url("postgresql://ines@host/stock").drivername
    'postgresql+psycopg'
    """
    text = str(address)
    if "://" not in text:
        return URL.create("sqlite", database=text)
    try:
        url = make_url(text)
        dialect = url.get_backend_name()
    except (ArgumentError, NoSuchModuleError, ValueError) as error:
        raise CatalogError(
            f"{text!r} is no address of a catalogue. Give the path of a file, or an address such "
            "as postgresql+psycopg://user@host/name."
        ) from error
    if dialect not in DIALECTS:
        raise CatalogError(
            f"Catalogues are kept in SQLite or PostgreSQL, not in {dialect}. Give the path of a "
            "file, or an address such as postgresql+psycopg://user@host/name."
        )
    if dialect == "sqlite" and (not url.database or ":memory:" in url.database):
        raise CatalogError(
            "A catalogue in memory would be gone with the program. Give the path of a file."
        )
    if url.drivername == "postgresql":
        return url.set(drivername="postgresql+psycopg")
    return url


def connect(url: URL) -> Engine:
    """Return an engine for ``url``; the folder of an SQLite file is made if need be.

    Raises
    ------
    CatalogOutOfReach
        If the database driver is missing or the folder cannot be made.
    """
    if url.get_backend_name() == "sqlite":
        return _connect_sqlite(url)
    try:
        return create_engine(url, pool_pre_ping=True)
    except ModuleNotFoundError as error:
        raise CatalogOutOfReach(
            f"The driver {error.name} for {url.drivername} is not installed. Write the address as "
            "postgresql+psycopg://..., and install its driver: pip install 'psycopg[binary]'"
        ) from error


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Yield a connection that sees the catalogue as it stands at one moment."""
    if engine.dialect.name == "postgresql":
        engine = engine.execution_options(isolation_level="REPEATABLE READ")
    with _told_in_words(engine), engine.connect() as connection:
        yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Yield a connection whose work is kept as a whole or not at all."""
    with (
        _told_in_words(engine),
        engine.execution_options(writes=True).connect() as connection,
        connection.begin(),
    ):
        yield connection


@contextmanager
def _told_in_words(engine: Engine) -> Iterator[None]:
    try:
        yield
    except DatabaseError as error:
        if type(error) not in (OperationalError, DatabaseError):  # a fault of the program
            raise
        raise CatalogOutOfReach(
            f"The catalogue {engine.url.render_as_string()} cannot be used: {error.orig}. Check "
            "that it is there, may be written, and that no other program holds it; then try again."
        ) from error


def _connect_sqlite(url: URL) -> Engine:
    file = Path(str(url.database)).expanduser()
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CatalogOutOfReach(
            f"The folder {file.parent} for the catalogue cannot be made: {error.strerror}. Choose "
            "another place."
        ) from error
    engine = create_engine(
        url.set(database=str(file)),
        poolclass=NullPool,
        connect_args={"timeout": BUSY_TIMEOUT_MS / 1000},
    )
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(raw: Any, _record: Any) -> None:
    raw.isolation_level = None  # transactions are begun in `_begin_sqlite`, DDL included
    cursor = raw.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    cursor.execute("PRAGMA foreign_keys = ON")
    if cursor.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
