"""Migration 3: outlines of leaves corrected by hand, a table that only grows.

Released, therefore never edited: what changes later is a migration of its own.
"""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    Column,
    Connection,
    DateTime,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
)
from sqlalchemy.dialects.postgresql import JSONB

from catalog.only_grows import let_only_grow

_Json = JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")
_metadata = MetaData()

Table("photo", _metadata, Column("id", Integer, primary_key=True))
_corrections = Table(
    "outline_correction",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("photo_id", ForeignKey("photo.id"), nullable=False),
    Column("side", Integer, nullable=False),
    Column("act", Text, nullable=False),
    Column("points", _Json),
    Column("before", _Json, nullable=False),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("who", Text, nullable=False),
)
Index("outline_correction_of_photo", _corrections.c.photo_id)


def create_outline_corrections(connection: Connection) -> None:
    """Create the table of corrected outlines, and the triggers that let it only grow."""
    _corrections.create(connection)
    let_only_grow(connection, "outline_correction", rows="corrections of outlines")
