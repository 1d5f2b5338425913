"""How a leaf must be moved so that its figure lies on that of another: the register of a pair.

The stack as a whole is laid to a few millimetres (`vision.slip`); for an eye that looks at two
leaves in turn that is too coarse. Here the two are compared in stretches along the grain
(`vision.register_fits`), each by itself at every shift. Where most stretches ask for one and the
same move, it is the right one: chance does not agree with itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from vision.leaf_image import LeafImage
from vision.register_fits import Fits, fit_stretches
from vision.slip import peak_at

LEANS = np.deg2rad(np.arange(-6, 7) * 0.1)
"""Leans looked at: leaves are straightened by edges, which wane and tear."""
LENGTHENINGS = np.arange(-5, 6) * 0.002
"""A typed length may be off by a percent (common practice with a tape and torn ends)."""
LENGTHENING_SD, LEAN_SD = 0.003, float(np.deg2rad(0.1))
"""How far apart two leaves usually are in these; more has to be shown."""
ODD_COST = 0.001
"""What one standard deviation of them takes off a likeness of at most 1."""
SHIFT_COST = 0.04
"""The same for the largest shift: of two fits the straighter one is taken."""
BESIDE = (12, 8)
"""The runner-up among shifts lies more than so many cells away, along and across."""
NEAR_CELLS = 4
"""The peak of a stretch is sought within so many cells of where all together put it."""
AGREE_CELLS = 2.5
"""A stretch agrees if its own best shift, sought over the whole range, lies so near."""
LEAST_NOISE = 0.1
"""Peaks are found no better than to so many cells."""
ALONG_ODDS = (-2.2, 0.5, 0.88)
ACROSS_ODDS = (-5.4, 1.13)
"""Log odds that a shift is right within 3 mm along, 2 mm across: a start, times the stretches that
agree, and (along) times the lead over the runner-up in standard deviations of all shifts. Fitted to
280 pairs of drawn leaves (logistic regression); `tests.accuracy.register` prints how often they
come true on others."""
LEAST_LIKENESS = 0.065
"""At the best shift leaves of different flitches reach 0.062 (140 drawn pairs, good photographs and
poor), 99 in 100 neighbours of a log 0.070; below this two leaves are not laid on each other."""
INSIDE = 0.95
"""A best shift beyond this share of those looked at is no peak: the likeness goes on rising."""
TOLD_FROM = 0.35
"""A shift less likely than this is not told at all."""

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Register:
    """The move that lays the second leaf of a pair on the first, from middle on middle.

    Lengths are in mm, or in the pixels of the photographs where leaves have no scale.
    """

    along_mm: float | None
    """Toward the lower end; None if the figure does not tell."""
    across_mm: float | None
    """To the right; None if the figure does not tell."""
    lean_deg: float = 0.0
    """Turned about its own middle, clockwise as seen; within 0.7 either way."""
    lengthening: float = 0.0
    """Drawn longer along the grain by this share; within 0.012 either way."""
    along_sure: float = 0.0
    across_sure: float = 0.0
    """Chances, 0 to 1, that the shift is right within 3 mm along the grain, 2 mm across it."""


def register(first: LeafImage, second: LeafImage) -> Register | None:
    """Return how ``second`` must be moved to lie on ``first``; None if the figure does not tell.

    Parameters
    ----------
    first, second : LeafImage
        Already laid alike (`vision.laying.lay_pixels`), both with a scale in one unit.

    Returns
    -------
    Register or None
        None too where hardly any wood is in view.

    Raises
    ------
    ValueError
        If a leaf has no scale.
    """
    fits = fit_stretches(first, second)
    if fits is None:
        return None
    move, lead = _best_move(fits)
    shifts, weights = _near_peaks(fits, move)
    if float(weights.mean()) < LEAST_LIKENESS:
        return None
    along, across = _lines(fits.rows_at, shifts, weights)
    wanted = np.stack([np.polyval(line, fits.rows_at) for line in (along, across)], axis=1)
    agree = (np.abs(_own_peaks(fits) - wanted) <= AGREE_CELLS).sum(axis=0)
    at_rim = np.abs(move[:2]) >= INSIDE * np.array(fits.likeness.shape[1:]) / 2
    along_odds = ALONG_ODDS[0] + ALONG_ODDS[1] * agree[0] + ALONG_ODDS[2] * lead
    along_sure = 0.0 if at_rim[0] else _chance(along_odds)
    across_sure = 0.0 if at_rim[1] else _chance(ACROSS_ODDS[0] + ACROSS_ODDS[1] * agree[1])
    lengthening, lean = float(along[0]), -float(across[0])
    down = float(along[1]) / (1 + lengthening)
    right = float(across[1]) - lean * down
    if along_sure < TOLD_FROM:
        lengthening, right = 0.0, float(across[1])
    if max(along_sure, across_sure) < TOLD_FROM:
        return None
    return Register(
        along_mm=down * fits.pitch if along_sure >= TOLD_FROM else None,
        across_mm=right * fits.pitch if across_sure >= TOLD_FROM else None,
        lean_deg=float(np.rad2deg(lean)) if across_sure >= TOLD_FROM else 0.0,
        lengthening=lengthening,
        along_sure=along_sure,
        across_sure=across_sure,
    )


def _chance(log_odds: float) -> float:
    return float(1 / (1 + np.exp(-log_odds)))


def _own_peaks(fits: Fits) -> Doubles:
    """Return the best shift of each stretch by itself, shape (stretches, 2), in cells."""
    peaks = [np.unravel_index(int(fit.argmax()), fit.shape) for fit in fits.likeness]
    return np.array(peaks, np.float64) - fits.middle


def _best_move(fits: Fits) -> tuple[tuple[float, float, float, float], float]:
    """Return along, across, lengthening and lean that fit all stretches best, and their lead."""
    count, rows, columns = fits.likeness.shape
    reach = float(np.abs(fits.rows_at).max())
    extra = [int(np.ceil(reach * np.abs(odd).max())) + 1 for odd in (LENGTHENINGS, LEANS)]
    padded = np.pad(fits.likeness, ((0, 0), (extra[0],) * 2, (extra[1],) * 2))
    cost = SHIFT_COST * np.abs(np.linspace(-1, 1, rows))[:, None]
    cost = (cost + SHIFT_COST / 2 * np.abs(np.linspace(-1, 1, columns))).astype(np.float32)
    best, move = -np.inf, (0.0, 0.0, 0.0, 0.0)
    highest = np.full((rows, columns), -np.inf, np.float32)
    for lengthening, lean in product(LENGTHENINGS.tolist(), LEANS.tolist()):
        total = np.zeros((rows, columns), np.float32)
        for fit, at in zip(padded, fits.rows_at, strict=True):
            top, left = extra[0] + round(lengthening * at), extra[1] - round(lean * at)
            total += fit[top : top + rows, left : left + columns]
        total = total / count - cost
        np.maximum(highest, total, out=highest)
        row, column = np.unravel_index(int(total.argmax()), total.shape)
        odd = (lengthening / LENGTHENING_SD) ** 2 + (lean / LEAN_SD) ** 2
        value = float(total[row, column]) - ODD_COST * odd
        if value > best:
            down, right = np.array([row, column]) - fits.middle
            best, move = value, (float(down), float(right), lengthening, lean)
    spread = float(highest.std()) + 1e-6
    top, left = (int(at) for at in np.array(move[:2]) + fits.middle)
    near = np.s_[max(0, top - BESIDE[0]) : top + BESIDE[0] + 1]
    highest[near, max(0, left - BESIDE[1]) : left + BESIDE[1] + 1] = -np.inf
    return move, (best - float(highest.max())) / spread


def _near_peaks(fits: Fits, move: tuple[float, float, float, float]) -> tuple[Doubles, Doubles]:
    """Return the peak of each stretch near where all put it, (stretches, 2), and its height."""
    along, across, lengthening, lean = move
    found, weights = [], []
    for fit, at in zip(fits.likeness, fits.rows_at, strict=True):
        wanted = np.array([along + lengthening * at, across - lean * at]) + fits.middle
        most = np.array(fit.shape) - 2
        low = np.clip(np.round(wanted).astype(int) - NEAR_CELLS, 1, most)
        high = np.clip(np.round(wanted).astype(int) + NEAR_CELLS, 1, most) + 1
        part = fit[low[0] : high[0], low[1] : high[1]]
        inside = np.unravel_index(int(part.argmax()), part.shape)
        row, column = int(low[0] + inside[0]), int(low[1] + inside[1])
        down = row + peak_at(fit[row - 1 : row + 2, column])
        right = column + peak_at(fit[row, column - 1 : column + 2])
        found.append((down, right))
        weights.append(max(float(fit[row, column]), 1e-4))
    return np.array(found) - fits.middle, np.array(weights)


def _lines(rows_at: Doubles, shifts: Doubles, weights: Doubles) -> tuple[Doubles, Doubles]:
    """Return slope and height of both shifts along the leaf; odd stretches count less (Cauchy)."""
    design = np.stack([rows_at, np.ones_like(rows_at)], axis=1)
    strength = (weights / weights.max()) ** 2
    held, lines, noise = strength, np.zeros((2, 2)), np.full(2, LEAST_NOISE)
    for _ in range(10):
        for axis, usual in enumerate((LENGTHENING_SD, LEAN_SD)):
            matrix = design.T @ (design * held[:, None])
            matrix[0, 0] += (noise[axis] / usual) ** 2
            lines[axis] = np.linalg.solve(matrix, design.T @ (shifts[:, axis] * held))
        left = shifts - design @ lines.T
        noise = np.maximum(1.4826 * np.median(np.abs(left), axis=0), LEAST_NOISE)
        held = strength / (1 + np.hypot(*left.T) ** 2)
    return lines[0], lines[1]
