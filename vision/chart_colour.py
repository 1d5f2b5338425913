"""What a chart in the photograph says: tone curve, level, neutral, and the camera's colours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.chart_references import EDITIONS, NEUTRALS, ChartReference, chart_reference
from vision.colour_chart import ChartReading
from vision.colour_fit import (
    CHIP_WEIGHT,
    MIX_WEIGHT,
    PLAIN,
    ColourFit,
    fit_colour,
    fit_mean,
    map_colours,
)
from vision.colour_space import delta_e00, lab_to_linear, linear_to_lab
from vision.frame import Frame, triple
from vision.readings import PatchMiss
from vision.shooting_station import ToneCurve
from vision.tone_curve import CHART_SD, decode_table, fit_tone
from vision.wood_mixes import wood_mixes

TONE_EARNS = 0.95
"""Share of the held-out error without a tone curve below which the curve is believed."""
LEVEL_FROM = slice(0, 5)
"""Neutrals that set the level, from the white on: the black is lost in glare first."""
OTHER_EDITION = 0.85
"""Share of the fit's miss below which the chart is held to be of another edition."""
OTHER_LEAST = 0.15
"""CIEDE2000 by which the other edition must fit better besides."""

WOOD_HUES_DEG = (17.0, 92.0)
"""Hues about those of wood: 98 tropical species lie between 27.5 and 81.6 degrees (abstract of a
study of wood colour in tropical timber), ten degrees allowed."""
LEAST_CHROMA = 8.0
"""Below, a patch is a grey, whose hue means nothing."""
WOOD_WEIGHT = 1.25
"""Of a patch of wood's hue. Wood came out best at 2 (drawn from spectra), but then a patch of a
real chart, left out, was off by more than 7. For a camera's own rendering only, whose tone curve is
never quite undone; where the light is linear, mixes of patches stand for wood itself."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadChip:
    """A wood chip of known colour as photographed."""

    name: str
    lab: tuple[float, float, float]
    samples: NDArray[np.uint8]
    """Encoded pixels, shape (n, 3)."""
    centre_px: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class ChartColour:
    """What a chart says of a photograph.

    Parameters
    ----------
    tone : ToneCurve or None
    board : Board or None
        The photograph held against its board by that curve.
    board_rgb : tuple of float
        Reflectance of the board (of the camera's full scale without a board), white at 1.
    fit : ColourFit
        Of the patches that were used, then the chips.
    patches : tuple of PatchMiss
        Every patch and chip.
    other_edition : str
        The edition that fits better by far, or empty.
    shading : float
        Fall of light across the chart that the board does not show, as a fraction.
    """

    tone: ToneCurve | None
    board: Board | None
    board_rgb: NDArray[np.float64]
    fit: ColourFit
    patches: tuple[PatchMiss, ...]
    other_edition: str = ""
    shading: float = 0.0

    @property
    def held_out_mean(self) -> float:
        """Mean CIEDE2000 of patches left out of the fit."""
        return self.fit.colour_map.held_out_mean


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """Chart and chips in the camera's linear light, white at 1."""

    tone: ToneCurve | None
    board: Board | None
    board_rgb: NDArray[np.float64]
    camera: NDArray[np.float64]
    """Shape (24 + chips, 3)."""
    is_linear: bool
    """The file holds the sensor's own light: mixes of patches can be trusted."""


def calibrate_by_chart(
    chart: ChartReading,
    reference: ChartReference,
    *,
    frame: Frame,
    chips: tuple[ReadChip, ...] = (),
) -> ChartColour | None:
    """Return what the chart says, or None where too few of its patches can be used.

    The tone curve of the six neutrals is believed where it foretells left-out patches better than
    the curve by which the photograph is held already (the station's, or sRGB's) does.
    """
    plain = _hold_chart(chart, reference, tone=frame.tone, frame=frame, chips=chips)
    best = None if plain is None else _fit_chart(plain, chart, reference, chips)
    if plain is None or best is None:
        return None
    tone = _tone_of_neutrals(chart, reference, frame, best)
    held = plain
    if tone != frame.tone:
        bent = _hold_chart(chart, reference, tone=tone, frame=frame, chips=chips)
        fit = None if bent is None else _fit_chart(bent, chart, reference, chips)
        if bent is not None and fit is not None:
            earned = TONE_EARNS * best.colour_map.held_out_mean
            if fit.colour_map.held_out_mean < earned:
                held, best = bent, fit
    return ChartColour(
        tone=held.tone,
        board=held.board,
        board_rgb=held.board_rgb,
        fit=best,
        patches=_misses(chart, reference, chips, held=held, fit=best),
        other_edition=_other_edition(held, chart, reference, best),
        shading=_shading(chart, reference, best),
    )


def _tone_of_neutrals(
    chart: ChartReading, reference: ChartReference, frame: Frame, fit: ColourFit
) -> ToneCurve | None:
    """Return the tone curve that the six neutrals tell.

    They are not quite neutral, the white least; what the camera's own channels see of them is
    taken from the first fit.
    """
    known = lab_to_linear(reference.lab[NEUTRALS])
    if fit.colour_map.kind == PLAIN:
        known = known @ np.linalg.inv(np.array(fit.colour_map.rows)).T
    known = np.clip(known, 1e-3, None)
    levels = np.where(chart.used[NEUTRALS, None], chart.levels()[NEUTRALS], np.nan)
    beside = frame.levels_beside(chart.centres_px[NEUTRALS])
    return fit_tone(levels, known, beside=beside, known_sd=CHART_SD)


def _hold_chart(
    chart: ChartReading,
    reference: ChartReference,
    *,
    tone: ToneCurve | None,
    frame: Frame,
    chips: tuple[ReadChip, ...],
) -> _Held | None:
    """Return chart and chips in linear light by a tone curve; None without three good neutrals."""
    decode = decode_table(tone)
    board = frame.hold(tone)
    light = np.vstack([chart.light(decode), *(mean_light(one.samples, decode) for one in chips)])
    if board is not None:
        places = np.vstack([chart.centres_px, *(one.centre_px for one in chips)])
        light = light / board.field.at(*places.T)
    good = np.flatnonzero(chart.used[NEUTRALS][LEVEL_FROM]) + NEUTRALS.start
    if len(good) < 3:
        return None
    known = lab_to_linear(reference.lab[good])
    board_rgb = np.exp(np.median(np.log(known / light[good]), axis=0))
    return _Held(tone, board, board_rgb, light * board_rgb, frame.is_linear)


def mean_light(samples: NDArray[np.uint8], decode: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the mean linear light of pixels, shape (n, 3) to (3,)."""
    light = [float(decode[samples[:, channel], channel].mean()) for channel in range(3)]
    return np.array(light)


def _fit_chart(
    held: _Held, chart: ChartReading, reference: ChartReference, chips: tuple[ReadChip, ...]
) -> ColourFit | None:
    use = np.concatenate([chart.used, np.ones(len(chips), bool)])
    lab = np.vstack([reference.lab, *(np.array(one.lab) for one in chips)])
    is_patch = np.arange(len(use)) < len(chart.used)
    if not held.is_linear:
        weights = np.where(is_patch, _like_wood(lab), CHIP_WEIGHT)
        return fit_colour(held.camera[use], lab[use], weights=weights[use])
    weights = np.where(is_patch, 1.0, CHIP_WEIGHT * MIX_WEIGHT)
    mixes = spread_mixes(chart.used, len(chips))
    return fit_colour(held.camera[use], lab[use], weights=weights[use], mixes=mixes)


def spread_mixes(used: NDArray[np.bool_], chips: int) -> NDArray[np.float64]:
    """Return mixes like wood for `fit_colour`: of the patches used, then with each left out.

    Parameters
    ----------
    used : ndarray of bool, shape (24,)
    chips : int
        How many wood chips stand behind the patches; they are in no mix.
    """
    without = used & ~np.eye(len(used), dtype=bool)[used]
    mixes = [wood_mixes(used), *(wood_mixes(one) for one in without)]
    shares = np.stack([*mixes, *mixes[:1] * chips])[..., used]
    return np.pad(shares, ((0, 0), (0, 0), (0, chips)))


def _misses(
    chart: ChartReading,
    reference: ChartReference,
    chips: tuple[ReadChip, ...],
    *,
    held: _Held,
    fit: ColourFit,
) -> tuple[PatchMiss, ...]:
    """Return every patch and chip: known, read, and how far apart."""
    read = linear_to_lab(map_colours(held.camera, fit.colour_map))
    names = [*reference.names, *(one.name for one in chips)]
    known = np.vstack([reference.lab, *(np.array(one.lab) for one in chips)])
    dropped = [*chart.dropped, *("" for _ in chips)]
    off = delta_e00(read, known)
    left_out = iter(fit.held_out.tolist())
    return tuple(
        PatchMiss(
            name=names[index],
            lab_known=triple(known[index]),
            lab_read=triple(read[index]),
            delta_e00=float(off[index]),
            held_out=None if dropped[index] else next(left_out),
            dropped=dropped[index],
        )
        for index in range(len(names))
    )


def _other_edition(
    held: _Held, chart: ChartReading, reference: ChartReference, fit: ColourFit
) -> str:
    """Return the edition whose colours the chart agrees with far better, or nothing."""
    if reference.edition not in EDITIONS:
        return ""
    use, kind = chart.used, fit.colour_map.kind
    mine = fit_mean(held.camera[: len(use)][use], reference.lab[use], kind)
    for edition in EDITIONS:
        lab = chart_reference(edition).lab
        lighter = lab_to_linear(lab[NEUTRALS]) / lab_to_linear(reference.lab[NEUTRALS])
        camera = held.camera[: len(lab)] * np.median(lighter[LEVEL_FROM], axis=0)
        theirs = fit_mean(camera[use], lab[use], kind)
        if theirs < OTHER_EDITION * mine and mine - theirs > OTHER_LEAST:
            return edition
    return ""


def _shading(chart: ChartReading, reference: ChartReference, fit: ColourFit) -> float:
    """Return by how much light falls across the chart, corner to corner, beyond the board's.

    A plane is fitted to what the colour fit leaves over in log luminance.
    """
    count = int(chart.used.sum())
    read, known = fit.lab[:count], reference.lab[chart.used]
    left = np.log(np.maximum(_luminance(read), 1e-3) / np.maximum(_luminance(known), 1e-3))
    bright = known[:, 0] > 30
    rows, columns = np.divmod(np.flatnonzero(chart.used), 6)
    plane = np.column_stack([np.ones(count), columns / 5 - 0.5, rows / 3 - 0.5])
    terms, *_ = np.linalg.lstsq(plane[bright], left[bright], rcond=None)
    return float(np.abs(terms[1]) + np.abs(terms[2]))


def _luminance(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(((np.maximum(lab[:, 0], 8.0) + 16) / 116) ** 3)


def _like_wood(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the weight of each patch: more for those of wood's hue, which is what is measured."""
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))
    near = (hue > WOOD_HUES_DEG[0]) & (hue < WOOD_HUES_DEG[1])
    return np.where(near & (np.hypot(lab[:, 1], lab[:, 2]) > LEAST_CHROMA), WOOD_WEIGHT, 1.0)
