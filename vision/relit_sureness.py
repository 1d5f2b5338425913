"""How far two photographs of a leaf carry: which lamp places can be shown from them, how surely.

Many highlights, wider or stronger, explain the same two photographs about as well, each with slopes
of its own. Between the photographed lamps they agree on what the leaf will send; far from them they
part. How far they part is what the photographs leave open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.relight import Angles, Doubles, Standing, angles_along, log_response, share_of_first
from vision.settings import VisionSettings
from vision.shown_light import FACE_WIDTH_SD
from vision.slope_priors import (
    MEAN_SLOPE_SD,
    SLICE_SD,
    SLOPE_CHANGE_SD,
    SLOPE_NEAR_SD,
    STRENGTH_PRIOR,
    WIDTH_PRIOR,
    WOOD_NEAR_SD,
    WOOD_SD,
)

OFF = np.linspace(-2.0, 2.0, 17)
"""Standard deviations to either side at which strengths and widths are tried."""
SLOPES = np.deg2rad(np.linspace(-16, 16, 65))
MODEL_SD, MODEL_SHARE = 0.25, 0.15
"""L*, and share of the change from the nearer photograph, by which a highlight of another shape
than the model's is off."""
COUNTED = 0.5
"""Share of the slices that count each for itself: neighbours have lamp place and curl in common."""
NEGLIGIBLE = 1e-3
"""Explanations of less than this share of the best one's weight are left out."""
CARRIED_SD = 2.5
"""L* of one standard deviation up to which a lamp place counts as carried by the photographs.
Strongly shining wood swings by ten L* and more from lamp to lamp; a quarter of that either way
still shows which leaf is lighter, and by about how much."""
FACE_LIGHT_SD = VisionSettings().face_albedo_sd
FLATTER = np.deg2rad(2.0)
"""By how much a lamp may meet a place more flatly than it met any place in a photograph."""
MET_SHARE = 0.9
"""Share of the slices for which that must hold."""


@dataclass(frozen=True, slots=True, eq=False)
class Explanations:
    """Highlights that explain the two photographs of one leaf, with their weights.

    Parameters
    ----------
    weight, strength, width : ndarray, shape (n,)
    slope : ndarray, shape (n, slices)
    log_light : ndarray, shape (2, slices)
        Of the photographs, rows as the match has them.
    seen : two Angles
    """

    weight: Doubles
    strength: Doubles
    width: Doubles
    slope: Doubles
    log_light: Doubles
    seen: tuple[Angles, Angles]


def explain(
    log_light: NDArray[np.float64], seen: tuple[Standing, Standing], *, level_sd: float
) -> Explanations:
    """Return the highlights that explain two photographs of a leaf.

    Parameters
    ----------
    log_light : ndarray, shape (2, slices)
        Log luminance of the two photographs, slice by slice from the top of the match.
    seen : two Standing
    level_sd : float
        One standard deviation of the photographs' exposure level, as a fraction.
    """
    place = (np.arange(log_light.shape[1]) + 0.5) / log_light.shape[1]
    at = (angles_along(seen[0], place), angles_along(seen[1], place))
    strength, width = np.meshgrid(
        np.exp(STRENGTH_PRIOR[0] + STRENGTH_PRIOR[1] * OFF),
        np.exp(WIDTH_PRIOR[0] + WIDTH_PRIOR[1] * OFF),
    )
    strength, width = strength.ravel(), width.ravel()
    sent = [
        log_response(
            _across(one),
            SLOPES,
            strength=strength[:, None, None],
            width=width[:, None, None],
        )
        for one in at
    ]
    ratio = (log_light[0] - log_light[1])[None, :, None]
    sd = np.sqrt(2) * np.hypot(SLICE_SD, level_sd)
    misfit = ((ratio - (sent[0] - sent[1])) / sd) ** 2
    prior = (SLOPES / MEAN_SLOPE_SD) ** 2
    slope = SLOPES[np.argmin(misfit + prior, axis=2)]
    mean = slope.mean(axis=1)[:, None, None]
    cost = misfit + ((SLOPES - mean) / np.hypot(SLOPE_CHANGE_SD, SLOPE_NEAR_SD)) ** 2
    best = np.argmin(cost, axis=2)
    slope = SLOPES[best]
    wood = log_light.mean(axis=0) - np.mean([_taken(one, best) for one in sent], axis=0)
    wood -= wood.mean(axis=1, keepdims=True)
    total = (
        np.take_along_axis(cost, best[..., None], axis=2).sum(axis=(1, 2))
        + (slope.mean(axis=1) / MEAN_SLOPE_SD) ** 2
        + ((wood / np.hypot(WOOD_SD, WOOD_NEAR_SD)) ** 2).sum(axis=1)
        + ((np.log(strength) - STRENGTH_PRIOR[0]) / STRENGTH_PRIOR[1]) ** 2
        + ((np.log(width) - WIDTH_PRIOR[0]) / WIDTH_PRIOR[1]) ** 2
    )
    weight = np.exp(-COUNTED * (total - total.min()) / 2)
    kept = weight > NEGLIGIBLE
    weight = weight[kept] / weight[kept].sum()
    return Explanations(weight, strength[kept], width[kept], slope[kept], log_light, at)


