"""One reflectance of the board for a whole bundle, so that its photographs share one scale."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.grey_strip import read_strip
from vision.readings import ColourClass
from vision.settings import VisionSettings

SURVEY_SHOTS = 5
"""Photographs from which a bundle's board is judged: enough for a median, soon read."""


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
    """RMS of the strip's steps against the known greys, log light; 0 without a strip. A camera
    that deepens contrast for looks shows steps in lightness larger than they are."""


def judge_board(board: Board, *, settings: VisionSettings) -> BundleLight:
    """Return what one photograph says of its board's reflectance.

    A grey strip of known steps says it outright. Without one the camera's own exposure and white
    balance must do: half-way between white at full scale in the middle of the board, and white at
    full scale where the lamp is brightest. That is right to some L* at best, and called relative.
    """
    strip = read_strip(board, settings.strip_reflectances)
    if strip is not None:
        return BundleLight(_triple(strip.board_rgb), ColourClass.GREY_STEPS, strip.misfit)
    width, height = board.field.size_px
    x, y = np.meshgrid(np.linspace(0.1, 0.9, 9) * width, np.linspace(0.1, 0.9, 13) * height)
    light = board.field.at(x, y)
    exposed = np.sqrt(light[6, 4] * light.reshape(-1, 3).max(axis=0))
    return BundleLight(_triple(exposed), ColourClass.RELATIVE)


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
    by_strip = [one for one in known if one.colour_class is ColourClass.GREY_STEPS]
    best = by_strip or known
    middle = np.median([one.board_rgb for one in best], axis=0)
    misfit = float(np.median([one.strip_misfit for one in best]))
    return BundleLight(_triple(middle), best[0].colour_class, misfit)


def _triple(values: NDArray[np.floating]) -> tuple[float, float, float]:
    red, green, blue = (float(value) for value in np.clip(values, 0.005, 1.0))
    return red, green, blue
