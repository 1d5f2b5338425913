"""Migration 2: shooting stations, which one a photograph was taken at, and how thick its stack was.

Also the parts in which a long leaf was photographed there.

Released, therefore never edited: what changes later is a migration of its own.
"""

from __future__ import annotations

from sqlalchemy import JSON, Column, Connection, DateTime, Index, Integer, MetaData, Table, Text
from sqlalchemy.dialects.postgresql import JSONB

_Json = JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")
_stations = Table(
    "station",
    MetaData(),
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("profile", _Json, nullable=False),
    Column("quality", _Json, nullable=False),
    Column("added_at", DateTime(timezone=True), nullable=False),
    Column("who", Text, nullable=False),
)
Index("station_by_name", _stations.c.name, _stations.c.id)


def create_stations(connection: Connection) -> None:
    """Create the table of stations, and the columns of a photograph that lean on it."""
    _stations.create(connection)
    connection.exec_driver_sql("ALTER TABLE photo ADD COLUMN station_id INTEGER")
    connection.exec_driver_sql("ALTER TABLE photo ADD COLUMN thickness_mm FLOAT")
    kind = "JSONB" if connection.dialect.name == "postgresql" else "JSON"
    connection.exec_driver_sql(f"ALTER TABLE photo ADD COLUMN parts {kind}")
