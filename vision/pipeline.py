"""The walk of one photograph: file, board, outline, flat leaf, readings."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from vision.board import FINE_LONG_PX, Board, find_board
from vision.bundle_light import (
    SURVEY_SHOTS,
    BundleLight,
    decoder_of,
    hold_by_itself,
    judge_board,
    settle_light,
)
from vision.cut_out import CutOut, cut_out, cut_out_pair
from vision.errors import LeafNotFound, OutlineFaulty, RailsUnfit, VisionError
from vision.figure import measure_figure
from vision.fine_edge import refine_edge
from vision.flags import MEANINGS, PhotoFlag
from vision.hand_outline import Points, checked_outline, outline_by_hand
from vision.joined_reading import read_parts
from vision.leaf_colour import measure_colour
from vision.leaf_image import LeafImage
from vision.light_profile import HeldAgainst, measure_light
from vision.markers import find_rails
from vision.openings import find_openings
from vision.outline import Outline, choose_leaves, find_leaves
from vision.photo import Photo, read_photo
from vision.photo_faults import faults_flags, find_faults
from vision.picture_file import PictureKind, encode_picture
from vision.readings import (
    ColourClass,
    LeafReading,
    LightReference,
    PhotoQuality,
    PhotoReading,
)
from vision.settings import PIPELINE_VERSION, VisionSettings
from vision.shooting_station import ShootingStation
from vision.shot import Laid, Lamp, Shot
from vision.station_use import (
    AtStation,
    hold_at_station,
    lies_on_rails,
    light_map,
    station_flags,
)
from vision.table_map import TableMap

LEVEL_SD = {LightReference.BLANK: 0.002, LightReference.BOARD: 0.004}
"""One standard deviation, as a fraction, to which the board under the leaf is known."""
DARK_BOARD_SD = 6e-5
"""Linear light by which a dark board is misread: rounding to eight bits and compression."""

SCALE_SD = {
    ColourClass.MEASURED: 0.005,
    ColourClass.STATION: 0.01,
    ColourClass.GREY_STEPS: 0.01,
    ColourClass.RELATIVE: 0.20,
    ColourClass.NONE: 0.25,
}
"""One standard deviation of the lightness scale, as a fraction of a step: without known greys the
camera's exposure may be half as light or twice as light as taken, and its contrast is unknown:
steps came out 15 to 30 % off on photographs of other makers."""

MISFIT_SCALE = 1.2
"""The same for each unit of the strip's misfit: a camera's contrast curve is steepest in the mid
tones, where wood lies (drawn with powers of 0.9 and 1.12: steps came out 0.9 and 1.12 times as
large at a misfit of 0.07 to 0.1)."""


@dataclass(frozen=True, slots=True, eq=False)
class BlankFrame:
    """A photograph of the bare board under one lamp."""

    photo: Photo
    lamp: Lamp


@dataclass(frozen=True, slots=True, eq=False)
class ReadShot:
    """What a photograph gave: the reading, and the flat leaves parallel to ``reading.leaves``."""

    reading: PhotoReading
    leaves: tuple[LeafImage, ...]
    original: bytes
    """The very bytes of the file that were read; the first part's."""
    more_originals: tuple[bytes, ...] = ()
    """Those of the other parts, in order."""
    picture: bytes | None = None
    """The picture joined from the parts, a JPEG; None for a single photograph."""


def read_blank(path: Path, shot: Shot, *, settings: VisionSettings) -> BlankFrame:
    """Return a photograph of the bare board, for the shots under the same lamp."""
    return BlankFrame(read_photo(path, settings=settings), shot.lamp)


