"""What rails, chart and station say of one photograph: its millimetres and its colour.

A photograph without rails, and without a station, is read as before: by its board, its strip and a
typed size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import FINE_LONG_PX, Board, find_board, shrink
from vision.bundle_light import BundleLight, hold_by_itself
from vision.errors import RailsUnfit
from vision.flags import PhotoFlag
from vision.frame import Rails
from vision.frame_calibration import FrameCalibration, calibrate_frame
from vision.outline import Outline
from vision.photo import Photo
from vision.rail_fit import find_markers, fit_table
from vision.rail_greys import RailPatch
from vision.rail_plan import HOLDER_IDS, Holder, RailPlan
from vision.readings import ColourClass, MarkerMiss, PhotoQuality
from vision.settings import VisionSettings
from vision.shooting_station import ShootingStation, StationGrey
from vision.table_map import TableMap
from vision.tone_curve import decode_table

BESIDE_MM = 100.0
"""How far past the outermost markers in view a patch of the rails is still looked for."""
LIGHT_MAP = (9, 14)
"""Columns and rows of the light map kept with a photograph (an upright one; else turned)."""


@dataclass(frozen=True, slots=True, eq=False)
class AtStation:
    """A photograph held against its station.

    Parameters
    ----------
    board : Board
    light : BundleLight
        What turns board and camera into wood: the bundle's where it has one, else this
        photograph's own.
    colour_class : ColourClass
        Of this very photograph.
    delta_e00_sd : float or None
    table : TableMap or None
        None where no rails can be trusted.
    quality : PhotoQuality
    """

    board: Board
    light: BundleLight
    colour_class: ColourClass
    delta_e00_sd: float | None
    table: TableMap | None
    quality: PhotoQuality
    greys: tuple[StationGrey, ...] = ()


def hold_at_station(
    photo: Photo,
    station: ShootingStation,
    *,
    settings: VisionSettings,
    light: BundleLight | None = None,
    blank: NDArray[np.uint8] | None = None,
    today: date | None = None,
    table: TableMap | None = None,
) -> AtStation:
    """Return a photograph held against the station at which it was taken.

    Parameters
    ----------
    photo : Photo
    station : ShootingStation
    settings : VisionSettings
    light : BundleLight or None
        One scale for a whole bundle; without it the photograph stands for itself.
    blank : ndarray or None
        The bare board under the same lamp.
    today : date or None
        The day against which the station's age is held; None: the day in the file, if there is one.
    table : TableMap or None
        The fit of the rails, if photographs of other parts of the table took part in it: this one
        then shows but a part of the rails. None: the rails are sought and fitted.

    Raises
    ------
    BoardNotFound
        If too little plain board is in view.
    """
    if light is not None and light.colour is None and station.colour is not None:
        light = None  # settled before the station was: it knows nothing of the camera's colours
    reduced = shrink(photo.rgb, FINE_LONG_PX)
    plan: Rails | None = plan_of(station)
    size_words = ""
    if table is None:
        table, size_words = _table(photo, station, reduced)
    elif plan is not None:
        plan = _PatchesInView(plan, table.span_mm)
    tone = station.tone if light is None else light.tone
    decode = None if tone is None else decode_table(tone)
    held = find_board(photo.rgb, blank=blank, decode=decode, reduced=reduced)
    frame = calibrate_frame(
        photo,
        table=table,
        plan=plan if table is not None else None,
        station=station,
        chart_edition=station.chart_edition if _shows_holder(table) else None,
        chips=station.chips,
        patch_centres_mm=_patch_centres(station),
        held=(held, tone),
        blank=blank,
        today=day_of(photo) or today,
    )
    board, colour_class = frame.board or held, frame.colour_class
    if light is not None:
        board = held
    else:
        light = light_of(frame)
        if light is None:  # neither chart nor rails set the lightness: the strip, or exposure
            board, light = hold_by_itself(photo.rgb, settings=settings, blank=blank)
            colour_class = light.colour_class
    quality = PhotoQuality(
        markers=() if table is None else _in_full_px(table.misses, photo.reduction),
        rail_rms_mm=None if table is None else table.rms_mm,
        patches=frame.patches,
        light_map=light_map(board),
        colour_words=frame.words,
        size_words=size_words,
    )
    return AtStation(board, light, colour_class, frame.delta_e00_sd, table, quality, frame.greys)


def station_flags(at: AtStation, station: ShootingStation) -> tuple[PhotoFlag, ...]:
    """Return what a photograph lacks of what its station should give."""
    flags = []
    if station.rails is not None and at.table is None:
        flags.append(PhotoFlag.RAILS_UNFIT)
    if at.colour_class not in (ColourClass.MEASURED, ColourClass.STATION):
        flags.append(PhotoFlag.STATION_NOT_HELD)
    return tuple(flags)


def lies_on_rails(outline: Outline, table: TableMap | None) -> bool:
    """Tell whether an outline is a rail's or the chart holder's, not a leaf's.

    Paper under a tinted lamp is no more neutral than pale wood; but no leaf lies over markers.
    """
    if table is None:
        return False
    places = [(one.x_px, one.y_px) for one in table.misses]
    if table.holder is not None:
        places += [(float(x), float(y)) for x, y in table.holder_to_px(np.zeros((1, 2)))]
    closed = outline.points.astype(np.float32)
    return any(cv2.pointPolygonTest(closed, place, measureDist=False) > 0 for place in places)


def plan_of(station: ShootingStation) -> RailPlan | None:
    """Return the design of the station's rails; None if it has none."""
    return (
        None if station.rails is None else RailPlan(station.rails.markers, station.rails.pitch_mm)
    )


