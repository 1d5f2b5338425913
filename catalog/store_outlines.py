"""SQL for outlines corrected by hand: rows that only ever grow, and which outline stands now."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, RowMapping, insert, select

from catalog import tables
from catalog.errors import AlreadyThere
from catalog.new_photo import NewPhoto
from catalog.records import BundleId, OutlineAct, OutlineCorrection, PhotoId
from catalog.store import Signature, lock_bundle
from catalog.store_photos import keep_new_measure, photo_row

Points = tuple[tuple[float, float], ...]

WHAT: dict[OutlineAct, str] = {
    OutlineAct.DRAWN: "outline corrected by hand",
    OutlineAct.FOUND: "outline put back to the found one",
    OutlineAct.UNDONE: "correction of the outline undone",
}
"""Words of the change table."""


def record_correction(
    connection: Connection,
    correction: OutlineCorrection,
    new: NewPhoto,
    *,
    seen: int,
    by: Signature,
) -> None:
    """Record an outline and what the photograph measured with it gave.

    ``seen`` is how many corrections of the photograph there were when it was measured;
    `AlreadyThere` if somebody has been at it since.
    """
    known = photo_row(connection, correction.photo_id)
    lock_bundle(connection, BundleId(known["bundle_id"]))
    if len(corrections(connection, correction.photo_id)) != seen:
        raise AlreadyThere(
            "Somebody else has corrected an outline of this photograph in the meantime. Look at "
            "it again, then make your change."
        )
    connection.execute(
        insert(tables.outline_correction).values(
            photo_id=correction.photo_id,
            side=correction.side,
            act=correction.act.value,
            points=correction.points,
            before=correction.before,
            at=by.at,
            who=by.who,
        )
    )
    keep_new_measure(connection, known, new, what=WHAT[correction.act], by=by)


def corrections(connection: Connection, photo_id: PhotoId) -> tuple[OutlineCorrection, ...]:
    """Return what was done to the outlines of a photograph, oldest first."""
    table = tables.outline_correction
    rows = connection.execute(
        select(table).where(table.c.photo_id == photo_id).order_by(table.c.id)
    ).mappings()
    return tuple(_correction(row) for row in rows)


def corrections_in(
    connection: Connection, bundle_id: BundleId
) -> dict[str, tuple[OutlineCorrection, ...]]:
    """Return the corrections of a bundle's photographs, oldest first, by the photograph's SHA-256.

    Photographs without any are left out.
    """
    table, photo = tables.outline_correction, tables.photo
    rows = connection.execute(
        select(table, photo.c.sha256)
        .join(photo, photo.c.id == table.c.photo_id)
        .where(photo.c.bundle_id == bundle_id)
        .order_by(table.c.id)
    ).mappings()
    found: dict[str, list[OutlineCorrection]] = {}
    for row in rows:
        found.setdefault(row["sha256"], []).append(_correction(row))
    return {sha256: tuple(those) for sha256, those in found.items()}


def _correction(row: RowMapping) -> OutlineCorrection:
    return OutlineCorrection(
        photo_id=PhotoId(row["photo_id"]),
        side=row["side"],
        act=OutlineAct(row["act"]),
        points=None if row["points"] is None else _points(row["points"]),
        before=_points(row["before"]),
        at=row["at"],
        who=row["who"],
    )


def _points(stored: Sequence[Sequence[float]]) -> Points:
    return tuple((float(x), float(y)) for x, y in stored)
