"""SQL for photographs, leaves, refusals and alternations of a bundle.

A leaf's row is made by the first photograph that shows it. Everything one photograph brings is
recorded in one transaction, and the table's unique keys make a double impossible.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, insert, select, update

from catalog import tables
from catalog.errors import NotInCatalog
from catalog.new_photo import NewPhoto, plain_rank
from catalog.reading_json import from_json, to_json
from catalog.records import (
    AlreadyIn,
    BundleId,
    KnownPhoto,
    LeafId,
    Outcome,
    PhotoId,
    PhotoRecord,
    PictureKeys,
    Refused,
    StationId,
    TakenIn,
)
from catalog.store import Signature, insert_row, lock_bundle, log_change
from catalog.store_findings import clear_refusal, forget_alternation
from catalog.store_leaves import find_or_add_leaf, list_key, settle_plain_picture
from vision.readings import PhotoReading
from vision.shot import Laid, Lamp, Shot

SHOT_COLUMNS = (
    "file",
    "leaf",
    "laid",
    "lamp",
    "blank",
    "wet",
    "length_mm",
    "width_mm",
    "thickness_mm",
    "parts",
)
PICTURE_COLUMNS = ("flat", "screen", "thumb", "mask")


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
        return _record_again(connection, known, new, by=by)
    leaf_ids = [
        find_or_add_leaf(connection, bundle_id, label, listed=listed, by=by)
        for label in new.shot.leaves
    ]
    photo_id = _insert_photo(connection, bundle_id, new, at=by.at)
    for side, leaf_id in enumerate(leaf_ids):
        _insert_leaf_picture(connection, photo_id, leaf_id, new, side=side)
        settle_plain_picture(connection, leaf_id)
    clear_refusal(connection, bundle_id, new.shot.file)
    forget_alternation(connection, bundle_id)
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
    """Return a bundle's photographs by name (`list_key`)."""
    lp, photo = tables.leaf_picture, tables.photo
    of_bundle = select(photo).where(photo.c.bundle_id == bundle_id)
    parts: dict[int, list[RowMapping]] = {}
    rows = connection.execute(
        select(lp, tables.leaf.c.label)
        .join(tables.leaf, tables.leaf.c.id == lp.c.leaf_id)
        .where(tables.leaf.c.bundle_id == bundle_id)
        .order_by(lp.c.photo_id, lp.c.side)
    )
    for row in rows.mappings():
        parts.setdefault(row["photo_id"], []).append(row)
    found = connection.execute(of_bundle).mappings()
    in_order = sorted(found, key=lambda row: list_key(row["file"], row["sha256"]))
    return tuple(_photo_record(row, parts.get(row["id"], [])) for row in in_order)


def photo(connection: Connection, photo_id: PhotoId) -> PhotoRecord:
    """Return one photograph; `NotInCatalog` if there is none of that number."""
    row = photo_row(connection, photo_id)
    return _photo_record(row, _leaf_pictures(connection, row))


def photo_row(connection: Connection, photo_id: PhotoId) -> RowMapping:
    """Return a photograph's row; `NotInCatalog` if there is none of that number."""
    of_photo = select(tables.photo).where(tables.photo.c.id == photo_id)
    row = connection.execute(of_photo).mappings().one_or_none()
    if row is None:
        raise NotInCatalog(
            f"There is no photograph number {photo_id}. Look it up in the bundle again."
        )
    return row


def known_photos(connection: Connection, bundle_id: BundleId) -> tuple[KnownPhoto, ...]:
    """Return the photographs of a bundle with the names of what is kept of each."""
    photo, lp = tables.photo, tables.leaf_picture
    kept: dict[int, list[str]] = {}
    rows = connection.execute(
        select(lp.c.photo_id, *(lp.c[name] for name in PICTURE_COLUMNS))
        .join(photo, photo.c.id == lp.c.photo_id)
        .where(photo.c.bundle_id == bundle_id)
    )
    for photo_id, *names in rows:
        kept.setdefault(photo_id, []).extend(names)
    shots = select(
        photo.c.id, photo.c.sha256, photo.c.reading, *(photo.c[name] for name in SHOT_COLUMNS)
    )
    return tuple(
        KnownPhoto(row["sha256"], shot_of(row), (*_files_kept(row), *kept.get(row["id"], ())))
        for row in connection.execute(shots.where(photo.c.bundle_id == bundle_id)).mappings()
    )


def shot_of(row: Mapping[str, Any] | RowMapping) -> Shot:
    """Return the shot that a photograph's row holds."""
    values = {name: row[name] for name in SHOT_COLUMNS}
    parts = tuple(row["parts"] or ())
    return Shot(**{**values, "laid": Laid(row["laid"]), "lamp": Lamp(row["lamp"]), "parts": parts})


def _files_kept(row: RowMapping) -> tuple[str, ...]:
    """Return the names under which the photograph itself is kept: its file, or all its parts."""
    if not row["parts"]:
        return (row["sha256"],)
    return (*row["reading"]["part_sha256"], row["reading"]["picture_sha256"])


