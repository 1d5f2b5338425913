"""The parts of one long leaf, photographed one after the other, as one photograph to read.

    every part      opened, held against its own board, its markers found; its pixels let go
    all together    the rails fitted, one part's greys or chart read for the colour
    part by part    opened again and laid into the joined picture

One photograph at a time is held in memory, at the price of opening each twice.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from vision.board import Board, find_board, hold_again
from vision.bundle_light import BundleLight
from vision.errors import PhotoUnreadable, RailsUnfit, VisionError
from vision.flags import PhotoFlag
from vision.joined_shots import JoinedPicture, PartShot, join_shots, joined_megapixels
from vision.marker_search import Markers, find_markers
from vision.part_fits import fit_parts
from vision.photo import Photo, read_photo
from vision.rail_plan import Holder, RailPlan
from vision.readings import MarkerMiss
from vision.settings import VisionSettings
from vision.shooting_station import ShootingStation
from vision.station_use import AtStation, hold_at_station, light_map, plan_of, station_flags
from vision.table_map import TableMap
from vision.tone_curve import decode_table

MOST_MEGAPIXELS = 16.0
"""Of the joined picture: what one measuring process has room for, the flat leaf in linear light
included."""


@dataclass(frozen=True, slots=True, eq=False)
class JoinedParts:
    """The parts joined, ready to be read as one photograph.

    Parameters
    ----------
    photo : Photo
        The joined picture, its tone curve taken out. ``sha256`` is that of the parts' bytes one
        after the other; ``original`` is the first part's file.
    at : AtStation
        For the joined picture: an even board, the camera's colours, the joined picture's table.
    flags : tuple of PhotoFlag
    originals : tuple of bytes
        The files of all parts, in order.
    """

    photo: Photo
    at: AtStation
    flags: tuple[PhotoFlag, ...]
    originals: tuple[bytes, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """A part without its pixels."""

    path: Path
    head: Photo
    size_px: tuple[int, int]
    board: Board
    markers: Markers


def read_parts(
    paths: Sequence[Path],
    station: ShootingStation | None,
    *,
    settings: VisionSettings,
    light: BundleLight | None = None,
    height_mm: float = 0.0,
    today: date | None = None,
) -> JoinedParts:
    """Return several overlapping photographs of one leaf as one.

    Parameters
    ----------
    paths : sequence of Path
        The parts in order along the leaf.
    station : ShootingStation or None
        Where they were taken; its camera height is not theirs and is left aside.
    settings : VisionSettings
    light : BundleLight or None
        The bundle's scale.
    height_mm : float
        Of the leaf's face above the rails' face.
    today : date or None

    Raises
    ------
    RailsUnfit
        Without a station with rails, if the parts are not of one size, if the rails cannot be
        fitted in one of them, or neighbours overlap too little.
    PhotoUnreadable, BoardNotFound
        As for one photograph; the sentence begins with the part's name.
    """
    plan = None if station is None else plan_of(station)
    if station is None or plan is None:
        raise RailsUnfit(
            f"This leaf was photographed in {len(paths)} parts, which are joined by marker rails "
            "of known length; no station with rails was named. Name the shooting station at which "
            "they were taken."
        )
    tone = station.tone if light is None else light.tone
    decode = None if tone is None else decode_table(tone)
    parts = [_open(path, settings=settings, decode=decode) for path in paths]
    tables = _fit(parts, station, plan)
    chosen = next((i for i, table in enumerate(tables) if table.holder is not None), 0)
    photo = _again(parts[chosen].path, parts[chosen].head.sha256, settings=settings)
    at = hold_at_station(
        photo, station, settings=settings, light=light, today=today, table=tables[chosen]
    )
    shots = _shots(parts, tables, at, opened=(chosen, photo), settings=settings)
    heads = [part.head for part in parts]
    del photo, parts  # their pixels, before the joined picture's are made
    picture, own_scale = _join(shots, at, height_mm=height_mm)
    joined = _photo_of(picture, heads)
    flags = [flag for head in heads for flag in head.flags]
    if picture.px_per_mm < own_scale:
        flags.append(PhotoFlag.JOINED_COARSER)
    whole = _at_station(joined, picture, at, tables, own_scale, heads[chosen].file)
    return JoinedParts(
        joined,
        whole,
        (*flags, *station_flags(whole, station)),
        tuple(head.original for head in heads),
    )


def _open(path: Path, *, settings: VisionSettings, decode: NDArray[np.float32] | None) -> _Part:
    try:
        photo = read_photo(path, settings=settings)
        board = find_board(photo.rgb, decode=decode)
        markers = find_markers(photo.rgb, reduced=(board.fine, board.fine_step))
    except VisionError as error:
        raise type(error)(f"{path.name}: {error}") from error
    size_px = (photo.rgb.shape[1], photo.rgb.shape[0])
    return _Part(path, replace(photo, rgb=np.zeros((1, 1, 3), np.uint8)), size_px, board, markers)


def _again(path: Path, sha256: str, *, settings: VisionSettings) -> Photo:
    photo = read_photo(path, settings=settings)
    if photo.sha256 != sha256:
        raise PhotoUnreadable(
            f"The file {path.name} was changed while it was read. Let its copying end, then "
            "read it again."
        )
    return photo


def _fit(parts: Sequence[_Part], station: ShootingStation, plan: RailPlan) -> tuple[TableMap, ...]:
    sizes = {part.size_px for part in parts}
    if len(sizes) > 1:
        words = " and ".join(f"{width} x {height}" for width, height in sorted(sizes))
        raise RailsUnfit(
            f"The parts of this leaf have {words} pixels; one camera, held the same way, is needed "
            "for all. Photograph the leaf again."
        )
    for part in parts:
        if not len(part.markers):
            raise RailsUnfit(
                f"{part.head.file} shows no marker of the rails; every part must show both rails. "
                "Photograph the leaf again with the rails in view."
            )
    return fit_parts(
        [part.markers for part in parts],
        plan,
        tape=station.rails,
        size_px=parts[0].size_px,
        focal_35mm=parts[0].head.focal_35mm,
        camera_height_mm=None,
        holder=Holder(station.chart_patch_mm),
    )


def _shots(
    parts: Sequence[_Part],
    tables: Sequence[TableMap],
    at: AtStation,
    *,
    opened: tuple[int, Photo],
    settings: VisionSettings,
) -> list[PartShot]:
    """Return what `join_shots` needs; the part that is open already is not opened again."""
    decode = _decoder(at.light)

    def pixels(path: Path, sha256: str, held: list[Photo]) -> NDArray[np.uint8]:
        return (held.pop() if held else _again(path, sha256, settings=settings)).rgb

    return [
        PartShot(
            partial(
                pixels,
                part.path,
                part.head.sha256,
                [opened[1]] if index == opened[0] == 0 else [],
            ),
            part.size_px,
            hold_again(part.board, decode=decode).field,
            table,
        )
        for index, (part, table) in enumerate(zip(parts, tables, strict=True))
    ]


def _join(
    shots: Sequence[PartShot], at: AtStation, *, height_mm: float
) -> tuple[JoinedPicture, float]:
    """Return the joined picture, and the parts' own pixels to a millimetre."""
    scales = []
    for shot in shots:
        middle = shot.table.to_mm(np.array([shot.size_px]) / 2, height_mm)[0]
        place = (float(middle[0]), float(middle[1]))
        scales.append(shot.table.px_per_mm_at(place, height_mm))
    own = float(np.mean(scales))
    megapixels = joined_megapixels(shots, own, height_mm=height_mm)
    scale = own * min(1.0, float(np.sqrt(MOST_MEGAPIXELS / megapixels)))
    decode = _decoder(at.light)
    return join_shots(shots, scale, height_mm=height_mm, decode=decode), own