def lightness_sd(told: Explanations, stood: Sequence[Standing]) -> Doubles:
    """Return one standard deviation, L*, of the leaf's lightness under lamps standing so.

    Parameters
    ----------
    told : Explanations
    stood : sequence of Standing

    Returns
    -------
    ndarray, shape (len(stood),)
        Root mean square over the slices.
    """
    place = (np.arange(told.log_light.shape[1]) + 0.5) / told.log_light.shape[1]
    photographed = [_sent(told, one) for one in told.seen]
    found = []
    for one in stood:
        at = angles_along(one, place)
        first = share_of_first(at, told.seen)
        gains = [_sent(told, at) - before for before in photographed]
        light = np.log(
            first * np.exp(told.log_light[0] + gains[0])
            + (1 - first) * np.exp(told.log_light[1] + gains[1])
        )
        mean = told.weight @ light
        open_ = told.weight @ (light - mean) ** 2
        nearer = np.where(first >= 0.5, told.log_light[0], told.log_light[1])
        change = MODEL_SHARE * (mean - nearer)
        share = np.sqrt(np.mean(open_ + change**2))
        lightness = 116 * np.cbrt(np.exp(mean).mean())
        found.append(float(np.hypot(lightness / 3 * share, MODEL_SD)))
    return np.array(found)


def face_sd(
    slope: Doubles, strength: float, width: float, told: Explanations, stood: Sequence[Standing]
) -> Doubles:
    """Return what an unseen face adds, L*: another width of its highlight, lighter wood.

    Parameters
    ----------
    slope, strength, width
        As fitted, slices from the top of the match.
    told : Explanations
        For the leaf's lightness.
    stood : sequence of Standing
    """
    place = (np.arange(len(slope)) + 0.5) / len(slope)
    lightness = 116 * np.cbrt(np.exp(told.log_light).mean())
    found = []
    for one in stood:
        at = angles_along(one, place)
        narrow, fitted, wide = (
            log_response(at, slope, strength=strength, width=width * np.exp(off))
            for off in (-FACE_WIDTH_SD, 0.0, FACE_WIDTH_SD)
        )
        highlight = (np.abs(narrow - fitted) + np.abs(wide - fitted)) / 2
        found.append(np.sqrt(np.mean(highlight**2) + FACE_LIGHT_SD**2) * lightness / 3)
    return np.array(found)


def meets_as_photographed(told: Explanations, stood: Sequence[Standing]) -> NDArray[np.bool_]:
    """Tell under which lamps the leaf is met no more flatly than in the photographs.

    Toward grazing light the surface itself begins to shine, and roughness throws shadows: nothing
    of which a steeper lamp tells.
    """
    place = (np.arange(told.log_light.shape[1]) + 0.5) / told.log_light.shape[1]
    lamps = np.array([one.lamp for one in told.seen])
    turned = np.array([one.half_way for one in told.seen])
    met = []
    for one in stood:
        at = angles_along(one, place)
        steep = np.abs(at.lamp) <= np.abs(lamps).max() + FLATTER
        within = np.abs(at.half_way) <= np.abs(turned).max() + FLATTER
        met.append(np.mean(steep & within) >= MET_SHARE)
    return np.array(met)


def _sent(told: Explanations, at: Angles) -> Doubles:
    return log_response(at, told.slope, strength=told.strength[:, None], width=told.width[:, None])


def _across(at: Angles) -> Angles:
    """Return the angles with room for slopes behind the slices."""
    return Angles(at.lamp[:, None], at.eye[:, None], at.log_passed[:, None])


def _taken(sent: Doubles, best: NDArray[np.intp]) -> Doubles:
    return np.asarray(np.take_along_axis(sent, best[..., None], axis=2)[..., 0])