def survey_light(
    folder: Path,
    shots: Iterable[Shot],
    *,
    settings: VisionSettings,
    station: ShootingStation | None = None,
    today: date | None = None,
) -> BundleLight | None:
    """Return the board's reflectance from a few photographs of a bundle; None if none is readable.

    The first `SURVEY_SHOTS` photographs that can be read are asked, so that the same folder always
    gives the same answer. Leaves photographed in parts are passed over: each stands for itself.
    ``station`` and ``today`` are as for `read_shot`.
    """
    judged: list[BundleLight] = []
    for shot in shots:
        if len(judged) == SURVEY_SHOTS:
            break
        if shot.parts:
            continue
        try:
            file = folder / shot.file
            if station is not None:
                photo = read_photo(file, settings=settings)
                judged.append(hold_at_station(photo, station, settings=settings, today=today).light)
                continue
            photo = read_photo(file, settings=settings, least_long_px=FINE_LONG_PX)
            judged.append(judge_board(find_board(photo.rgb), settings=settings))
        except VisionError:
            continue
    return settle_light(judged) if judged else None


def read_shot(
    path: Path,
    shot: Shot,
    *,
    settings: VisionSettings,
    light: BundleLight | None = None,
    blanks: Mapping[Lamp, BlankFrame] | None = None,
    outlines: Sequence[Points] | None = None,
    station: ShootingStation | None = None,
    today: date | None = None,
) -> ReadShot:
    """Return what one photograph shows of its leaf, or of its two leaves if they lie opened.

    Parameters
    ----------
    path : Path
        The photograph; the first of ``shot.parts``, the others lying beside it.
    shot : Shot
        How the leaf lay and was lit. For a bare board only the file is checked. Parts are joined
        into one picture, and that is read: outlines are in its pixels.
    settings : VisionSettings
    light : BundleLight or None
        The bundle's scale (`survey_light`); without it the photograph stands for itself.
    blanks : mapping of Lamp to BlankFrame, or None
        Photographs of the bare board; the one under the shot's lamp is used.
    outlines : sequence of Points, or None
        Drawn by hand, one for each leaf in view, left to right; nothing is then sought.
    station : ShootingStation or None
        Where the photograph was taken: rails, tone and colour of its camera.
    today : date or None
        Against which the station's age is held where the file tells no day.

    Raises
    ------
    PhotoUnreadable
        If the file cannot be read.
    BoardNotFound
        If too little plain board is in view.
    LeafNotFound
        If there is no leaf, a leaf too many or too few, or the frame cuts it.
    OutlineFaulty
        If an outline drawn by hand cannot be that of a leaf, or the leaf was joined from parts.
    RailsUnfit
        If parts of a leaf cannot be joined (`vision.joined_reading.read_parts`).
    """
    if shot.parts:
        return _read_joined(path.parent, shot, settings, light, outlines, station, today)
    photo = read_photo(path, settings=settings)
    if shot.blank:
        return ReadShot(_photo_reading(photo, shot, (), photo.flags), (), photo.original)
    blank = (blanks or {}).get(shot.lamp)
    held = _hold(photo, light, None if blank is None else blank.photo.rgb, settings, station, today)
    drawn = _checked(outlines, shot, photo)
    found = tuple(outline_by_hand(points, photo, held.board) for points in drawn) or _find(
        photo, held, shot
    )
    leaves = _cut(photo, held, found, shot)
    if drawn:  # kept to the letter, so that it can be taken up again
        leaves = tuple(
            replace(leaf, outline=points) for leaf, points in zip(leaves, drawn, strict=True)
        )
    reference = LightReference.BOARD if blank is None else LightReference.BLANK
    return _read_leaves(photo, held, (found, leaves), shot, reference)


