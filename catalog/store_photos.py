"""SQL for photographs, leaves, refusals and alternations of a bundle.

A leaf's row is made by the first photograph that shows it. Everything one photograph brings is
recorded in one transaction, and the table's unique keys make a double impossible.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, delete, insert, select, update

from catalog import tables
from catalog.new_photo import NewPhoto, plain_rank
from catalog.reading_json import from_json, to_json
from catalog.records import (
    AlreadyIn,
    BundleId,
    LeafId,
    Outcome,
    PhotoId,
    PhotoRecord,
    PictureKeys,
    Refused,
    TakenIn,
)
from catalog.store import Signature, insert_row, lock_bundle, log_change
from vision.flags import AlternationFlag
from vision.readings import PairAlternation, PhotoReading, ScaleClass
from vision.shot import Laid, Lamp, Shot

SHOT_COLUMNS = ("file", "leaf", "laid", "lamp", "blank", "wet", "length_mm", "width_mm")
PICTURE_COLUMNS = ("flat", "screen", "thumb", "mask")
WORST_ORDER = (
    AlternationFlag.NOT_MEASURED,
    AlternationFlag.NONE,
    AlternationFlag.SLIGHT,
    AlternationFlag.STRONG,
)
"""A pair that was measured says more than one that was not."""


def record_photo(
    connection: Connection,
    bundle_id: BundleId,
    new: NewPhoto,
    *,
    listed: Sequence[str],
    by: Signature,
) -> Outcome:
    """Record one measured photograph with its leaves, or tell why not.

    ``listed`` holds the labels of the shot list in order; a leaf seen for the first time takes
    its place in the bundle accordingly.
    """
    lock_bundle(connection, bundle_id)
    known = _photo_row(connection, bundle_id, new.reading.sha256)
    if known is not None:
        outcome = _met_again(shot_of(known), new.shot)
        if isinstance(outcome, AlreadyIn):
            clear_refusal(connection, bundle_id, new.shot.file)
        return outcome
    leaf_ids = [
        _find_or_add_leaf(connection, bundle_id, label, listed=listed, by=by)
        for label in new.shot.leaves
    ]
    photo_id = _insert_photo(connection, bundle_id, new, at=by.at)
    for side, leaf_id in enumerate(leaf_ids):
        _insert_leaf_picture(connection, photo_id, leaf_id, new, side=side)
        _settle_plain_picture(connection, leaf_id)
    clear_refusal(connection, bundle_id, new.shot.file)
    _forget_alternation(connection, bundle_id)
    log_change(
        connection,
        by,
        what="photograph taken in",
        of=("photo", photo_id),
        after={
            "bundle_id": bundle_id,
            "sha256": new.reading.sha256,
            "shot": to_json(new.shot),
            "leaf_ids": leaf_ids,
        },
    )
    return TakenIn(new.shot.file, photo_id, new.shot.leaves, new.reading.flags)


def photos(connection: Connection, bundle_id: BundleId) -> tuple[PhotoRecord, ...]:
    """Return a bundle's photographs in the order they were taken in."""
    lp, photo = tables.leaf_picture, tables.photo
    of_bundle = select(photo).where(photo.c.bundle_id == bundle_id).order_by(photo.c.id)
    parts: dict[int, list[RowMapping]] = {}
    rows = connection.execute(
        select(lp, tables.leaf.c.label)
        .join(tables.leaf, tables.leaf.c.id == lp.c.leaf_id)
        .where(tables.leaf.c.bundle_id == bundle_id)
        .order_by(lp.c.photo_id, lp.c.side)
    )
    for row in rows.mappings():
        parts.setdefault(row["photo_id"], []).append(row)
    return tuple(
        _photo_record(row, parts.get(row["id"], []))
        for row in connection.execute(of_bundle).mappings()
    )


def known_shots(connection: Connection, bundle_id: BundleId) -> dict[str, list[tuple[str, Shot]]]:
    """Return file name -> (sha256, shot) of the photographs that a bundle holds."""
    photo = tables.photo
    known: dict[str, list[tuple[str, Shot]]] = {}
    for row in connection.execute(select(photo).where(photo.c.bundle_id == bundle_id)).mappings():
        known.setdefault(row["file"], []).append((row["sha256"], shot_of(row)))
    return known


def shot_of(row: Mapping[str, Any] | RowMapping) -> Shot:
    """Return the shot that a photograph's row holds."""
    values = {name: row[name] for name in SHOT_COLUMNS}
    return Shot(**{**values, "laid": Laid(row["laid"]), "lamp": Lamp(row["lamp"])})


def reorder_leaves(
    connection: Connection, bundle_id: BundleId, labels: Sequence[str], *, by: Signature
) -> None:
    """Put a bundle's leaves in the order of ``labels``, which names each of them once."""
    lock_bundle(connection, bundle_id)
    before = leaf_labels(connection, bundle_id)
    if tuple(labels) == before:
        return
    leaf = tables.leaf
    of_bundle = leaf.c.bundle_id == bundle_id
    connection.execute(update(leaf).where(of_bundle).values(position=-leaf.c.position))
    for position, label in enumerate(labels, start=1):
        statement = update(leaf).where(of_bundle, leaf.c.label == label)
        connection.execute(statement.values(position=position))
    _forget_alternation(connection, bundle_id)
    log_change(
        connection,
        by,
        what="leaves put in order",
        of=("bundle", bundle_id),
        before={"labels": list(before)},
        after={"labels": list(labels)},
    )


