"""Colour without a chart: by the station if the rails' greys agree with it, else by greys alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.frame import Frame, FrameCalibration, held_greys, station_greys, triple
from vision.readings import ColourClass
from vision.shooting_station import ShootingStation, StationGrey, ToneCurve
from vision.station_check import Agreement, check_greys
from vision.tone_curve import KNOWN_SD, PRINTED_SD, decode_table, fit_tone

WOOD_SHARE = 0.4
"""CIEDE2000 on wood for each of held-out patches: wood spectra are smoother than the patches'
(0.38 to 1.44 and 1.3 to 3.2 with two cameras under eight lights, computed)."""
LEAST_SD = 0.3
"""CIEDE2000 that no fit of one photograph gets below: reading, flat field, noise."""
STALE_SD = 1.7
"""CIEDE2000 on wood by the matrix of a station that no longer holds, level and neutral set anew
(lamps 200 K warmer, computed)."""
GREY_STEPS_SD = 2.4
"""CIEDE2000 on wood with known greys but the camera's own hues."""


def calibrate_by_station(
    frame: Frame, station: ShootingStation | None, today: date | None
) -> FrameCalibration:
    """Return what station and greys say.

    Parameters
    ----------
    frame : Frame
    station : ShootingStation or None
    today : date or None
        Against the station's expiry; None: not asked.
    """
    if station is None or station.colour is None or not station.greys:
        return calibrate_by_greys(frame, () if station is None else station.grey_reflectances)
    agreed = None
    if frame.greys is not None:
        light = frame.greys.light(decode_table(station.tone))
        seen = dict(zip(frame.greys.names, light, strict=True))
        agreed = check_greys(seen, station.greys, station.colour)
    if agreed is None:
        words = (
            "Three greys of the rails cannot be read, so nothing tells whether the station "
            f"“{station.name}” still holds. Leave the rails in view."
        )
        board = frame.hold(station.tone)
        return FrameCalibration(
            station.tone, station.colour, ColourClass.RELATIVE, words=words, board=board
        )
    if today is not None and today >= station.expires_on:
        words = (
            f"The station “{station.name}” expired on {station.expires_on.isoformat()}, "
            f"{station.days} days after it was set up. Set it up again. {agreed.words}"
        )
        return _by_stale_station(frame, station, words)
    if not agreed.holds:
        return _by_stale_station(frame, station, agreed.words)
    return _by_station(frame, station, agreed)


def _by_station(frame: Frame, station: ShootingStation, agreed: Agreement) -> FrameCalibration:
    board, board_rgb = _level_by_greys(frame, station.greys, station.tone)
    return FrameCalibration(
        tone=station.tone,
        colour=station.colour,
        colour_class=ColourClass.STATION,
        greys=station_greys(frame, board, board_rgb, tone=station.tone, colour_map=station.colour),
        words=f"By the station “{station.name}”. {agreed.words}",
        delta_e00_sd=float(np.hypot(_own_sd(station), agreed.total)),
        board_rgb=None if board_rgb is None else triple(board_rgb),
        board=board,
    )


def _own_sd(station: ShootingStation) -> float:
    held_out = 0.0 if station.colour is None else station.colour.held_out_mean
    return max(LEAST_SD, WOOD_SHARE * held_out)


def _by_stale_station(frame: Frame, station: ShootingStation, words: str) -> FrameCalibration:
    """Return tone, level and neutral by the greys that the station once measured.

    Its matrix is kept: a camera's own colours are farther off than those of last month's lamps.
    """
    camera = {one.name: one.camera for one in station.greys if one.camera is not None}
    tone: ToneCurve | None = None
    if frame.greys is not None:
        known = np.array([camera.get(name, (np.nan,) * 3) for name in frame.greys.names])
        tone = _tone_of_greys(frame, known, known_sd=KNOWN_SD, neutral=True)
    board, board_rgb = _level_by_greys(frame, station.greys, tone)
    return FrameCalibration(
        tone=tone,
        colour=station.colour,
        colour_class=ColourClass.RELATIVE if board_rgb is None else ColourClass.GREY_STEPS,
        greys=station_greys(frame, board, board_rgb, tone=tone, colour_map=station.colour),
        words=words,
        delta_e00_sd=None if board_rgb is None else float(np.hypot(_own_sd(station), STALE_SD)),
        board_rgb=None if board_rgb is None else triple(board_rgb),
        board=board,
    )


