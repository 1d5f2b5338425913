"""SQL for what was found out about a bundle: refusals, and light and dark between neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select

from catalog import tables
from catalog.reading_json import from_json, to_json
from catalog.records import BundleId, Refused
from catalog.store import lock_bundle
from vision.flags import AlternationFlag
from vision.readings import PairAlternation

WORST_ORDER = (
    AlternationFlag.NOT_MEASURED,
    AlternationFlag.NONE,
    AlternationFlag.SLIGHT,
    AlternationFlag.STRONG,
)
"""A pair that was measured says more than one that was not."""


def record_refusal(
    connection: Connection, bundle_id: BundleId, refused: Refused, *, folder: str, at: datetime
) -> None:
    """Record why a photograph could not be taken in; its earlier refusal is replaced."""
    lock_bundle(connection, bundle_id)
    clear_refusal(connection, bundle_id, refused.file)
    connection.execute(
        insert(tables.refusal).values(
            bundle_id=bundle_id, file=refused.file, folder=folder, reason=refused.reason, at=at
        )
    )


def clear_refusal(connection: Connection, bundle_id: BundleId, file: str) -> None:
    """Forget the refusal of a file that has been taken in since."""
    refusal = tables.refusal
    connection.execute(
        delete(refusal).where(refusal.c.bundle_id == bundle_id, refusal.c.file == file)
    )


def forget_stale_refusals(
    connection: Connection,
    bundle_id: BundleId,
    *,
    folder: str,
    still_open: Sequence[str],
    taken_in: Sequence[str],
) -> None:
    """Forget refusals of lines that are no longer in a folder's list, and of files taken in."""
    refusal = tables.refusal
    is_gone = (refusal.c.folder == folder) & refusal.c.file.not_in(still_open)
    connection.execute(
        delete(refusal).where(
            refusal.c.bundle_id == bundle_id, is_gone | refusal.c.file.in_(taken_in)
        )
    )


def refusals(connection: Connection, bundle_id: BundleId) -> tuple[Refused, ...]:
    """Return what stands refused in a bundle, oldest first."""
    refusal = tables.refusal
    rows = connection.execute(
        select(refusal.c.file, refusal.c.reason)
        .where(refusal.c.bundle_id == bundle_id)
        .order_by(refusal.c.id)
    )
    return tuple(Refused(row.file, row.reason) for row in rows)


def record_alternation(
    connection: Connection,
    bundle_id: BundleId,
    match: str,
    pairs: Sequence[PairAlternation],
    *,
    at: datetime,
) -> None:
    """Store light and dark between a bundle's neighbours, in place of what was known before."""
    lock_bundle(connection, bundle_id)
    table = tables.alternation
    connection.execute(delete(table).where(table.c.bundle_id == bundle_id, table.c.match == match))
    worst = max((WORST_ORDER.index(pair.likely) for pair in pairs), default=0)
    connection.execute(
        insert(table).values(
            bundle_id=bundle_id,
            match=match,
            pairs=[to_json(pair) for pair in pairs],
            worst_rank=worst,
            computed_at=at,
        )
    )


def alternation(
    connection: Connection, bundle_id: BundleId, match: str
) -> tuple[PairAlternation, ...]:
    """Return what was stored last; empty before it is worked out."""
    table = tables.alternation
    stored = connection.scalar(
        select(table.c.pairs).where(table.c.bundle_id == bundle_id, table.c.match == match)
    )
    return tuple(from_json(PairAlternation, pair) for pair in stored or ())


def forget_alternation(connection: Connection, bundle_id: BundleId) -> None:
    """Rather none than one that leaves out the newest photograph."""
    table = tables.alternation
    connection.execute(delete(table).where(table.c.bundle_id == bundle_id))
