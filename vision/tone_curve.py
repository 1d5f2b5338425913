"""The camera's tone curve, from greys of known reflectance in the photograph itself.

A camera rarely encodes light as sRGB says: it deepens contrast for looks, and a step in light then
reads too large or too small. Greys of known reflectance tell what each encoded level stands for.
The curve is fitted as a smooth, monotone departure from sRGB in log-log (piecewise cubic Hermite
interpolation: Fritsch and Carlson, SIAM J. Numer. Anal. 17, 1980), so that where nothing is known
sRGB remains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from vision.colour_space import srgb_to_linear
from vision.shooting_station import ToneCurve

LEAST_STEPS = 4
"""Greys from which a curve can be told from a faulty step."""
BURNT_LEVEL = 249.0
DARK_LEVEL = 6.0
"""Encoded levels beyond which a grey is burnt out or lost in the dark."""
KNOWN_SD = 0.006
"""Standard deviation, log light, of reading a grey whose reflectance was measured."""
PRINTED_SD = 0.05
"""The same for printed greys that nobody measured: an office printer's."""
BEND_SD = 0.25
"""How sharply a camera's curve bends away from sRGB: standard deviation of the second derivative
of log light against log light of sRGB. Curves for looks reach 0.5."""
CHART_SD = 0.012
"""The same for a chart's neutrals: its maker's means over a batch."""
LEVEL_SD = 0.4
"""Standard deviation of a grey's mean level, of 255; in light it weighs most in the dark."""
IS_SRGB = 1.33
"""RMS of the greys, in standard deviations, up to which a curve cannot be told from sRGB itself."""
SLOPES = (0.3, 3.0)
"""Log light per log light of sRGB: flatter or steeper is no camera's curve."""
END_SLOPES = (0.6, 1.8)
"""The same beyond the outermost greys, where the curve is drawn on straight."""
_MIDDLE = slice(60, 200)
"""Levels over which a curve agrees with sRGB in the mean; only ratios of light are known."""
KNOTS = 20
"""Knots of a curve between its darkest and its lightest level."""
_KNOTS = np.unique(np.rint(np.geomspace(1, 255, 56))).astype(int)
_SRGB = np.log(np.maximum(srgb_to_linear(np.arange(256, dtype=np.uint8)), 1e-9)).astype(np.float64)


def decode_table(tone: ToneCurve | None) -> NDArray[np.float32]:
    """Return the linear light of every encoded level, shape (256, 3); None stands for sRGB.

    Examples
    --------
    >>> decode_table(None)[[0, 128, 255], 1].round(4).tolist()
    [0.0, 0.2159000039100647, 1.0]
    """
    if tone is None:
        plain = srgb_to_linear(np.arange(256, dtype=np.uint8))
        return np.repeat(plain[:, None], 3, axis=1)
    table = np.zeros((256, 3), dtype=np.float32)
    levels = np.arange(1, 256, dtype=np.float64)
    for channel in range(3):
        knots, light = np.log(tone.levels[channel]), np.log(tone.light[channel])
        table[1:, channel] = np.exp(np.interp(np.log(levels), knots, light))
    return table


