"""SQL for the order of a bundle set by hand: rows that only ever grow, and the leaves' places."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, insert, select, update

from catalog import tables
from catalog.errors import AlreadyThere
from catalog.records import BundleId, OrderAct, OrderCorrection
from catalog.store import Signature, lock_bundle, log_change
from catalog.store_findings import forget_alternation
from catalog.store_leaves import leaf_labels

WHAT: dict[OrderAct, str] = {
    OrderAct.SET: "order of the leaves set",
    OrderAct.UNDONE: "order of the leaves put back",
}
"""Words of the change table."""


def record_order(
    connection: Connection, correction: OrderCorrection, *, seen: int, by: Signature
) -> None:
    """Record an order and give the leaves their places; light and dark are no longer known.

    ``seen`` is how many corrections of the bundle there were when it was looked at; `AlreadyThere`
    if somebody has been at it since, or the leaves are others by now.
    """
    bundle_id = correction.bundle_id
    lock_bundle(connection, bundle_id)
    present = leaf_labels(connection, bundle_id)
    if len(orders(connection, bundle_id)) != seen or present != correction.before:
        raise AlreadyThere(
            "The bundle has changed in the meantime: leaves came in, or somebody else set their "
            "order. Look at it again, then make your change."
        )
    connection.execute(
        insert(tables.order_correction).values(
            bundle_id=bundle_id,
            act=correction.act.value,
            labels=correction.labels,
            before=correction.before,
            at=by.at,
            who=by.who,
        )
    )
    _give_places(connection, bundle_id, correction.labels)
    forget_alternation(connection, bundle_id)
    log_change(
        connection,
        by,
        what=WHAT[correction.act],
        of=("bundle", bundle_id),
        before={"order": correction.before},
        after={"order": correction.labels},
    )


def orders(connection: Connection, bundle_id: BundleId) -> tuple[OrderCorrection, ...]:
    """Return what was done to the order of a bundle, oldest first."""
    table = tables.order_correction
    rows = connection.execute(
        select(table).where(table.c.bundle_id == bundle_id).order_by(table.c.id)
    )
    return tuple(
        OrderCorrection(
            bundle_id, OrderAct(row.act), tuple(row.labels), tuple(row.before), row.at, row.who
        )
        for row in rows
    )


def _give_places(connection: Connection, bundle_id: BundleId, labels: Sequence[str]) -> None:
    """Number the leaves of a bundle; no two may hold one place even on the way."""
    leaf = tables.leaf
    connection.execute(
        update(leaf).where(leaf.c.bundle_id == bundle_id).values(position=-leaf.c.position)
    )
    for position, label in enumerate(labels, start=1):
        of_label = (leaf.c.bundle_id == bundle_id, leaf.c.label == label)
        connection.execute(update(leaf).where(*of_label).values(position=position))
