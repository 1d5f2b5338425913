"""The slope of the fibres place by place, from two photographs of a leaf laid over each other.

The ratio of the two pictures holds nothing of the wood's own colour: it shows where fibres rise
more or less than along the leaf on the whole, stripe by stripe. How well it tells the slope differs
from place to place: best where the two lamps stand on either side of the highlight, not at all
where the highlight itself passes over. Where it tells little, the neighbours up and down the grain
are asked, and what stays open is given as the spread of the slope.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from vision.relight import Angles, Doubles, Standing, angles_along, log_response

SLOPES = np.deg2rad(np.linspace(-27, 27, 91))
"""Slopes that are weighed against each other."""
NOISE_SD = 0.03
"""Of the log ratio at a place: noise, pictures not laid over each other to the pixel, and what the
fit leaves over."""
RATIO_NOISE = 0.012
"""Of the log ratio by noise alone, for telling how much of its swing is figure."""
NODES, RATIOS, EXPECTED = 33, 49, 17
"""Places along, log ratios and expected slopes at which the answer is worked out; between, it is
read off."""
PASSES = 3
"""Times that neighbours are asked."""
REACH = 0.04
"""How far up and down the grain, as a share of the leaf's length."""
BEST_KNOWN = np.deg2rad(0.7)
"""No place counts for more than one whose slope is known so well."""
WELL_KNOWN = 0.4
"""Places whose spread is under this share of the leaf's own tell how alike neighbours are."""
LEAST_PLACES = 500
LEAST_SWING = np.deg2rad(0.7)
"""Of slope within slices, for neighbours to be asked: under it there is no figure to follow."""


@dataclass(frozen=True, slots=True, eq=False)
class LocalSlope:
    """Slope and its spread, radians, shape (rows, columns), with the highlight they go with."""

    slope: Doubles
    spread: Doubles
    strength: float
    width: float


def find_local_slope(
    log_ratio: NDArray[np.float32],
    seen: tuple[Standing, Standing],
    *,
    slope: Doubles,
    strength: float,
    width: float,
) -> LocalSlope:
    """Return the slope at every place of a leaf.

    Parameters
    ----------
    log_ratio : ndarray of float32, shape (rows, columns)
        Log luminance of the first picture over the second, rows along the leaf.
    seen : two Standing
        Where lamp and eye stood for each.
    slope : ndarray, shape (slices,)
        Fitted mean slope of equal slices of the length, radians.
    strength, width : float
        Of the highlight as fitted to slices. Figure within a slice makes that one wider and lower
        than the wood's own; the two are told apart by how much the ratio swings.
    """
    rows = len(log_ratio)
    place = (np.arange(NODES) + 0.5) / NODES
    at = tuple(angles_along(one, place[:, None]) for one in seen)
    expected = np.interp(place, (np.arange(len(slope)) + 0.5) / len(slope), slope)
    swing, strength, width = _part_swing(log_ratio, (at[0], at[1]), expected, strength, width)
    ratio = _modelled((at[0], at[1]), strength, width)
    along = np.interp((np.arange(rows) + 0.5) / rows, place, expected)[:, None]
    usual = np.broadcast_to(along, log_ratio.shape)
    found, spread = _weigh(log_ratio, ratio, usual, swing)
    left = swing
    for _ in range(PASSES if swing > LEAST_SWING else 0):
        beside, left = _ask_neighbours(found - usual, spread, swing=swing, left=left)
        found, spread = _weigh(log_ratio, ratio, usual + beside, left)
    return LocalSlope(found, spread, strength, width)


def _modelled(at: tuple[Angles, Angles], strength: float, width: float) -> Doubles:
    """Return the log ratio that each of `SLOPES` would give at each node."""
    sent = [log_response(one, SLOPES, strength=strength, width=width) for one in at]
    return sent[0] - sent[1]


