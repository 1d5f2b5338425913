"""The tables as they stand after the last migration."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
    true,
)
from sqlalchemy.dialects.postgresql import JSONB

Json = JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")
Sha256 = String(64)


class Moment(TypeDecorator[datetime]):
    """A point in time with its zone, kept as UTC; a time without a zone is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return ``value`` in UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value} has no time zone; the clock handed in must give one.")
        return value.astimezone(UTC)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the stored time with its zone: SQLite hands it back without."""
        if value is None:
            return None
        stored: datetime = value
        return stored.replace(tzinfo=UTC) if stored.tzinfo is None else stored.astimezone(UTC)


metadata = MetaData()

flitch = Table(
    "flitch",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("species", Text, nullable=False),
    Column("cut", Text, nullable=False),
    Column("figure", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("search_text", Text, nullable=False),
    Column("added_at", Moment, nullable=False),
)

bundle = Table(
    "bundle",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("flitch_id", ForeignKey("flitch.id"), nullable=False),
    Column("label", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("light", Json),
    Column("added_at", Moment, nullable=False),
    UniqueConstraint("flitch_id", "label", name="bundle_label_once"),
)

leaf = Table(
    "leaf",
    metadata,
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

photo = Table(
    "photo",
    metadata,
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
    Column("taken_in_at", Moment, nullable=False),
    Column("station_id", Integer),
    Column("thickness_mm", Float),
    Column("parts", Json),
    UniqueConstraint("bundle_id", "sha256", name="photo_once"),
)

leaf_picture = Table(
    "leaf_picture",
    metadata,
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
Index("leaf_picture_of_leaf", leaf_picture.c.leaf_id)
Index(
    "leaf_picture_one_plain",
    leaf_picture.c.leaf_id,
    unique=True,
    sqlite_where=leaf_picture.c.is_plain == true(),
    postgresql_where=leaf_picture.c.is_plain == true(),
)

alternation = Table(
    "alternation",
    metadata,
    Column("bundle_id", ForeignKey("bundle.id"), primary_key=True),
    Column("match", Text, primary_key=True),
    Column("pairs", Json, nullable=False),
    Column("worst_rank", Integer, nullable=False),
    Column("computed_at", Moment, nullable=False),
)

refusal = Table(
    "refusal",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("bundle_id", ForeignKey("bundle.id"), nullable=False),
    Column("file", Text, nullable=False),
    Column("folder", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("at", Moment, nullable=False),
    UniqueConstraint("bundle_id", "file", name="refusal_once"),
)

change = Table(
    "change",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", Moment, nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("kind_id", Integer, nullable=False),
    Column("before", Json),
    Column("after", Json),
)
Index("change_of", change.c.kind, change.c.kind_id)

station = Table(
    "station",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("profile", Json, nullable=False),
    Column("quality", Json, nullable=False),
    Column("added_at", Moment, nullable=False),
    Column("who", Text, nullable=False),
)
Index("station_by_name", station.c.name, station.c.id)

outline_correction = Table(
    "outline_correction",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("photo_id", ForeignKey("photo.id"), nullable=False),
    Column("side", Integer, nullable=False),
    Column("act", Text, nullable=False),
    Column("points", Json),
    Column("before", Json, nullable=False),
    Column("at", Moment, nullable=False),
    Column("who", Text, nullable=False),
)
Index("outline_correction_of_photo", outline_correction.c.photo_id)

order_correction = Table(
    "order_correction",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("bundle_id", ForeignKey("bundle.id"), nullable=False),
    Column("act", Text, nullable=False),
    Column("labels", Json, nullable=False),
    Column("before", Json, nullable=False),
    Column("at", Moment, nullable=False),
    Column("who", Text, nullable=False),
)
Index("order_correction_of_bundle", order_correction.c.bundle_id)

leaf_trace = Table(
    "leaf_trace",
    metadata,
    Column("screen", Sha256, primary_key=True),
    Column("mask", Sha256, primary_key=True),
    Column("version", Text, primary_key=True),
    Column("trace", LargeBinary, nullable=False),
)
