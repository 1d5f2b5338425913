"""Set a shooting station up, and try a photograph at one: what screen and command share."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from catalog.catalog import Catalog
from catalog.errors import EntryFaulty
from catalog.quality_sheet import draw_quality_sheet
from catalog.records import KnownStation, StationId
from vision.photo import Photo, read_photo
from vision.rail_plan import RailPlan
from vision.readings import PhotoQuality, PhotoReading
from vision.settings import PIPELINE_VERSION, VisionSettings
from vision.shooting_station import RailsByTape, ShootingStation
from vision.station_setup import set_up_station
from vision.station_use import hold_at_station
from vision.station_verdict import StationVerdict, judge_at_station

SHOWN_PX = 1500
"""Long side of the photograph kept for the quality sheet, at least."""
MOST_PRINT_SCALE = 0.012
"""Fraction by which a printed rail may differ from its design; printers stay within 0.005."""
LEAST_GAP_MM, MOST_GAP_MM = 80.0, 3000.0
LEAST_HEIGHT_MM, MOST_HEIGHT_MM = 300.0, 10000.0


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """A photograph held against a station."""

    station: ShootingStation
    """As set up; for a new one as this photograph has told it, not kept yet."""
    verdict: StationVerdict
    reading: PhotoReading
    """Without leaves: none was looked for."""
    shown_rgb: NDArray[np.uint8]
    """The photograph, reduced, for the sheet."""

    def sheet(self) -> Image.Image:
        """Return the quality sheet of the photograph."""
        return draw_quality_sheet(self.shown_rgb, self.reading)


def rails_by_tape(
    *,
    left_mm: float,
    right_mm: float,
    gap_top_mm: float | None,
    gap_bottom_mm: float | None,
    pitch_mm: float,
) -> RailsByTape:
    """Return the rails as a tape measured them, checked against their design.

    Parameters
    ----------
    left_mm, right_mm : float
        Centre of the first marker to centre of the last.
    gap_top_mm, gap_bottom_mm : float or None
        Centre line to centre line at the first and at the last markers.
    pitch_mm : float
        Marker to marker as designed.

    Raises
    ------
    EntryFaulty
        If a length is not that of any such rail, the rails are not alike, or a gap cannot be.
    RailsNotPossible
        If no such rails are made.
    """
    counts = [_markers(side, mm, pitch_mm) for side, mm in (("left", left_mm), ("right", right_mm))]
    if counts[0] != counts[1]:
        raise EntryFaulty(
            f"By the tape the left rail has {counts[0]} markers and the right one {counts[1]}. "
            "Both need the same number; measure again, or cut the longer rail."
        )
    for gap_mm in (gap_top_mm, gap_bottom_mm):
        if gap_mm is not None and not LEAST_GAP_MM <= gap_mm <= MOST_GAP_MM:
            raise EntryFaulty(
                f"A gap of {gap_mm:g} mm between the rails was typed; {LEAST_GAP_MM:g} to "
                f"{MOST_GAP_MM:g} mm is possible. Measure from centre line to centre line."
            )
    plan = RailPlan(counts[0], pitch_mm)
    return RailsByTape(plan.markers, pitch_mm, left_mm, right_mm, gap_top_mm, gap_bottom_mm)


def set_up(photo: Path, typed: ShootingStation, *, settings: VisionSettings, today: date) -> Tried:
    """Return a station as one photograph tells it; nothing is kept yet (`keep_station`).

    Parameters
    ----------
    photo : Path
        Rails, bare board and, if one was promised, the chart.
    typed : ShootingStation
        What the dealer typed; its day is replaced by the photograph's, else by ``today``.
    settings : VisionSettings
    today : date

    Raises
    ------
    EntryFaulty
        If the name is empty or the camera cannot hang so high.
    PhotoUnreadable, BoardNotFound, StationUnfit
        If the photograph cannot set a station up; the message says why.
    """
    height_mm = typed.camera_height_mm
    if not typed.name.strip():
        raise EntryFaulty("The station has no name. Give it one, such as “long table”.")
    if height_mm is not None and not LEAST_HEIGHT_MM <= height_mm <= MOST_HEIGHT_MM:
        raise EntryFaulty(
            f"A camera {height_mm:g} mm above the table was typed; {LEAST_HEIGHT_MM:g} to "
            f"{MOST_HEIGHT_MM:g} mm is possible. Measure from the lens straight down."
        )
    read = read_photo(photo, settings=settings)
    done = set_up_station(
        read, replace(typed, name=typed.name.strip()), settings=settings, today=today
    )
    return _tried(read, done.station, done.verdict, done.quality)


def keep_station(tried: Tried, *, catalog: Catalog) -> StationId:
    """Record a station that was set up; earlier ones of its name stay with their photographs."""
    return catalog.add_station(tried.station, tried.reading.quality or PhotoQuality())


def try_photo(photo: Path, known: KnownStation, *, settings: VisionSettings, today: date) -> Tried:
    """Return what a photograph taken at a station is good for; nothing is recorded.

    Raises
    ------
    PhotoUnreadable, BoardNotFound
        If nothing can be said of the photograph.
    """
    read = read_photo(photo, settings=settings)
    at = hold_at_station(read, known.station, settings=settings, today=today)
    return _tried(read, known.station, judge_at_station(at), at.quality)


def has_expired(station: ShootingStation, today: date) -> bool:
    """Tell whether a station is past its days."""
    return today >= station.expires_on


def _markers(side: str, length_mm: float, pitch_mm: float) -> int:
    steps = round(length_mm / pitch_mm)
    if steps < 1 or abs(length_mm / (steps * pitch_mm) - 1) > MOST_PRINT_SCALE:
        near = max(steps, 1) * pitch_mm
        raise EntryFaulty(
            f"The {side} rail was typed as {length_mm:g} mm long; with a marker every "
            f"{pitch_mm:g} mm it would be near {near:g} mm. Measure from the centre of its first "
            "marker to the centre of its last."
        )
    return steps + 1


def _tried(
    photo: Photo, station: ShootingStation, verdict: StationVerdict, quality: PhotoQuality
) -> Tried:
    step = max(1, max(photo.rgb.shape[:2]) // SHOWN_PX)
    reading = PhotoReading(
        file=photo.file,
        sha256=photo.sha256,
        width_px=photo.full_width_px,
        height_px=photo.full_height_px,
        taken_at=photo.taken_at,
        leaves=(),
        flags=photo.flags,
        pipeline_version=PIPELINE_VERSION,
        quality=quality,
    )
    return Tried(station, verdict, reading, _reduced(photo.rgb, step))


def _reduced(rgb: NDArray[np.uint8], step: int) -> NDArray[np.uint8]:
    return np.asarray(Image.fromarray(rgb).reduce(step) if step > 1 else rgb, dtype=np.uint8)
