"""From a step and its interval to the words none, slight, strong."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from vision.colour_space import delta_e00
from vision.flags import AlternationFlag
from vision.settings import VisionSettings

Z95 = 1.96


def worst_difference(
    colours: Sequence[tuple[NDArray[np.float64], NDArray[np.float64]]],
    steps: Sequence[tuple[float, float]],
    *,
    hue_is_sure: bool,
) -> tuple[float, float, float]:
    """Return low, middle and high CIEDE2000 of the worst segment, from the L* step's interval.

    Parameters
    ----------
    colours : sequence of (left, right)
        CIELAB of each segment.
    steps : sequence of (step, standard deviation)
        L* of right minus left of each segment.
    hue_is_sure : bool
        False where a face was not photographed: its hue is no surer than its lightness.
    """
    lows, middles, highs = [], [], []
    for (left, right), (step, sd) in zip(colours, steps, strict=True):
        ends = sorted(abs(step + sign * Z95 * sd) for sign in (-1.0, 1.0))
        if abs(step) < Z95 * sd:
            ends[0] = 0.0
        hue_kept = 1.0 if hue_is_sure else min(1.0, ends[0] / max(abs(step), 1e-6))
        lows.append(_with_step(left, right, ends[0], hue_kept=hue_kept))
        middles.append(float(delta_e00(left, right)))
        highs.append(_with_step(left, right, ends[1]))
    middle = max(middles)
    return min(max(lows), middle), middle, max(*highs, middle)


def _with_step(
    left: NDArray[np.float64],
    right: NDArray[np.float64],
    lightness_step: float,
    *,
    hue_kept: float = 1.0,
) -> float:
    """Return CIEDE2000 of two colours with the lightness step set, and part of their hue step."""
    hue = left[1:] + hue_kept * (right[1:] - left[1:])
    return float(delta_e00(left, np.array([left[0] + lightness_step, *hue])))


def grade(difference: float, settings: VisionSettings) -> AlternationFlag:
    """Return the flag of one CIEDE2000."""
    if difference < settings.slight_from:
        return AlternationFlag.NONE
    return AlternationFlag.SLIGHT if difference < settings.strong_from else AlternationFlag.STRONG


def flag_between(low: float, high: float, settings: VisionSettings) -> str:
    """Return the flag, or a range of two where the interval crosses a limit.

    Examples
    --------
    >>> flag_between(0.4, 1.8, VisionSettings())
    'none to slight'
    """
    least, most = grade(low, settings), grade(high, settings)
    return least.value if least is most else f"{least.value} to {most.value}"


def hypot(*parts: float) -> float:
    """Return the root of the sum of squares."""
    return float(np.sqrt(np.sum(np.square(parts))))