def _read_joined(
    folder: Path,
    shot: Shot,
    settings: VisionSettings,
    light: BundleLight | None,
    outlines: Sequence[Points] | None,
    station: ShootingStation | None,
    today: date | None,
) -> ReadShot:
    """Return what the parts of a leaf show, joined into one picture."""
    if outlines is not None:
        raise OutlineFaulty(
            f"This leaf was joined from {len(shot.parts)} photographs; outlines are drawn on a "
            "single one only."
        )
    height_mm = shot.thickness_mm or 0.0
    joined = read_parts(
        [folder / name for name in shot.parts],
        station,
        settings=settings,
        light=light,
        height_mm=height_mm,
        today=today,
    )
    photo, held = joined.photo, _held_at(joined.at, joined.flags)
    picture = encode_picture(photo.rgb, PictureKind.JPEG)
    found = _find(photo, held, shot)
    leaves = _cut(photo, held, found, shot)
    read = _read_leaves(photo, held, (found, leaves), shot, LightReference.BOARD)
    # Neither lamp nor eye can be told from a picture whose light was made even.
    alike = tuple(
        replace(leaf, light=replace(leaf.light, station=None)) for leaf in read.reading.leaves
    )
    digests = [hashlib.sha256(data).hexdigest() for data in (*joined.originals, picture)]
    reading = replace(
        read.reading, leaves=alike, part_sha256=tuple(digests[:-1]), picture_sha256=digests[-1]
    )
    return replace(read, reading=reading, more_originals=joined.originals[1:], picture=picture)


