"""The drawing on one cut plane: rings, pores, streaks, rays, sapwood, as matt reflectance."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from sample_images.colour import linear_of_d65
from sample_images.figure import Grain
from sample_images.log import Floats, Log
from sample_images.noise import chance
from sample_images.pores import Sheet, Streaks, lay_streaks
from sample_images.rays import lay_open
from sample_images.species import Rgb

FLAKE_LIGHT = 0.10
"""Flake is that much lighter than the wood beside it (log light) before it shines."""


PORES_UNDER_FLAKE = 0.75
"""Share of the pores that flake hides."""
RIPPLE_MM = 0.12
"""How far fiddleback carries the growth rings to and fro."""
GUM_ABSORB = (0.5, 0.7, 0.8)


@dataclass(frozen=True, slots=True, eq=False)
class Stain:
    """Something dark in the wood: how much of it where, and its absorbance R, G, B."""

    amount: Floats
    absorb: Rgb


@dataclass(frozen=True, slots=True, eq=False)
class WoodFace:
    """One cut plane, seen from face A. Rows run down from the leaf's top.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, 3)
        Matt reflectance before the flitch's level is set, linear R, G, B.
    flake : ndarray of float32 or None
        Share of each pixel that is a ray laid open.
    """

    light: Floats
    flake: Floats | None


def saw_through(log: Log, grain: Grain, sheet: Sheet, plane: int) -> WoodFace:
    """Return the drawing on the cut plane under leaf ``plane`` + 1, that is on top of ``plane``.

    Leaf k, counted from 1, lies between plane k - 1 (its face B) and plane k (its face A).
    """
    depth = plane * log.plan.thickness_mm
    x, y = sheet.x_mm, sheet.y_mm
    rng = chance(log.plan.seed, "plane", plane)
    radius = _ring_radius(log, grain, sheet, depth)
    lean = np.tan(np.radians(grain.angle_deg(x, y, plane))).astype(np.float32)
    tone, early = log.rings.look_up(radius, _pixel_radius(radius, sheet.px_per_mm))
    pores = _pores(log, sheet, rng, early=early, lean=lean)
    grey = 0.030 * log.fibres.at(x, y, depth)
    grey += 0.035 * log.shade.at(x, y, depth)
    grey += 0.012 * rng.standard_normal(grey.shape, dtype=np.float32)
    flake = lay_open(log, sheet, depth)
    if flake is not None:
        pores *= 1 - PORES_UNDER_FLAKE * flake
        grey -= FLAKE_LIGHT * flake
    stains = [
        Stain(tone, log.species.rings.absorb),
        Stain(pores, log.species.pores.absorb),
        Stain(_pigment(log, sheet, depth, radius), log.species.streaks),
    ]
    if log.species.flecks_per_m2 > 0:
        stains.append(Stain(_flecks(log, sheet, rng, lean), GUM_ABSORB))
    return WoodFace(_tint(log, grey, stains, _sap_share(log, sheet, depth, radius)), flake)


def _ring_radius(log: Log, grain: Grain, sheet: Sheet, depth_mm: float) -> Floats:
    """Return which growth surface lies where, mm, with what the figure does to it."""
    if log.plan.figure == "crotch":
        return grain.feather_mm(sheet.x_mm, sheet.y_mm, depth_mm)
    radius = log.radius(sheet.x_mm, sheet.y_mm, depth_mm)
    if log.plan.figure == "fiddleback":
        radius += np.float32(RIPPLE_MM) * grain.ripple(sheet.x_mm, sheet.y_mm, depth_mm)
    return radius


def _tint(log: Log, grey: Floats, stains: list[Stain], sap: Floats | None) -> Floats:
    """Return matt reflectance: clear wood darkened by its stains, as filters one on the other."""
    base = linear_of_d65(log.species.lab)
    to_sap = np.log(linear_of_d65(log.species.sap_lab) / base)
    light = np.empty((*grey.shape, 3), np.float32)
    for channel in range(3):
        absorbed = np.zeros_like(grey)
        for stain in stains:
            absorbed += np.float32(stain.absorb[channel]) * stain.amount
        if sap is not None:
            absorbed *= 1 - 0.5 * sap
            absorbed -= np.float32(to_sap[channel]) * sap
        light[..., channel] = np.float32(base[channel]) * cv2.exp(-(absorbed + grey))
    return light


def _pixel_radius(radius: Floats, px_per_mm: float) -> Floats:
    """Return over how much radius one pixel reaches, mm."""
    across = cv2.Sobel(radius, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    along = cv2.Sobel(radius, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    least = 0.1 / px_per_mm
    return np.asarray(np.hypot(across, along) + least, np.float32)


def _pores(
    log: Log, sheet: Sheet, rng: np.random.Generator, *, early: Floats, lean: Floats
) -> Floats:
    pores = log.species.pores
    most = max(pores.early_per_mm2, pores.late_per_mm2)
    share = (pores.late_per_mm2 + (pores.early_per_mm2 - pores.late_per_mm2) * early) / most
    kind = Streaks(most, pores.width_mm, pores.length_mm)
    return lay_streaks(rng, sheet, kind, share=np.asarray(share, np.float32), lean=lean)


def _pigment(log: Log, sheet: Sheet, depth_mm: float, radius: Floats) -> Floats:
    """Return pigment streaks, 0 to about 1.5: bands along the rings, here and there."""
    x, y = sheet.x_mm, sheet.y_mm
    band, patch = log.streaks
    amount = 0.75 * _along_rings(log, radius)
    amount += 0.55 * patch.at(x, y, depth_mm) + 0.35 * band.at(x, y, depth_mm)
    threshold = np.float32(1.2 - 1.8 * log.species.streak_share)
    return np.asarray(0.25 * np.log1p(np.exp(np.minimum(4 * (amount - threshold), 20))))


def _along_rings(log: Log, radius: Floats) -> Floats:
    """Return noise that is one value along each growth surface."""
    rng = chance(log.plan.seed, "streak rings")
    knots = rng.standard_normal(512).astype(np.float32)
    smooth = cv2.resize(knots[None, :], (512 * 16, 1), interpolation=cv2.INTER_CUBIC)
    place = np.mod(radius + 300, 500) * (16 / 3.2)
    rows = np.zeros_like(place)
    return np.asarray(
        cv2.remap(smooth, place, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    )


def _flecks(log: Log, sheet: Sheet, rng: np.random.Generator, lean: Floats) -> Floats:
    kind = Streaks(log.species.flecks_per_m2 / 1e6, 0.6, (1.5, 9.0))
    return lay_streaks(rng, sheet, kind, share=None, lean=lean)


def _sap_share(log: Log, sheet: Sheet, depth_mm: float, radius: Floats) -> Floats | None:
    if log.sap_mm is None:
        return None
    edge = radius - np.float32(log.sap_mm) + 1.5 * log.shade.at(sheet.x_mm, sheet.y_mm, depth_mm)
    return np.asarray(1 / (1 + np.exp(-np.clip(edge / 1.1, -20, 20))), np.float32)