def decode(levels: NDArray[np.floating], table: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the linear light of mean levels, 0 to 255, shape (..., 3), between the table's."""
    whole = np.arange(256, dtype=np.float64)
    light = [np.interp(levels[..., channel], whole, table[:, channel]) for channel in range(3)]
    return np.stack(light, axis=-1)


def encode(light: NDArray[np.floating], table: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the levels, 0 to 255, that stand for linear light, shape (..., 3); beyond: the ends.

    Examples
    --------
    >>> encode(np.array([0.0, 0.2159, 4.0]), decode_table(None)).round(1).tolist()
    [0.0, 128.0, 255.0]
    """
    whole = np.arange(256, dtype=np.float64)
    levels = [np.interp(light[..., channel], table[:, channel], whole) for channel in range(3)]
    return np.stack(levels, axis=-1)


def fit_tone(
    levels: NDArray[np.floating],
    reflectances: NDArray[np.floating] | Sequence[float],
    *,
    beside: NDArray[np.floating] | None = None,
    known_sd: float = KNOWN_SD,
    neutral: bool = True,
) -> ToneCurve | None:
    """Return the tone curve that greys of known reflectance tell; None where it is sRGB's.

    Parameters
    ----------
    levels : ndarray, shape (n, 3)
        Mean encoded level of each grey, 0 to 255. Greys that are NaN, burnt out or lost in the
        dark are left out.
    reflectances : (n,) or (n, 3)
        What each reflects, 0 to 1, in all channels alike or in each.
    beside : ndarray, shape (n, 3), or None
        Level of the plain board at each grey's place. Grey over board is a ratio of reflectances
        wherever it lies, so that the lamp's fall-off between the places drops out. None: the
        greys stand in even light.
    known_sd : float
        Standard deviation of the greys, log light: `KNOWN_SD` or `PRINTED_SD`.
    neutral : bool
        False for printed greys, whose hue drifts with their depth: the channels then share one
        shape of curve.

    Returns
    -------
    ToneCurve or None
        None too where fewer than `LEAST_STEPS` greys are left, or they are out of order: then
        nothing better than sRGB is known.
    """
    greys = _Greys.of(levels, reflectances, beside=beside, known_sd=known_sd)
    if len(greys.sent) < LEAST_STEPS:
        return None
    if not neutral:
        greys = greys.of_one_shape()
    off = greys.sent - (greys.seen - greys.board)
    off = off - np.average(off, axis=0, weights=greys.sd**-2)
    if float(np.sqrt(np.mean((off / greys.sd) ** 2))) < IS_SRGB:
        return None
    curves = [_fit_channel(greys.channel(one)) for one in range(3)]
    if any(curve is None for curve in curves):
        return None
    found = np.stack([curve for curve in curves if curve is not None])
    away = found - _SRGB[1:]
    away -= away[:, _MIDDLE].mean(axis=1, keepdims=True)
    table = np.zeros((256, 3))
    table[1:] = np.exp(away + _SRGB[1:]).T
    return curve_of_table(table)


def curve_of_table(table: NDArray[np.floating]) -> ToneCurve:
    """Return a tone curve through a table of linear light for every level, shape (256, 3)."""
    levels = tuple(float(level) for level in _KNOTS)
    red, green, blue = (tuple(float(v) for v in table[_KNOTS, c]) for c in range(3))
    return ToneCurve((levels, levels, levels), (red, green, blue))


def middle_curve(curves: Sequence[ToneCurve | None]) -> ToneCurve | None:
    """Return the median of several curves of one camera; None where most are sRGB's."""
    if 2 * sum(curve is None for curve in curves) >= len(curves):
        return None
    middle = np.median([decode_table(curve) for curve in curves], axis=0)
    return curve_of_table(np.asarray(middle, dtype=np.float64))


@dataclass(frozen=True, slots=True, eq=False)
class _Greys:
    """Usable greys, logs of light as sRGB would decode it, shape (n, channels) each."""

    seen: NDArray[np.float64]
    board: NDArray[np.float64]
    """The board at the same places."""
    sent: NDArray[np.float64]
    """Log reflectance."""
    sd: NDArray[np.float64]
    """One standard deviation of what is known of each, log light."""

    @classmethod
    def of(
        cls,
        levels: NDArray[np.floating],
        reflectances: NDArray[np.floating] | Sequence[float],
        *,
        beside: NDArray[np.floating] | None,
        known_sd: float,
    ) -> _Greys:
        seen = np.asarray(levels, dtype=np.float64)
        known = np.log(np.asarray(reflectances, dtype=np.float64))
        sent = (known[:, None] if known.ndim == 1 else known) + np.zeros_like(seen)
        board = np.full_like(seen, 128.0) if beside is None else np.asarray(beside, np.float64)
        with np.errstate(invalid="ignore"):
            within = [(one > DARK_LEVEL) & (one < BURNT_LEVEL) for one in (seen, board)]
        usable = (within[0] & within[1]).all(axis=1)
        at = np.arange(256)
        by_level = np.gradient(_SRGB)
        read_sd = LEVEL_SD * np.interp(seen[usable], at, by_level)
        return cls(
            np.interp(seen[usable], at, _SRGB),
            np.interp(board[usable], at, _SRGB),
            sent[usable],
            np.hypot(known_sd, read_sd),
        )

    def of_one_shape(self) -> _Greys:
        every = (self.seen, self.board, self.sent, self.sd)
        return _Greys(*(np.repeat(one.mean(axis=1, keepdims=True), 3, axis=1) for one in every))

    def channel(self, index: int) -> _Greys:
        return _Greys(*(one[:, index] for one in (self.seen, self.board, self.sent, self.sd)))


def _fit_channel(greys: _Greys) -> NDArray[np.float64] | None:
    """Return log light of the levels 1 to 255, or None where the greys are out of order."""
    ends = np.concatenate([greys.seen, greys.board])
    knots = np.linspace(ends.min(), ends.max(), KNOTS)
    if len(np.unique(greys.seen.round(2))) < LEAST_STEPS:
        return None
    curve = knots + _smooth_departure(greys, knots)
    slopes = np.diff(curve) / np.diff(knots)
    if not SLOPES[0] < float(np.median(slopes)) < SLOPES[1]:
        return None
    rises = np.clip(slopes, *SLOPES) * np.diff(knots)
    held = np.concatenate([[0.0], np.cumsum(rises)])
    inner = PchipInterpolator(knots, held)(np.clip(_SRGB[1:], knots[0], knots[-1]))
    dark, light = (float(v) for v in np.clip(slopes[[0, -1]], *END_SLOPES))
    beyond = np.minimum(_SRGB[1:] - knots[0], 0) * dark
    beyond += np.maximum(_SRGB[1:] - knots[-1], 0) * light
    return np.asarray(inner + beyond, dtype=np.float64)


def _smooth_departure(greys: _Greys, knots: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the departure from sRGB at evenly spaced knots: near the greys, and bending little.

    Penalised least squares on second differences (Eilers and Marx, Statist. Sci. 11, 1996); the
    board's own reflectance is the last unknown.
    """
    spacing = float(knots[1] - knots[0])
    tent = _between(greys.seen, knots) - _between(greys.board, knots)
    rows = np.hstack([tent, np.ones((len(tent), 1))])
    bends = np.diff(np.eye(len(knots)), n=2, axis=0) / spacing**1.5 / BEND_SD
    bends = np.hstack([bends, np.zeros((len(bends), 1))])
    weighed = rows.T / greys.sd**2
    normal = weighed @ rows + bends.T @ bends
    normal[np.diag_indices_from(normal)] += 1e-3
    off = greys.sent - (greys.seen - greys.board)
    return np.asarray(np.linalg.solve(normal, weighed @ off)[:-1])


def _between(x: NDArray[np.float64], knots: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the weights of the knots at x, straight between them, shape (x, knots)."""
    spacing = float(knots[1] - knots[0])
    left = np.clip(((x - knots[0]) / spacing).astype(int), 0, len(knots) - 2)
    share = (x - knots[left]) / spacing
    weights = np.zeros((len(x), len(knots)))
    weights[np.arange(len(x)), left] = 1 - share
    weights[np.arange(len(x)), left + 1] = share
    return weights
