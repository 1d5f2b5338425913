"""A PostgreSQL server of the tests' own: loopback, random port, gone afterwards."""

from __future__ import annotations

import os
import secrets
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import create_engine, make_url, text
from sqlalchemy.engine import URL

BINARIES = "/usr/lib/postgresql/*/bin"
USER = "postgres"


@contextmanager
def a_server() -> Iterator[URL]:
    """Yield the address of a server in which databases may be made."""
    given = os.environ.get("TEST_DATABASE_URL")
    if given:
        yield make_url(given)
        return
    binaries = _binaries()
    home = Path(tempfile.mkdtemp(prefix="veneer-postgres-"))
    account = USER if os.geteuid() == 0 else None
    try:
        password = secrets.token_hex(16)
        (home / "password").write_text(password)
        if account:
            for path in (home, home / "password"):
                shutil.chown(path, account)
        data = home / "data"
        _run(
            [binaries / "initdb", "-D", data, "-U", USER, "-E", "UTF8", "--locale=C", "-N"]
            + ["-A", "scram-sha-256", f"--pwfile={home / 'password'}"],
            account,
        )
        port = _free_port()
        options = f"-h 127.0.0.1 -p {port} -c unix_socket_directories= -c fsync=off"
        control = [binaries / "pg_ctl", "-D", data, "-l", home / "log", "-w"]
        _run([*control, "-o", options, "start"], account)
        try:
            yield URL.create(
                "postgresql+psycopg", USER, password, host="127.0.0.1", port=port, database=USER
            )
        finally:
            _run([*control, "-m", "immediate", "stop"], account)
    finally:
        shutil.rmtree(home)


@contextmanager
def a_database(server: URL) -> Iterator[URL]:
    """Yield the address of an empty database."""
    name = f"veneer_{secrets.token_hex(6)}"
    _administer(server, f"CREATE DATABASE {name}")
    try:
        yield server.set(database=name)
    finally:
        _administer(server, f"DROP DATABASE {name} WITH (FORCE)")


def unavailable(reason: str) -> None:
    """Skip at home; on the server that runs the gate, a missing database is a failure."""
    if os.environ.get("CI"):
        pytest.fail(reason)
    pytest.skip(reason)


def _binaries() -> Path:
    found = sorted(Path("/").glob(BINARIES.lstrip("/")))
    if not found:
        unavailable("PostgreSQL is not installed: apt-get install postgresql")
    try:
        import psycopg  # noqa: F401
    except ImportError:
        unavailable("psycopg is not installed: pip install 'psycopg[binary]'")
    return found[-1]


def _administer(server: URL, statement: str) -> None:
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()


def _run(command: list[str | Path], account: str | None) -> None:
    with tempfile.TemporaryFile() as output:  # a pipe would stay open with the server
        done = subprocess.run(
            command, user=account, cwd="/", stdout=output, stderr=output, check=False
        )
        output.seek(0)
        assert done.returncode == 0, output.read().decode()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port
