"""SQL for the traces of leaves: which leaves there are to be looked through, and what is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, insert, select
from sqlalchemy.exc import IntegrityError

from catalog import tables
from catalog.records import BundleId, FlitchId, PictureKeys
from catalog.store_photos import PICTURE_COLUMNS, picture_keys

TraceKey = tuple[str, str]
"""Names of the screen picture and of the mask that a trace was drawn from."""


@dataclass(frozen=True, slots=True)
class StockLeaf:
    """A leaf of the catalogue as far as looking for it needs."""

    flitch_id: FlitchId
    bundle_id: BundleId
    label: str
    length_mm: float | None
    width_mm: float | None
    pictures: PictureKeys
    """Its plain picture."""

    @property
    def trace_key(self) -> TraceKey:
        """Under which its trace is kept."""
        return self.pictures.screen, self.pictures.mask


def stock_leaves(connection: Connection) -> tuple[StockLeaf, ...]:
    """Return every leaf that has a picture, bundle by bundle in order."""
    leaf, bundle, lp = tables.leaf, tables.bundle, tables.leaf_picture
    rows = connection.execute(
        select(
            bundle.c.flitch_id,
            leaf.c.bundle_id,
            leaf.c.label,
            leaf.c.length_mm,
            leaf.c.width_mm,
            *(lp.c[name] for name in PICTURE_COLUMNS),
        )
        .join(bundle, bundle.c.id == leaf.c.bundle_id)
        .join(lp, (lp.c.leaf_id == leaf.c.id) & lp.c.is_plain)
        .order_by(leaf.c.bundle_id, leaf.c.position)
    ).mappings()
    return tuple(
        StockLeaf(
            FlitchId(row["flitch_id"]),
            BundleId(row["bundle_id"]),
            row["label"],
            row["length_mm"],
            row["width_mm"],
            picture_keys(row),
        )
        for row in rows
    )


def leaf_traces(connection: Connection, version: str) -> dict[TraceKey, bytes]:
    """Return all traces of one version."""
    table = tables.leaf_trace
    rows = connection.execute(
        select(table.c.screen, table.c.mask, table.c.trace).where(table.c.version == version)
    )
    return {(screen, mask): trace for screen, mask, trace in rows}


def keep_traces(connection: Connection, traces: Mapping[TraceKey, bytes], version: str) -> None:
    """Keep traces; what somebody else kept in the meantime stays."""
    for (screen, mask), trace in traces.items():
        row = insert(tables.leaf_trace).values(
            screen=screen, mask=mask, version=version, trace=trace
        )
        try:
            with connection.begin_nested():
                connection.execute(row)
        except IntegrityError:
            continue