def _photo_row(connection: Connection, bundle_id: BundleId, sha256: str) -> RowMapping | None:
    photo = tables.photo
    statement = select(photo).where(photo.c.bundle_id == bundle_id, photo.c.sha256 == sha256)
    return connection.execute(statement).mappings().one_or_none()


def _without_size(shot: Shot) -> Shot:
    """Return a shot without the typed size, which may be added later and changes no more."""
    return replace(shot, length_mm=None, width_mm=None, thickness_mm=None)


def _refused_as_known(known: Shot, shot: Shot) -> Refused:
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
    return ", ".join(words)


def _record_again(
    connection: Connection, known: RowMapping, new: NewPhoto, *, by: Signature
) -> Outcome:
    """Record a photograph that the bundle holds.

    Its pictures may have had to be made anew, or its leaf's size has been typed in since.
    """
    known_shot = shot_of(known)
    if _without_size(known_shot) != _without_size(new.shot):
        return _refused_as_known(known_shot, new.shot)
    clear_refusal(connection, BundleId(known["bundle_id"]), new.shot.file)
    parts = _leaf_pictures(connection, known)
    if tuple(map(picture_keys, parts)) == new.pictures and known_shot == new.shot:
        return AlreadyIn(new.shot.file)
    keep_new_measure(connection, known, new, what="photograph measured again", by=by)
    return TakenIn(new.shot.file, PhotoId(known["id"]), new.shot.leaves, new.reading.flags)


def keep_new_measure(
    connection: Connection, known: RowMapping, new: NewPhoto, *, what: str, by: Signature
) -> None:
    """Put what measuring a photograph again gave in the place of what its row held."""
    lp = tables.leaf_picture
    parts = _leaf_pictures(connection, known)
    measured = _reading_columns(new)
    connection.execute(
        update(tables.photo).where(tables.photo.c.id == known["id"]).values(**measured)
    )
    for side, part in enumerate(parts):
        columns = _leaf_picture_columns(new, side)
        connection.execute(update(lp).where(lp.c.id == part["id"]).values(**columns))
        settle_plain_picture(connection, LeafId(part["leaf_id"]))
    forget_alternation(connection, BundleId(known["bundle_id"]))
    log_change(
        connection,
        by,
        what=what,
        of=("photo", known["id"]),
        before={
            "shot": to_json(shot_of(known)),
            "pipeline_version": known["pipeline_version"],
            "pictures": [to_json(picture_keys(part)) for part in parts],
        },
        after={
            "shot": to_json(new.shot),
            "pipeline_version": new.reading.pipeline_version,
            "pictures": [to_json(keys) for keys in new.pictures],
        },
    )


def _leaf_pictures(connection: Connection, known: RowMapping) -> Sequence[RowMapping]:
    lp = tables.leaf_picture
    of_photo = select(lp).where(lp.c.photo_id == known["id"]).order_by(lp.c.side)
    return connection.execute(of_photo).mappings().all()


def _insert_photo(
    connection: Connection, bundle_id: BundleId, new: NewPhoto, *, at: datetime
) -> PhotoId:
    shot = to_json(new.shot)
    return PhotoId(
        insert_row(
            connection,
            tables.photo,
            {
                "bundle_id": bundle_id,
                "sha256": new.reading.sha256,
                **{name: shot[name] for name in SHOT_COLUMNS},
                **_reading_columns(new),
                "taken_in_at": at,
            },
            taken=f"{new.shot.file} is in the bundle already. Nothing needs to be done.",
        )
    )


def _insert_leaf_picture(
    connection: Connection, photo_id: PhotoId, leaf_id: LeafId, new: NewPhoto, *, side: int
) -> None:
    connection.execute(
        insert(tables.leaf_picture).values(
            photo_id=photo_id,
            side=side,
            leaf_id=leaf_id,
            **_leaf_picture_columns(new, side),
            plain_rank=plain_rank(new.shot, side),
            is_plain=False,
        )
    )


def _reading_columns(new: NewPhoto) -> dict[str, Any]:
    """Return how a photograph was measured and what that gave, its leaves left aside."""
    reading = to_json(replace(new.reading, leaves=()))
    del reading["leaves"]
    return {
        "length_mm": new.shot.length_mm,
        "width_mm": new.shot.width_mm,
        "thickness_mm": new.shot.thickness_mm,
        "station_id": new.station_id,
        "reading": reading,
        "pipeline_version": new.reading.pipeline_version,
        "settings": to_json(new.settings),
    }


def _leaf_picture_columns(new: NewPhoto, side: int) -> dict[str, Any]:
    """Return what measuring a photograph gave of one of its leaves."""
    measured = to_json(new.reading.leaves[side])
    light = measured.pop("light")
    return {**to_json(new.pictures[side]), "measured": measured, "light": light}


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
        station_id=None if row["station_id"] is None else StationId(row["station_id"]),
    )


def picture_keys(row: Mapping[str, Any] | RowMapping) -> PictureKeys:
    """Return the picture names that a row holds."""
    return PictureKeys(**{name: row[name] for name in PICTURE_COLUMNS})
