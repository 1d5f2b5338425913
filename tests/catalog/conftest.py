"""Catalogues in a temporary folder, on SQLite and on PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy.engine import URL

from catalog.catalog import Catalog, open_catalog
from sample_images import FlitchPlan, draw_flitch
from tests.catalog.postgres_server import a_database, a_server


class Clock:
    """Moves on by a minute each time it is read."""

    def __init__(self) -> None:
        self.time = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.time += timedelta(minutes=1)
        return self.time


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[URL]:
    with a_server() as server:
        yield server


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of an empty database; a test that takes it runs on both kinds."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'catalog.db'}"
        return
    with a_database(request.getfixturevalue("postgres_server")) as url:
        yield url.render_as_string(hide_password=False)


@pytest.fixture
def catalog(database: str, tmp_path: Path) -> Iterator[Catalog]:
    """An empty catalogue on either kind of database."""
    with open_catalog(database, pictures=tmp_path / "pictures", who="Ines", now=Clock()) as opened:
        yield opened


@pytest.fixture
def sqlite_catalog(tmp_path: Path) -> Iterator[Catalog]:
    """An empty catalogue in a file."""
    with open_catalog(tmp_path / "catalog.db", who="Ines", now=Clock()) as opened:
        yield opened


@pytest.fixture(scope="session")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Small photographs of three leaves: under lamp A, under lamp B, opened in pairs; bare board.

    Draw once, copy what is to be altered; see `some_photos`.
    """
    folder = tmp_path_factory.mktemp("drawn") / "photos"
    plan = FlitchPlan(
        seed=17,
        leaves=3,
        photo_px=(600, 900),
        shots=("blank/A", "as-lies/A", "as-lies/B", "opened-pair/A"),
        gps_share=1.0,
    )
    for _ in draw_flitch(plan, folder):
        pass
    return folder