def _decoder(light: BundleLight) -> NDArray[np.float32] | None:
    return None if light.tone is None else decode_table(light.tone)


def _photo_of(picture: JoinedPicture, heads: Sequence[Photo]) -> Photo:
    rows, columns = picture.rgb.shape[:2]
    digest = hashlib.sha256()
    for head in heads:
        digest.update(head.original)
    return replace(
        heads[0],
        rgb=picture.rgb,
        sha256=digest.hexdigest(),
        full_width_px=columns,
        full_height_px=rows,
        reduction=1.0,
        focal_35mm=None,
        flags=(),
    )


def _at_station(
    joined: Photo,
    picture: JoinedPicture,
    at: AtStation,
    tables: Sequence[TableMap],
    own_scale: float,
    by: str,
) -> AtStation:
    """Return how the joined picture is to be read: its light even, its tone sRGB's."""
    board = find_board(joined.rgb)
    misses = tuple(miss for table in tables for miss in _moved(table, picture))
    quality = replace(
        at.quality,
        markers=misses,
        rail_rms_mm=picture.table.rms_mm,
        light_map=light_map(board),
        colour_words=f"By {by}: {at.quality.colour_words}",
        size_words=_size_words(picture, tables, own_scale),
    )
    light = replace(at.light, tone=None)
    table = replace(picture.table, misses=misses)
    return replace(at, board=board, light=light, table=table, quality=quality)


def _moved(table: TableMap, picture: JoinedPicture) -> tuple[MarkerMiss, ...]:
    """Return a part's marker misses at their places in the joined picture, those within it."""
    places = table.to_mm(np.array([(one.x_px, one.y_px) for one in table.misses]))
    rows, columns = picture.rgb.shape[:2]
    return tuple(
        replace(one, x_px=float(x), y_px=float(y))
        for one, (x, y) in zip(table.misses, picture.table.to_px(places), strict=True)
        if 0 <= x < columns and 0 <= y < rows
    )


def _size_words(picture: JoinedPicture, tables: Sequence[TableMap], own_scale: float) -> str:
    words = (
        f"Joined from {len(tables)} photographs by the rails of known length, which miss their "
        f"places by {picture.table.rms_mm:.2f} mm at the most. "
    )
    if picture.seam_miss_mm is None:
        words += "Some neighbours share no marker, so that nothing tests their seam. "
    else:
        words += (
            "Markers that two neighbours show come out "
            f"{picture.seam_miss_mm:.2f} mm apart at the worst seam. "
        )
    words += f"{picture.px_per_mm:.1f} pixels to a millimetre"
    if picture.px_per_mm < own_scale:
        words += f"; the photographs themselves have {own_scale:.1f}"
    return f"{words}."