def _level_by_greys(
    frame: Frame, known: Sequence[StationGrey], tone: ToneCurve | None
) -> tuple[Board | None, NDArray[np.float64] | None]:
    """Return the board by a tone curve, and what it reflects by greys whose colour is known."""
    board = frame.hold(tone)
    if board is None or frame.greys is None:
        return board, None
    camera = {one.name: one.camera for one in known if one.camera is not None}
    held = dict(zip(frame.greys.names, held_greys(frame.greys, board, tone), strict=True))
    ratios = [np.log(np.array(camera[name]) / held[name]) for name in held if name in camera]
    return board, np.exp(np.median(ratios, axis=0)) if ratios else None


def calibrate_by_greys(frame: Frame, measured: Sequence[float]) -> FrameCalibration:
    """Return tone and level by the printed greys; hue and neutral are the camera's own.

    Greys as designed are an office printer's, so colour stays relative unless their reflectances
    were measured.

    Parameters
    ----------
    frame : Frame
    measured : sequence of float
        Reflectances of the steps of the grey scale; empty: as designed.
    """
    if frame.greys is None or not frame.greys.names or frame.board is None:
        words = (
            "No chart, no station and no greys of the rails can be used: colour holds within this "
            "photograph only."
        )
        return FrameCalibration(
            frame.tone, None, ColourClass.RELATIVE, words=words, board=frame.board
        )
    known, is_measured = _reflectances(frame.greys.designed, measured)
    sd = KNOWN_SD if is_measured else PRINTED_SD
    tone = _tone_of_greys(frame, known, known_sd=sd, neutral=False)
    board = frame.hold(tone) or frame.board
    held = held_greys(frame.greys, board, tone).mean(axis=1)
    light = board.field.at(*frame.greys.centres_px.T).mean(axis=0)
    board_rgb = float(np.median(known / held)) * light / light.mean()
    found = FrameCalibration(
        tone=tone,
        colour=None,
        colour_class=ColourClass.GREY_STEPS,
        greys=station_greys(frame, board, board_rgb, tone=tone, colour_map=None),
        words="Tone and level by the greys of the rails; hue is the camera's own.",
        delta_e00_sd=GREY_STEPS_SD,
        board_rgb=triple(board_rgb),
        board=board,
    )
    if is_measured:
        return found
    words = (
        "Tone by the printed greys of the rails, which nobody has measured: colour holds within "
        "this photograph only. Lay a colour chart beside them once."
    )
    return replace(found, colour_class=ColourClass.RELATIVE, words=words, delta_e00_sd=None)


def _reflectances(
    designed: NDArray[np.float64], measured: Sequence[float]
) -> tuple[NDArray[np.float64], bool]:
    """Return each grey's reflectance: as measured, step by step, else as designed."""
    steps = np.unique(designed)[::-1]
    if not measured or len(measured) < len(steps):
        return designed, False
    by_step = dict(zip(steps.tolist(), sorted(measured, reverse=True), strict=False))
    return np.array([by_step[step] for step in designed.tolist()]), True


def _tone_of_greys(
    frame: Frame, known: NDArray[np.float64], *, known_sd: float, neutral: bool
) -> ToneCurve | None:
    """Return the tone curve by greys of known reflectance; NaN where it is not known."""
    if frame.greys is None:
        return None
    usable = np.isfinite(known.reshape(len(known), -1)).all(axis=1)
    if not usable.any():
        return None
    beside = frame.levels_beside(frame.greys.centres_px[usable])
    levels = frame.greys.levels()[usable]
    return fit_tone(levels, known[usable], beside=beside, known_sd=known_sd, neutral=neutral)
