"""Migration 4: orders of bundles corrected by hand, a table that only grows.

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

Table("bundle", _metadata, Column("id", Integer, primary_key=True))
_corrections = Table(
    "order_correction",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("bundle_id", ForeignKey("bundle.id"), nullable=False),
    Column("act", Text, nullable=False),
    Column("labels", _Json, nullable=False),
    Column("before", _Json, nullable=False),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("who", Text, nullable=False),
)
Index("order_correction_of_bundle", _corrections.c.bundle_id)


def create_order_corrections(connection: Connection) -> None:
    """Create the table of corrected orders, and the triggers that let it only grow."""
    _corrections.create(connection)
    let_only_grow(connection, "order_correction", rows="corrections of the order")