def _read_leaves(
    photo: Photo,
    held: _Held,
    cut: tuple[Sequence[Outline], Sequence[CutOut]],
    shot: Shot,
    reference: LightReference,
) -> ReadShot:
    """Return the readings of leaves found and cut out."""
    found, leaves = cut
    readings = tuple(
        replace(
            _leaf_reading(label, leaf, held, reference),
            outline_mm=_on_table(leaf.outline, photo, held.table, shot),
        )
        for label, leaf in zip(shot.leaves, leaves, strict=True)
    )
    faults = find_faults(photo, held.board, found, board_rgb=held.light.board_rgb)
    flags = [
        *photo.flags,
        *(flag for leaf in leaves for flag in leaf.flags),
        *held.flags,
        *faults_flags(faults),
    ]
    return ReadShot(
        reading=replace(_photo_reading(photo, shot, readings, flags), quality=held.quality),
        leaves=tuple(leaf.image for leaf in leaves),
        original=photo.original,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """A photograph with everything that says what its pixels mean."""

    board: Board
    light: BundleLight
    colour_class: ColourClass
    delta_e00_sd: float | None
    table: TableMap | None
    quality: PhotoQuality
    flags: tuple[PhotoFlag, ...]


def _hold(
    photo: Photo,
    light: BundleLight | None,
    blank: NDArray[np.uint8] | None,
    settings: VisionSettings,
    station: ShootingStation | None,
    today: date | None,
) -> _Held:
    if station is not None:
        at = hold_at_station(
            photo, station, settings=settings, light=light, blank=blank, today=today
        )
        return _held_at(at, station_flags(at, station))
    board, light = hold_by_itself(photo.rgb, settings=settings, light=light, blank=blank)
    is_known = light.colour_class is ColourClass.GREY_STEPS
    return _Held(
        board=board,
        light=light,
        colour_class=light.colour_class,
        delta_e00_sd=None,
        table=None,
        quality=PhotoQuality(light_map=light_map(board)),
        flags=() if is_known else (PhotoFlag.STRIP_MISSING,),
    )


def _held_at(at: AtStation, flags: tuple[PhotoFlag, ...]) -> _Held:
    return _Held(at.board, at.light, at.colour_class, at.delta_e00_sd, at.table, at.quality, flags)


def _find(photo: Photo, held: _Held, shot: Shot) -> tuple[Outline, ...]:
    """Return the outlines of the leaves, their edges set in the photograph's own pixels."""
    try:
        seen = tuple(one for one in find_leaves(held.board) if not lies_on_rails(one, held.table))
        found = choose_leaves(seen, pair=shot.laid is Laid.OPENED_PAIR)
    except LeafNotFound as error:
        raise LeafNotFound(f"{error}{_likely_cause(photo, held)}") from error
    step, decode = held.board.fine_step, decoder_of(held.light)
    return tuple(refine_edge(one, photo.rgb, fine_step=step, decode=decode) for one in found)


def _likely_cause(photo: Photo, held: _Held) -> str:
    """Return what is wrong with a photograph in which no leaf could be told, a sentence or none."""
    faults = find_faults(photo, held.board, (), board_rgb=held.light.board_rgb)
    advice = [MEANINGS[flag].advice for flag in faults_flags(faults)]
    return f" The photograph itself may be the cause: {' '.join(advice)}" if advice else ""


def _cut(photo: Photo, held: _Held, found: Sequence[Outline], shot: Shot) -> tuple[CutOut, ...]:
    """Return the leaves cut out, by the rails if they flank them, else as without rails."""
    is_pair = shot.laid is Laid.OPENED_PAIR
    cut = (
        cut_out_pair
        if is_pair
        else partial(cut_out, openings=[find_openings(photo.rgb, held.board, one) for one in found])
    )
    reduced = (held.board.fine, held.board.fine_step)
    for table in dict.fromkeys((held.table, None)):
        is_unknown = table is None and shot.length_mm is None
        rails = find_rails(photo.rgb, reduced=reduced) if is_unknown else ()
        try:
            return cut(
                photo,
                held.board,
                found,
                shot=shot,
                rails=rails,
                board_rgb=held.light.board_rgb,
                table=table,
                decode=decoder_of(held.light),
                colour=held.light.colour,
            )
        except RailsUnfit:
            if table is None or shot.parts:
                raise
    raise AssertionError("the last round returns or raises")


def _checked(outlines: Sequence[Points] | None, shot: Shot, photo: Photo) -> tuple[Points, ...]:
    """Return the outlines drawn by hand, in order; empty where they are to be found."""
    if outlines is None:
        return ()
    if len(outlines) != len(shot.leaves):
        raise OutlineFaulty(
            f"{len(outlines)} outlines were drawn, {len(shot.leaves)} needed: one for each leaf "
            "in view, from left to right."
        )
    width, height = photo.full_width_px, photo.full_height_px
    return tuple(checked_outline(points, width_px=width, height_px=height) for points in outlines)


def _leaf_reading(label: str, leaf: CutOut, held: _Held, reference: LightReference) -> LeafReading:
    light = held.light
    against = HeldAgainst(
        foot=leaf.foot,
        station=leaf.station,
        reference=reference,
        level_sd=float(np.hypot(LEVEL_SD[reference], DARK_BOARD_SD / leaf.darkest_board)),
        scale_sd=float(np.hypot(SCALE_SD[light.colour_class], MISFIT_SCALE * light.strip_misfit)),
    )
    return LeafReading(
        leaf=label,
        size=leaf.size,
        colour=replace(
            measure_colour(leaf.image, colour_class=held.colour_class),
            delta_e00_sd=held.delta_e00_sd,
        ),
        figure=measure_figure(leaf.image),
        light=measure_light(leaf.image, against),
        outline=leaf.outline,
    )


def _on_table(
    outline: Points, photo: Photo, table: TableMap | None, shot: Shot
) -> tuple[tuple[float, float], ...]:
    """Return an outline in full-size pixels as it lies on the table, mm; empty without rails."""
    if table is None:
        return ()
    points = (np.array(outline) + 0.5) / photo.reduction - 0.5
    on_table = table.to_mm(points, shot.thickness_mm or 0.0)
    return tuple((round(float(x), 3), round(float(y), 3)) for x, y in on_table)


def _photo_reading(
    photo: Photo, shot: Shot, leaves: tuple[LeafReading, ...], flags: Iterable[PhotoFlag]
) -> PhotoReading:
    return PhotoReading(
        file=shot.file,
        sha256=photo.sha256,
        width_px=photo.full_width_px,
        height_px=photo.full_height_px,
        taken_at=photo.taken_at,
        leaves=leaves,
        flags=tuple(dict.fromkeys(flags)),
        pipeline_version=PIPELINE_VERSION,
    )
