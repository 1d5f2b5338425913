"""What is held likely of a leaf's fibres before its photographs are looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.readings import SLICES
from vision.slope_solver import (
    FACE_LIGHT,
    FACE_WIDTH,
    LEAN,
    OF_LEAF,
    OF_PHOTO,
    SLOPE,
    STRENGTH,
    SWING,
    WIDTH,
    WOOD,
)

Doubles = NDArray[np.float64]

MEAN_SLOPE_SD = np.deg2rad(4.0)
SLOPE_CHANGE_SD = np.deg2rad(1.3)
SLOPE_NEAR_SD = np.deg2rad(0.7)
"""Of the leaf's mean slope; of slow changes along it; of changes from decimetre to decimetre. Fibre
tilt maps of finished samples have standard deviations of 1.8 to 2.2 deg about means up to 3 deg
(decoded from the maps of the paper named in `vision.optics`)."""
SLOW, NEAR = 0.3, 0.08
"""Of the leaf's length, over which such changes hang together."""
STRENGTH_PRIOR = (np.log(0.3), 0.9)
"""Mean and sd of the log of highlight over diffuse light."""
WIDTH_PRIOR = (np.log(np.deg2rad(12.0)), 0.4)
"""Mean and sd of the log of the highlight's width."""
FACE_WIDTH_SD = 0.28
"""Standard deviation of the log of one face's highlight width over the other's: a fifth for each
face, assumed, for no measured values of tight and loose faces are known."""
FACE_LIGHT_SD = 0.02
"""The same of one face's own light over the other's (assumed)."""
LEAN_SD = np.deg2rad(2.5)
"""Of the fibres' mean direction in the face against the leaf's axis."""
WOOD_SD, WOOD_NEAR_SD = 0.04, 0.03
"""Natural change of a leaf's log lightness along its length: slow, and from place to place."""
SWING_PRIOR, SWING_SD = np.deg2rad(0.5), 1.2
"""Of the slope within a slice: a degree or so in straight wood, several in fiddleback and ribbon;
the standard deviation of its log from leaf to leaf."""
SWING_NEAR_SD, SWING_SLICE_SD = 0.3, 0.15
"""The same from decimetre to decimetre, and from slice to slice."""
HELD = 1e6
"""Inverse variance of the log of a swing that nothing tells."""
LINES_LEFT_PRIOR, LINES_LEFT_SD = 0.25, 0.8
"""Share of the lines of one photograph that do not cancel against another (relief, pictures that do
not lie quite alike), and the standard deviation of its log."""
WOOD_LEVEL_SD = 3.0
SLICE_SD = 0.012
"""Misfit of a slice's log light between two photographs of it: noise, and figure that swings within
the slice, which the model does not hold."""
TILTED_LIGHT_SD = 0.010
"""A slope along the leaf, end to end, left in a photograph's light."""
LAMP_SD = 0.05
"""Leaf lengths along the board by which a lamp's place is misread: stains, and a slope of the
board's own lightness, pass for light."""
SMALLEST_LEVEL_SD = 0.002
WITHIN_FLITCH = (0.2, 0.1)
"""Standard deviations of log strength and log width from leaf to leaf of one flitch (assumed)."""


@dataclass(frozen=True, slots=True, eq=False)
class ToldByOthers:
    """What the other leaves of a flitch say before a leaf's own photographs are looked at."""

    lobe: Doubles
    """Logs of the highlight's strength and width."""
    lobe_spread: Doubles


NOTHING_TOLD = ToldByOthers(
    np.array([STRENGTH_PRIOR[0], WIDTH_PRIOR[0]]),
    np.diag([STRENGTH_PRIOR[1] ** 2, WIDTH_PRIOR[1] ** 2]),
)


def prior_mean(log_light: Doubles, told: ToldByOthers) -> Doubles:
    """Return the mean of a leaf's unknowns, its wood as light as it was seen.

    Parameters
    ----------
    log_light : ndarray, shape (photos, SLICES)
    told : ToldByOthers
    """
    mean = np.zeros(OF_LEAF + OF_PHOTO * len(log_light))
    mean[[STRENGTH, WIDTH]] = told.lobe
    mean[WOOD] = log_light.mean()
    mean[SWING] = np.log(SWING_PRIOR)
    mean[-len(log_light) :] = np.log(LINES_LEFT_PRIOR)
    return mean