def _part_swing(
    log_ratio: NDArray[np.float32],
    at: tuple[Angles, Angles],
    expected: Doubles,
    strength: float,
    width: float,
) -> tuple[float, float, float]:
    """Return how much slope swings within slices, and the highlight with that swing taken out.

    The swing is the one under which the ratio would vary within each slice as it does.
    """
    pieces = np.array_split(log_ratio, NODES)
    seen = np.array([float((piece - piece.mean()).var()) for piece in pieces]) - RATIO_NOISE**2
    seen = np.maximum(seen, 1e-5)
    best = (np.inf, 0.0, strength, width)
    for swing in np.deg2rad(np.arange(0.1, 9.0, 0.25)):
        if 2 * swing > 0.95 * width:
            break
        own = float(np.sqrt(width**2 - 4 * swing**2))
        ratio = _modelled(at, strength * width / own, own)
        weight = np.exp(-(((SLOPES - expected[:, None]) / swing) ** 2) / 2)
        weight /= weight.sum(axis=1, keepdims=True)
        mean = (weight * ratio).sum(axis=1)
        varies = (weight * ratio**2).sum(axis=1) - mean**2
        miss = float(np.sum((np.log(varies + 1e-5) - np.log(seen)) ** 2))
        if miss < best[0]:
            best = (miss, float(swing), strength * width / own, own)
    return best[1:]


def _weigh(
    log_ratio: NDArray[np.float32], ratio: Doubles, expected: Doubles, swing: float
) -> tuple[Doubles, Doubles]:
    """Return mean and spread of the slope at every place, given its ratio and expected slope."""
    low, high = float(log_ratio.min()), float(log_ratio.max()) + 1e-6
    first, last = float(expected.min()), float(expected.max()) + 1e-6
    asked = np.linspace(low, high, RATIOS)[None, :, None]
    fits = -(((asked - ratio[:, None, :]) / NOISE_SD) ** 2) / 2
    usual = np.linspace(first, last, EXPECTED)[:, None]
    weight = (fits[:, :, None, :] - ((SLOPES - usual) / swing) ** 2 / 2).astype(np.float32)
    weight = np.exp(weight - weight.max(axis=3, keepdims=True))
    weight /= weight.sum(axis=3, keepdims=True)
    mean = weight.astype(np.float64) @ SLOPES
    spread = np.sqrt(np.maximum(weight @ SLOPES**2 - mean**2, 1e-8))
    rows = len(log_ratio)
    node = np.clip((np.arange(rows) + 0.5) / rows * NODES - 0.5, 0, NODES - 1)
    where = np.stack(
        [
            np.broadcast_to(node[:, None], log_ratio.shape),
            (log_ratio.astype(np.float64) - low) / (high - low) * (RATIOS - 1),
            (np.asarray(expected, np.float64) - first) / (last - first) * (EXPECTED - 1),
        ]
    )
    return map_coordinates(mean, where, order=1), map_coordinates(spread, where, order=1)


def _ask_neighbours(
    off: Doubles, spread: Doubles, *, swing: float, left: float
) -> tuple[Doubles, float]:
    """Return what neighbours up and down the grain make each place's slope, off the usual one.

    And how far a place then still swings about that. Ribbon runs along the grain, so neighbours
    tell much; fiddleback runs across, and they tell nothing.
    """
    surest = float(1 / BEST_KNOWN**2)
    known = np.clip(1 / np.square(spread) - 1 / (1.001 * left) ** 2, 1e-9, surest)
    beside = _along_grain(known * off) / (_along_grain(known) + 0.2 / swing**2)
    good = spread < WELL_KNOWN * swing
    if np.count_nonzero(good) < LEAST_PLACES:
        return np.zeros_like(off), swing
    here, there = off[good], beside[good]
    alike = float(np.clip(here @ there / max(float(there @ there), 1e-12), 0, 1))
    still = float(np.sqrt(np.mean(np.square(here - there))))
    return alike * beside, float(np.clip(1.1 * still, 0.25 * swing, swing))


def _along_grain(field: Doubles) -> Doubles:
    blurred = cv2.GaussianBlur(field, (0, 0), sigmaX=0.7, sigmaY=REACH * len(field))
    return np.asarray(blurred, dtype=np.float64)
