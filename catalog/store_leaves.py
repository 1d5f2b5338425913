"""SQL for the leaves of a bundle: their order, and which picture shows each of them best.

A leaf's row is made by the first photograph that shows it.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, select, update

from catalog import tables
from catalog.records import BundleId, LeafId
from catalog.store import Signature, insert_row, log_change
from vision.readings import ScaleClass
from vision.shot_list import natural_key


def find_or_add_leaf(
    connection: Connection,
    bundle_id: BundleId,
    label: str,
    *,
    listed: Sequence[str],
    by: Signature,
) -> LeafId:
    leaf = tables.leaf
    found = connection.scalar(
        select(leaf.c.id).where(leaf.c.bundle_id == bundle_id, leaf.c.label == label)
    )
    if found is not None:
        return LeafId(found)
    position = place_in_order(label, listed=listed, present=leaf_labels(connection, bundle_id))
    later = (leaf.c.bundle_id == bundle_id, leaf.c.position >= position)
    connection.execute(update(leaf).where(*later).values(position=-leaf.c.position))
    moved = (leaf.c.bundle_id == bundle_id, leaf.c.position < 0)
    connection.execute(update(leaf).where(*moved).values(position=1 - leaf.c.position))
    values = {"bundle_id": bundle_id, "label": label, "position": position}
    leaf_id = insert_row(
        connection,
        leaf,
        {**values, "scale_class": ScaleClass.NONE.value},
        taken=f"The bundle has a leaf {label} already. Choose another label.",
    )
    log_change(connection, by, what="leaf added", of=("leaf", leaf_id), after=values)
    return LeafId(leaf_id)


def list_key(file: str, sha256: str) -> tuple[object, ...]:
    """Return the sort key of a photograph: by name, whatever order they were measured in.

    Several are measured at once and a take-in may be killed and begun again; what is worked out
    from the photographs must not depend on which of them came in first.
    """
    return natural_key(file), sha256


def place_in_order(label: str, *, listed: Sequence[str], present: Sequence[str]) -> int:
    """Return the position, from 1, that a new leaf takes among those ``present``.

    Right after the leaf that the shot list names before it, as far as that one is there; else
    before the one that it names next; at the end if the list says nothing.

    Examples
    --------
    >>> place_in_order("02", listed=["01", "02", "03"], present=["01", "03"])
    2
    >>> place_in_order("00", listed=["00", "01"], present=["01", "03"])
    1
    """
    if label in listed:
        index = listed.index(label)
        for before in reversed(listed[:index]):
            if before in present:
                return present.index(before) + 2
        for after in listed[index + 1 :]:
            if after in present:
                return present.index(after) + 1
    return len(present) + 1


def leaf_labels(connection: Connection, bundle_id: BundleId) -> tuple[str, ...]:
    """Return the labels of a bundle's leaves in order."""
    leaf = tables.leaf
    statement = select(leaf.c.label).where(leaf.c.bundle_id == bundle_id).order_by(leaf.c.position)
    return tuple(connection.scalars(statement))


def settle_plain_picture(connection: Connection, leaf_id: LeafId) -> None:
    """Mark the plainest picture of a leaf, and keep its size by the plainest that has a scale."""
    lp, photo = tables.leaf_picture, tables.photo
    found = connection.execute(
        select(lp.c.id, lp.c.measured, lp.c.plain_rank, photo.c.file, photo.c.sha256)
        .join(photo, photo.c.id == lp.c.photo_id)
        .where(lp.c.leaf_id == leaf_id)
    )
    rows = sorted(found, key=lambda row: (row.plain_rank, *list_key(row.file, row.sha256)))
    connection.execute(
        update(lp).where(lp.c.leaf_id == leaf_id, lp.c.is_plain).values(is_plain=False)
    )
    connection.execute(update(lp).where(lp.c.id == rows[0].id).values(is_plain=True))
    sizes = [row.measured["size"] for row in rows]
    sized = next((size for size in sizes if size["length_mm"] is not None), sizes[0])
    columns = {name: sized[name] for name in ("length_mm", "width_mm", "scale_class")}
    connection.execute(update(tables.leaf).where(tables.leaf.c.id == leaf_id).values(**columns))