def prior_precision(level_sd: float, photos: int, told: ToldByOthers) -> Doubles:
    """Return the inverse covariance of a leaf's unknowns and of its photographs'."""
    spread = np.zeros((OF_LEAF + OF_PHOTO * photos, OF_LEAF + OF_PHOTO * photos))
    near = np.abs(np.subtract.outer(np.arange(SLICES), np.arange(SLICES))) / SLICES
    spread[SLOPE, SLOPE] = (
        MEAN_SLOPE_SD**2
        + SLOPE_CHANGE_SD**2 * np.exp(-((near / SLOW) ** 2) / 2)
        + SLOPE_NEAR_SD**2 * np.exp(-near / NEAR)
    )
    at = np.ix_([STRENGTH, WIDTH], [STRENGTH, WIDTH])
    spread[at] = told.lobe_spread
    spread[FACE_WIDTH, FACE_WIDTH] = FACE_WIDTH_SD**2
    spread[FACE_LIGHT, FACE_LIGHT] = FACE_LIGHT_SD**2
    spread[LEAN, LEAN] = LEAN_SD**2
    spread[WOOD, WOOD] = (
        WOOD_LEVEL_SD**2
        + WOOD_SD**2 * np.exp(-((near / SLOW) ** 2) / 2)
        + WOOD_NEAR_SD**2 * np.eye(SLICES)
    )
    spread[SWING, SWING] = (
        SWING_SD**2 + SWING_NEAR_SD**2 * np.exp(-near / NEAR) + SWING_SLICE_SD**2 * np.eye(SLICES)
    )
    gains = np.arange(OF_LEAF, OF_LEAF + photos)
    spread[gains, gains] = level_sd**2
    spread[gains + photos, gains + photos] = TILTED_LIGHT_SD**2
    off = gains + 2 * photos
    spread[off, off] = LAMP_SD**2
    left = gains + 3 * photos
    spread[left, left] = LINES_LEFT_SD**2
    return np.asarray(np.linalg.inv(spread))


def hold_swing(precision: Doubles, untold: NDArray[np.bool_]) -> Doubles:
    """Return inverse covariances that hold the swing at its prior for leaves of which no two
    photographs can be compared: the light of whole slices alone would make it up.

    Parameters
    ----------
    precision : ndarray, shape (leaves, unknowns, unknowns)
    untold : ndarray of bool, shape (leaves,)
    """
    held = precision.copy()
    at = np.arange(SWING.start, SWING.stop)
    held[:, at, at] += np.where(untold, HELD, 0.0)[:, None]
    return held


def pool_lobes(leaves: Sequence[tuple[Doubles, Doubles] | None]) -> list[ToldByOthers]:
    """Return for each leaf what all the others of its flitch say of the highlight.

    Where the lamps stood is not pooled, though they are the same: all leaves of a flitch slope
    alike, so that what passes for a misread lamp on one does so on all.

    Parameters
    ----------
    leaves : sequence of (mean, covariance) or None
        Logs of strength and width as fitted to each leaf alone; None where there was no fit.
    """
    before = np.diag([1 / STRENGTH_PRIOR[1] ** 2, 1 / WIDTH_PRIOR[1] ** 2])
    prior = np.array([STRENGTH_PRIOR[0], WIDTH_PRIOR[0]])
    within = np.diag(np.square(WITHIN_FLITCH))
    told = [_told_by_photos(one, before, prior, within) for one in leaves]
    weights = before + np.sum([weight for weight, _ in told], axis=0)
    sums = before @ prior + np.sum([weight @ mean for weight, mean in told], axis=0)
    lobes = []
    for weight, mean in told:
        spread = np.linalg.inv(weights - weight)
        lobes.append(ToldByOthers(spread @ (sums - weight @ mean), spread + within))
    return lobes


def _told_by_photos(
    leaf: tuple[Doubles, Doubles] | None, before: Doubles, prior: Doubles, within: Doubles
) -> tuple[Doubles, Doubles]:
    """Return weight and mean of what one leaf's photographs say, its own prior taken out."""
    if leaf is None:
        return np.zeros((2, 2)), prior
    mean, spread = leaf
    information = np.linalg.inv(spread)
    size, axes = np.linalg.eigh(information - before)
    own = (axes * np.maximum(size, 1e-6)) @ axes.T
    middle = np.linalg.solve(own, information @ mean - before @ prior)
    return np.asarray(np.linalg.inv(np.linalg.inv(own) + within)), np.asarray(middle)
