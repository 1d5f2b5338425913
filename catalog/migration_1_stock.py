"""Migration 1: flitches, bundles, leaves, photographs, their pictures, and the change table.

Released, therefore never edited: what changes later is a migration of its own.
"""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Connection,
    DateTime,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    true,
)
from sqlalchemy.dialects.postgresql import JSONB

from catalog.only_grows import let_only_grow

Json = JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")
Sha256 = String(64)
_metadata = MetaData()

Table(
    "flitch",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("species", Text, nullable=False),
    Column("cut", Text, nullable=False),
    Column("figure", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("search_text", Text, nullable=False),
    Column("added_at", DateTime(timezone=True), nullable=False),
)

Table(
    "bundle",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("flitch_id", ForeignKey("flitch.id"), nullable=False),
    Column("label", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("light", Json),
    Column("added_at", DateTime(timezone=True), nullable=False),
    UniqueConstraint("flitch_id", "label", name="bundle_label_once"),
)

Table(
    "leaf",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("bundle_id", ForeignKey("bundle.id"), nullable=False),
    Column("label", Text, nullable=False),
    Column("position", Integer, nullable=False),
    Column("length_mm", Float),
    Column("width_mm", Float),
    Column("scale_class", Text, nullable=False),
    UniqueConstraint("bundle_id", "label", name="leaf_label_once"),
    UniqueConstraint("bundle_id", "position", name="leaf_position_once"),
)

Table(
    "photo",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("bundle_id", ForeignKey("bundle.id"), nullable=False),
    Column("sha256", Sha256, nullable=False),
    Column("file", Text, nullable=False),
    Column("leaf", Text, nullable=False),
    Column("laid", Text, nullable=False),
    Column("lamp", Text, nullable=False),
    Column("blank", Boolean, nullable=False),
    Column("wet", Boolean, nullable=False),
    Column("length_mm", Float),
    Column("width_mm", Float),
    Column("reading", Json, nullable=False),
    Column("pipeline_version", Text, nullable=False),
    Column("settings", Json, nullable=False),
    Column("taken_in_at", DateTime(timezone=True), nullable=False),
    UniqueConstraint("bundle_id", "sha256", name="photo_once"),
)

_leaf_picture = Table(
    "leaf_picture",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("photo_id", ForeignKey("photo.id"), nullable=False),
    Column("side", Integer, nullable=False),
    Column("leaf_id", ForeignKey("leaf.id"), nullable=False),
    Column("flat", Sha256, nullable=False),
    Column("screen", Sha256, nullable=False),
    Column("thumb", Sha256, nullable=False),
    Column("mask", Sha256, nullable=False),
    Column("measured", Json, nullable=False),
    Column("light", Json, nullable=False),
    Column("plain_rank", Integer, nullable=False),
    Column("is_plain", Boolean, nullable=False),
    UniqueConstraint("photo_id", "side", name="leaf_picture_side_once"),
    UniqueConstraint("photo_id", "leaf_id", name="leaf_picture_leaf_once"),
)
Index("leaf_picture_of_leaf", _leaf_picture.c.leaf_id)
Index(
    "leaf_picture_one_plain",
    _leaf_picture.c.leaf_id,
    unique=True,
    sqlite_where=_leaf_picture.c.is_plain == true(),
    postgresql_where=_leaf_picture.c.is_plain == true(),
)

Table(
    "alternation",
    _metadata,
    Column("bundle_id", ForeignKey("bundle.id"), primary_key=True),
    Column("match", Text, primary_key=True),
    Column("pairs", Json, nullable=False),
    Column("worst_rank", Integer, nullable=False),
    Column("computed_at", DateTime(timezone=True), nullable=False),
)

Table(
    "refusal",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("bundle_id", ForeignKey("bundle.id"), nullable=False),
    Column("file", Text, nullable=False),
    Column("folder", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("at", DateTime(timezone=True), nullable=False),
    UniqueConstraint("bundle_id", "file", name="refusal_once"),
)

_change = Table(
    "change",
    _metadata,
    Column("id", Integer, primary_key=True),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("kind_id", Integer, nullable=False),
    Column("before", Json),
    Column("after", Json),
)
Index("change_of", _change.c.kind, _change.c.kind_id)


def create_stock(connection: Connection) -> None:
    """Create the first tables, and the triggers that let the change table only grow."""
    _metadata.create_all(connection, checkfirst=False)
    let_only_grow(connection, "change", rows="rows of the change table")
