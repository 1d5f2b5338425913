"""Migration 5: traces of leaves, by which one leaf is looked for among all.

Released, therefore never edited: what changes later is a migration of its own.
"""

from __future__ import annotations

from sqlalchemy import Column, Connection, LargeBinary, MetaData, String, Table, Text

_metadata = MetaData()

_traces = Table(
    "leaf_trace",
    _metadata,
    Column("screen", String(64), primary_key=True),
    Column("mask", String(64), primary_key=True),
    Column("version", Text, primary_key=True),
    Column("trace", LargeBinary, nullable=False),
)


def create_leaf_traces(connection: Connection) -> None:
    """Create the table of traces; each can be made again from the pictures it is named for."""
    _traces.create(connection)