def day_of(photo: Photo) -> date | None:
    """Return the day on which a photograph was taken, by its file."""
    return None if photo.taken_at is None else date.fromisoformat(photo.taken_at[:10])


def light_of(frame: FrameCalibration) -> BundleLight | None:
    """Return what a calibrated photograph says of board and camera; None if it does not."""
    if frame.board_rgb is None:
        return None
    return BundleLight(
        board_rgb=frame.board_rgb,
        colour_class=frame.colour_class,
        tone=frame.tone,
        colour=frame.colour,
    )


def light_map(board: Board) -> tuple[tuple[float, ...], ...]:
    """Return the light on the board on a coarse grid, 1 where it is brightest."""
    width, height = board.field.size_px
    columns, rows = LIGHT_MAP if height >= width else LIGHT_MAP[::-1]
    x, y = np.meshgrid(
        (np.arange(columns) + 0.5) / columns * width, (np.arange(rows) + 0.5) / rows * height
    )
    light = board.field.at(x, y).astype(np.float64).mean(axis=2)
    light /= light.max()
    return tuple(tuple(round(float(value), 3) for value in row) for row in light)


class _PatchesInView:
    """The patches of the rails beside markers that are in view.

    Far outside a photograph its lens terms have no inverse, and may put what lies there inside.
    """

    def __init__(self, plan: Rails, span_mm: tuple[float, float]) -> None:
        self._plan, self._span_mm = plan, span_mm

    def grey_patches(self) -> Sequence[RailPatch]:
        """Return the greys."""
        return self._near(self._plan.grey_patches())

    def white_patches(self) -> Sequence[RailPatch]:
        """Return the places of bare paper."""
        return self._near(self._plan.white_patches())

    def _near(self, patches: Sequence[RailPatch]) -> Sequence[RailPatch]:
        low, high = self._span_mm
        return [one for one in patches if low - BESIDE_MM < one.y_mm < high + BESIDE_MM]


def _table(
    photo: Photo, station: ShootingStation, reduced: tuple[NDArray[np.uint8], float]
) -> tuple[TableMap | None, str]:
    """Return the fit of the rails, or None, and why in a sentence."""
    plan = plan_of(station)
    if plan is None or station.rails is None:
        return None, "The station has no rails; the size rests on what was typed."
    try:
        table = fit_table(
            find_markers(
                photo.rgb,
                reduced=reduced,
                wanted=tuple(plan.marker_centres(None, None)),
                together=HOLDER_IDS,
            ),
            plan,
            tape=station.rails,
            size_px=(photo.rgb.shape[1], photo.rgb.shape[0]),
            focal_35mm=photo.focal_35mm,
            camera_height_mm=station.camera_height_mm,
            holder=Holder(station.chart_patch_mm),
        )
    except RailsUnfit as error:
        return None, str(error)
    if not table.is_by_tape:
        return table, "Rails as printed, not measured by tape."
    return table, (
        f"Measured by {len(table.misses)} markers on rails of known length; they miss their places "
        f"by {table.rms_mm:.2f} mm."
    )


def _in_full_px(misses: tuple[MarkerMiss, ...], reduction: float) -> tuple[MarkerMiss, ...]:
    return tuple(
        replace(
            one,
            x_px=(one.x_px + 0.5) * reduction - 0.5,
            y_px=(one.y_px + 0.5) * reduction - 0.5,
        )
        for one in misses
    )


def _shows_holder(table: TableMap | None) -> bool:
    return table is not None and table.holder is not None


def _patch_centres(station: ShootingStation) -> tuple[tuple[float, float], ...]:
    return Holder(station.chart_patch_mm).patch_centres()