def leaf_labels(connection: Connection, bundle_id: BundleId) -> tuple[str, ...]:
    """Return the labels of a bundle's leaves in order."""
    leaf = tables.leaf
    statement = select(leaf.c.label).where(leaf.c.bundle_id == bundle_id).order_by(leaf.c.position)
    return tuple(connection.scalars(statement))


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
    connection: Connection, bundle_id: BundleId, *, folder: str, files: Sequence[str]
) -> None:
    """Forget refusals of a folder whose file or line is not in its shot list any more."""
    refusal = tables.refusal
    connection.execute(
        delete(refusal).where(
            refusal.c.bundle_id == bundle_id,
            refusal.c.folder == folder,
            refusal.c.file.not_in(files),
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


def _forget_alternation(connection: Connection, bundle_id: BundleId) -> None:
    """Rather none than one that leaves out the newest photograph."""
    table = tables.alternation
    connection.execute(delete(table).where(table.c.bundle_id == bundle_id))


def _photo_row(connection: Connection, bundle_id: BundleId, sha256: str) -> RowMapping | None:
    photo = tables.photo
    statement = select(photo).where(photo.c.bundle_id == bundle_id, photo.c.sha256 == sha256)
    return connection.execute(statement).mappings().one_or_none()


def _met_again(known: Shot, shot: Shot) -> AlreadyIn | Refused:
    if known == shot:
        return AlreadyIn(shot.file)
    if known.file != shot.file:
        return Refused(
            shot.file,
            f"This is the same photograph as {known.file}, byte for byte, which is in the bundle "
            "already. Keep one of the two; if they should differ, photograph the leaf again.",
        )
    return Refused(
        shot.file,
        f"This photograph is in the bundle already, as {_in_words(known)}; now the shot list says "
        f"{_in_words(shot)}. Put the list back, or take the folder in anew into another bundle.",
    )


def _in_words(shot: Shot) -> str:
    words = ["the bare board"] if shot.blank else [f"leaf {shot.leaf}", str(shot.laid)]
    words.append(f"lamp {shot.lamp}" if shot.lamp else "lamp unknown")
    if shot.wet:
        words.append("wet")
    for name, value in (("length", shot.length_mm), ("width", shot.width_mm)):
        if value is not None:
            words.append(f"{name} {value:g} mm")
    return ", ".join(words)


def _find_or_add_leaf(
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


def _insert_photo(
    connection: Connection, bundle_id: BundleId, new: NewPhoto, *, at: datetime
) -> PhotoId:
    shot = to_json(new.shot)
    reading = {name: part for name, part in to_json(new.reading).items() if name != "leaves"}
    return PhotoId(
        insert_row(
            connection,
            tables.photo,
            {
                "bundle_id": bundle_id,
                "sha256": new.reading.sha256,
                **{name: shot[name] for name in SHOT_COLUMNS},
                "reading": reading,
                "pipeline_version": new.reading.pipeline_version,
                "settings": to_json(new.settings),
                "taken_in_at": at,
            },
            taken=f"{new.shot.file} is in the bundle already. Nothing needs to be done.",
        )
    )


def _insert_leaf_picture(
    connection: Connection, photo_id: PhotoId, leaf_id: LeafId, new: NewPhoto, *, side: int
) -> None:
    measured = to_json(new.reading.leaves[side])
    light = measured.pop("light")
    connection.execute(
        insert(tables.leaf_picture).values(
            photo_id=photo_id,
            side=side,
            leaf_id=leaf_id,
            **to_json(new.pictures[side]),
            measured=measured,
            light=light,
            plain_rank=plain_rank(new.shot, side),
            is_plain=False,
        )
    )


def _settle_plain_picture(connection: Connection, leaf_id: LeafId) -> None:
    """Mark the plainest picture of a leaf, and keep its size by the plainest that has a scale."""
    lp = tables.leaf_picture
    rows = connection.execute(
        select(lp.c.id, lp.c.measured)
        .where(lp.c.leaf_id == leaf_id)
        .order_by(lp.c.plain_rank, lp.c.id.desc())
    ).all()
    connection.execute(
        update(lp).where(lp.c.leaf_id == leaf_id, lp.c.is_plain).values(is_plain=False)
    )
    connection.execute(update(lp).where(lp.c.id == rows[0].id).values(is_plain=True))
    sizes = [row.measured["size"] for row in rows]
    sized = next((size for size in sizes if size["length_mm"] is not None), sizes[0])
    columns = {name: sized[name] for name in ("length_mm", "width_mm", "scale_class")}
    connection.execute(update(tables.leaf).where(tables.leaf.c.id == leaf_id).values(**columns))


def _photo_record(row: RowMapping, parts: Sequence[RowMapping]) -> PhotoRecord:
    leaves = [{**part["measured"], "light": part["light"]} for part in parts]
    return PhotoRecord(
        photo_id=PhotoId(row["id"]),
        bundle_id=BundleId(row["bundle_id"]),
        sha256=row["sha256"],
        shot=shot_of(row),
        reading=from_json(PhotoReading, {**row["reading"], "leaves": leaves}),
        pictures=tuple(picture_keys(part) for part in parts),
        leaf_ids=tuple(LeafId(part["leaf_id"]) for part in parts),
        settings=row["settings"],
        taken_in_at=row["taken_in_at"],
    )


def picture_keys(row: Mapping[str, Any] | RowMapping) -> PictureKeys:
    """Return the picture names that a row holds."""
    return PictureKeys(**{name: row[name] for name in PICTURE_COLUMNS})
