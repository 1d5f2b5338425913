"""SQL for shooting stations: every set-up is a row that stays; the newest of a name holds."""

from __future__ import annotations

from sqlalchemy import Connection, RowMapping, insert, select

from catalog import tables
from catalog.errors import NotInCatalog
from catalog.reading_json import from_json, to_json
from catalog.records import KnownStation, StationId
from catalog.store import Signature, log_change
from vision.readings import PhotoQuality
from vision.shooting_station import ShootingStation


def add_station(
    connection: Connection, station: ShootingStation, quality: PhotoQuality, *, by: Signature
) -> StationId:
    """Record a set-up; earlier ones of the same name stay for the photographs taken at them."""
    result = connection.execute(
        insert(tables.station)
        .values(
            name=station.name,
            profile=to_json(station),
            quality=to_json(quality),
            added_at=by.at,
            who=by.who,
        )
        .returning(tables.station.c.id)
    )
    station_id = StationId(result.scalar_one())
    log_change(
        connection,
        by,
        what="station set up",
        of=("station", station_id),
        after={"name": station.name, "made_on": station.made_on.isoformat()},
    )
    return station_id


def stations(connection: Connection) -> tuple[KnownStation, ...]:
    """Return the newest set-up of each name, by name."""
    rows = connection.execute(select(tables.station).order_by(tables.station.c.id)).mappings()
    newest = {row["name"]: row for row in rows}
    return tuple(_known(newest[name]) for name in sorted(newest))


def station_named(connection: Connection, name: str) -> KnownStation:
    """Return the newest set-up of a name; `NotInCatalog` if there is none."""
    table = tables.station
    row = (
        connection.execute(
            select(table).where(table.c.name == name).order_by(table.c.id.desc()).limit(1)
        )
        .mappings()
        .one_or_none()
    )
    if row is None:
        known = ", ".join(one.station.name for one in stations(connection)) or "none yet"
        raise NotInCatalog(
            f"There is no station “{name}” in the catalogue; known: {known}. Set it up first."
        )
    return _known(row)


def station(connection: Connection, station_id: StationId) -> KnownStation:
    """Return one set-up; `NotInCatalog` if there is none of that number."""
    table = tables.station
    row = connection.execute(select(table).where(table.c.id == station_id)).mappings().one_or_none()
    if row is None:
        raise NotInCatalog(f"There is no station number {station_id} in the catalogue.")
    return _known(row)


def _known(row: RowMapping) -> KnownStation:
    return KnownStation(
        station_id=StationId(row["id"]),
        station=from_json(ShootingStation, row["profile"]),
        quality=from_json(PhotoQuality, row["quality"]),
        added_at=row["added_at"],
    )
