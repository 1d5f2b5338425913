"""A leaf's outline corrected by hand: the leaf is measured again with it, and the bundle finished.

    correct_outline     an outline drawn by hand takes the place of the one that stands
    found_outline       back to what the program finds by itself
    undo_outline        the last of these acts is taken back

Each act is a row that stays. The photograph is measured before anything is written, so that an
outline which cannot be used changes nothing.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

from catalog.catalog import Catalog
from catalog.errors import EntryFaulty
from catalog.intake import finish_bundle
from catalog.new_photo import NewPhoto
from catalog.photo_job import Blank, PhotoJob, let_go_of_blanks, measure_photo
from catalog.records import OutlineAct, OutlineCorrection, PhotoId, PhotoRecord, Refused
from catalog.standing_outlines import standing_acts, standing_outlines
from vision.hand_outline import Points, checked_outline
from vision.readings import LightReference
from vision.settings import VisionSettings

SIDES = ("left", "right")


def correct_outline(
    catalog: Catalog,
    photo_id: PhotoId,
    points: Sequence[Sequence[float]],
    *,
    side: int = 0,
    settings: VisionSettings,
    who: str = "",
) -> PhotoRecord:
    """Return the photograph measured again with an outline drawn by hand.

    Parameters
    ----------
    catalog : Catalog
    photo_id : PhotoId
    points : sequence of (x, y)
        Pixels of the full-size, upright photograph, once round the leaf in either direction.
    side : int
        0 for the only or the left leaf in view, 1 for the right one of an opened pair.
    settings : VisionSettings
    who : str
        Who drew it; without it whoever opened the catalogue.

    Raises
    ------
    OutlineFaulty
        If the points cannot be the outline of a leaf; see `vision.hand_outline.checked_outline`.
    EntryFaulty
        If there is no such leaf in view, or the leaf cannot be measured with this outline.
    NotInCatalog
        If there is no such photograph.
    CatalogError
        If the photograph is gone from the picture store.
    """
    photo = catalog.photo(photo_id)
    _check_side(photo, side)
    drawn = checked_outline(
        points,
        width_px=photo.reading.width_px,
        height_px=photo.reading.height_px,
        name=leaf_name(photo, side),
    )
    return _put(catalog, photo, OutlineAct.DRAWN, drawn, side=side, settings=settings, who=who)


def found_outline(
    catalog: Catalog,
    photo_id: PhotoId,
    *,
    side: int = 0,
    settings: VisionSettings,
    who: str = "",
) -> PhotoRecord:
    """Return the photograph measured again with the outline that the program finds by itself.

    Raises
    ------
    EntryFaulty
        If the found outline stands already.
    """
    photo = catalog.photo(photo_id)
    _check_side(photo, side)
    if standing_outline(catalog, photo_id, side=side) is None:
        raise EntryFaulty(f"The found outline of {leaf_name(photo, side)} stands already.")
    return _put(catalog, photo, OutlineAct.FOUND, None, side=side, settings=settings, who=who)


def undo_outline(
    catalog: Catalog,
    photo_id: PhotoId,
    *,
    side: int = 0,
    settings: VisionSettings,
    who: str = "",
) -> PhotoRecord:
    """Return the photograph measured again as it was before the last act that still stands.

    Raises
    ------
    EntryFaulty
        If there is nothing left to undo.
    """
    photo = catalog.photo(photo_id)
    _check_side(photo, side)
    acts = standing_acts(catalog.outline_corrections(photo_id), side)
    if not acts:
        raise EntryFaulty(f"Nothing was changed at the outline of {leaf_name(photo, side)}.")
    points = acts[-2].points if len(acts) > 1 else None
    return _put(catalog, photo, OutlineAct.UNDONE, points, side=side, settings=settings, who=who)


def standing_outline(catalog: Catalog, photo_id: PhotoId, *, side: int = 0) -> Points | None:
    """Return the outline drawn by hand that stands now; None for the found one."""
    acts = standing_acts(catalog.outline_corrections(photo_id), side)
    return acts[-1].points if acts else None


def leaf_name(photo: PhotoRecord, side: int) -> str:
    """Return which leaf of a photograph is meant: ``leaf 01``, or ``left leaf 01`` of a pair."""
    label = photo.shot.leaves[side]
    return f"{SIDES[side]} leaf {label}" if len(photo.shot.leaves) > 1 else f"leaf {label}"


def _check_side(photo: PhotoRecord, side: int) -> None:
    count = len(photo.shot.leaves)
    if not count:
        raise EntryFaulty(f"{photo.shot.file} shows the bare board; there is no leaf to outline.")
    if photo.shot.parts:
        raise EntryFaulty(
            f"Leaf {photo.shot.leaf} was joined from {len(photo.shot.parts)} photographs; its "
            "outline cannot be drawn by hand. Photograph the leaf again, on a board of another "
            "tone, or from higher up in one picture."
        )
    if side not in range(count):
        raise EntryFaulty(
            f"{photo.shot.file} shows one leaf only. Left and right are told apart in a pair laid "
            "open."
            if count == 1
            else f"{photo.shot.file} shows a left and a right leaf, no other."
        )


def _put(
    catalog: Catalog,
    photo: PhotoRecord,
    act: OutlineAct,
    points: Points | None,
    *,
    side: int,
    settings: VisionSettings,
    who: str,
) -> PhotoRecord:
    done = catalog.outline_corrections(photo.photo_id)
    correction = OutlineCorrection(
        photo.photo_id,
        side,
        act,
        points,
        before=photo.reading.leaves[side].outline,
        at=catalog.now(),
        who=who,
    )
    found = [leaf.outline for leaf in photo.reading.leaves]
    outlines = standing_outlines((*done, correction), found)
    new = _measured_again(catalog, photo, outlines, settings=settings)
    catalog.record_correction(correction, new, seen=len(done))
    finish_bundle(photo.bundle_id, catalog=catalog, settings=settings)
    return catalog.photo(photo.photo_id)


def _measured_again(
    catalog: Catalog,
    photo: PhotoRecord,
    outlines: tuple[Points, ...] | None,
    *,
    settings: VisionSettings,
) -> NewPhoto:
    """Return what measuring gives; nothing is recorded yet."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / photo.shot.file).write_bytes(catalog.pictures.read(photo.sha256))
        job = PhotoJob(
            folder=folder,
            shot=photo.shot,
            settings=settings,
            light=catalog.bundle(photo.bundle_id).light,
            blank=_blank(catalog, photo, folder),
            pictures=catalog.pictures.place,
            station=None if photo.station_id is None else catalog.station(photo.station_id),
            today=photo.taken_in_at.date(),
            outlines={} if outlines is None else {photo.sha256: outlines},
        )
        try:
            measured = measure_photo(job)
        finally:
            let_go_of_blanks()
    if isinstance(measured, Refused):
        raise EntryFaulty(f"{measured.reason} Nothing has been changed.")
    return measured


def _blank(catalog: Catalog, photo: PhotoRecord, folder: Path) -> Blank | None:
    """Return the bare board that held the photograph's light, if one did."""
    if photo.reading.leaves[0].light.reference is not LightReference.BLANK:
        return None
    boards = (
        one
        for one in catalog.photos(photo.bundle_id)
        if one.shot.blank and one.shot.lamp is photo.shot.lamp
    )
    board = next(boards, None)
    if board is None:
        return None
    path = folder / f"bare-board-{Path(board.shot.file).name}"
    path.write_bytes(catalog.pictures.read(board.sha256))
    return Blank(path, board.shot, board.sha256)
