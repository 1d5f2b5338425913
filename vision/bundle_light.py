"""One reflectance of the board for a whole bundle, so that its photographs share one scale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.board import Board, find_board, hold_again
from vision.grey_strip import read_again, read_strip
from vision.readings import ColourClass
from vision.settings import VisionSettings
from vision.shooting_station import ColourMap, ToneCurve
from vision.tone_curve import decode_table, encode, fit_tone, middle_curve

SURVEY_SHOTS = 5
"""Photographs from which a bundle's board is judged: enough for a median, soon read."""
TONE_ROUNDS = 2
"""Rounds of tone curve and light on the board, in turn."""


@dataclass(frozen=True, slots=True)
class BundleLight:
    """What the board of a bundle reflects.

    Within a bundle the board is the reference, whatever it reflects; this one value for all its
    photographs only sets where on the lightness scale the bundle lies.
    """

    board_rgb: tuple[float, float, float]
    """Linear reflectance, sRGB primaries, 0 to 1."""
    colour_class: ColourClass
    """Grey steps if the strip set it; relative if only the camera's own exposure did."""
    strip_misfit: float = 0.0
    """RMS of the strip's steps against the known greys, log light, once the camera's tone curve is
    taken out; 0 without a strip. What is left is glare, dirt and false greys."""
    tone: ToneCurve | None = None
    """The camera's tone curve by the strip's greys; None stands for sRGB's."""
    colour: ColourMap | None = None
    """From the camera's colours to sRGB's by a chart or the station; None: as they are."""


def decoder_of(light: BundleLight | None) -> NDArray[np.float32] | None:
    """Return the light that each level stands for; None where that is sRGB's own."""
    return None if light is None or light.tone is None else decode_table(light.tone)


def hold_by_itself(
    rgb: NDArray[np.uint8],
    *,
    settings: VisionSettings,
    light: BundleLight | None = None,
    blank: NDArray[np.uint8] | None = None,
) -> tuple[Board, BundleLight]:
    """Return a photograph held against its board, and the scale by which: a bundle's, or its own.

    Raises
    ------
    BoardNotFound
        As `find_board`.
    """
    board = find_board(rgb, blank=blank, decode=decoder_of(light))
    if light is not None:
        return board, light
    own = judge_board(board, settings=settings)
    if own.tone is not None:
        board = hold_again(board, blank=blank, decode=decoder_of(own))
    return board, own


def judge_board(board: Board, *, settings: VisionSettings) -> BundleLight:
    """Return what one photograph says of its board's reflectance and of its camera's tone curve.

    A grey strip of known steps says both outright. Without one the camera's own exposure and white
    balance must do: half-way between white at full scale in the middle of the board, and white at
    full scale where the lamp is brightest. That is right to some L* at best, and called relative.
    """
    by_strip = _judge_by_strip(board, settings.strip_reflectances)
    if by_strip is not None:
        return by_strip
    width, height = board.field.size_px
    x, y = np.meshgrid(np.linspace(0.1, 0.9, 9) * width, np.linspace(0.1, 0.9, 13) * height)
    light = board.field.at(x, y)
    exposed = np.sqrt(light[6, 4] * light.reshape(-1, 3).max(axis=0))
    return BundleLight(_triple(exposed), ColourClass.RELATIVE)


def _judge_by_strip(board: Board, reflectances: Sequence[float]) -> BundleLight | None:
    """Return what the grey strip says, or None without one.

    The light that falls on the steps is known from the board, and the board's light is known
    through the tone curve; each is found again with the other until they agree.
    """
    strip = read_strip(board, reflectances)
    if strip is None:
        return None
    tone: ToneCurve | None = None
    for _ in range(TONE_ROUNDS):
        beside = encode(strip.light, decode_table(tone))
        found = fit_tone(strip.levels, strip.reflectances, beside=beside)
        if found is None:
            break
        again = read_again(hold_again(board, decode=decode_table(found)), strip)
        if again is None:
            break
        strip, tone = again, found
    return BundleLight(_triple(strip.board_rgb), ColourClass.GREY_STEPS, strip.misfit, tone)


def settle_light(judged: Iterable[BundleLight]) -> BundleLight:
    """Return the median of what several photographs say, the best class alone counting.

    Raises
    ------
    ValueError
        If there is nothing to settle.
    """
    known = list(judged)
    if not known:
        raise ValueError("No photograph says anything of the board.")
    for trusted in (ColourClass.MEASURED, ColourClass.STATION):
        held = [one for one in known if one.colour_class is trusted]
        if held:  # board, tone and colours belong together: one photograph's, the middle one
            held.sort(key=lambda one: sum(one.board_rgb))
            return held[len(held) // 2]
    by_strip = [one for one in known if one.colour_class is ColourClass.GREY_STEPS]
    best = by_strip or known
    middle = np.median([one.board_rgb for one in best], axis=0)
    misfit = float(np.median([one.strip_misfit for one in best]))
    tone = middle_curve([one.tone for one in best])
    return BundleLight(_triple(middle), best[0].colour_class, misfit, tone)


def _triple(values: NDArray[np.floating]) -> tuple[float, float, float]:
    red, green, blue = (float(value) for value in np.clip(values, 0.005, 1.0))
    return red, green, blue
