"""A leaf that does not lie flat: ripples of light and shade too long for figure."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.small_look import SmallLook

Floats = NDArray[np.float32]

FINE_WIDTHS, COARSE_WIDTHS = 0.05, 0.3
"""Along the leaf, ripples between these two Gaussians count, in widths of the leaf: crests some 60
to 400 mm apart. Fiddleback lies below 20 mm; longer swings of the fibres' slope lie above."""
COARSE_LENGTHS = 0.08
"""The coarser one is this share of the length at most, lest a short leaf's own fall-off count."""
ACROSS_WIDTHS = 0.2
"""Across the leaf light is averaged over this: stripes lie along, buckles across."""
SMALLER = 3
"""The small leaf is looked at in a third of its size."""
LEAST_PIXELS = 60


def measure_ripples(look: SmallLook) -> float:
    """Return the ripples of light along a leaf that all colours share, RMS of log light.

    A slope toward or away from the lamp changes red, green and blue alike; growth rings, streaks
    and sapwood change hue with lightness, and what goes with hue is taken out by regression.
    A slope of 5 degrees (RMS) under a lamp 35 degrees from vertical makes 0.06, less what the
    averages take.
    """
    rows, columns = look.on_leaf.shape
    size = (max(4, columns // SMALLER), rows // SMALLER)
    weight = _smaller(look.on_leaf.astype(np.float32), size)
    inside = np.asarray(weight > 0.5)
    if int(inside.sum()) < LEAST_PIXELS:
        return 0.0
    known = _smaller(look.ratio * look.on_leaf[..., None], size)
    known /= np.maximum(weight, 1e-3)[..., None]
    width = look.width_px / SMALLER
    parts = (known.mean(axis=2), known[..., 2] - known[..., 0])
    light, tint = (_ripples(part, weight, width)[inside] for part in parts)
    by_hue = float((light * tint).sum()) / max(float((tint**2).sum()), 1e-9)
    return float(np.sqrt(np.mean((light - by_hue * tint) ** 2)))


def _smaller(part: Floats, size: tuple[int, int]) -> Floats:
    return np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), np.float32)


def _ripples(part: Floats, weight: Floats, width: float) -> Floats:
    return _calm(part, weight, FINE_WIDTHS * width, width) - _calm(
        part, weight, min(COARSE_WIDTHS * width, COARSE_LENGTHS * len(part)), width
    )


def _calm(part: Floats, weight: Floats, along: float, width: float) -> Floats:
    """Return local means on the leaf, by a Gaussian whose deviations are in pixels."""
    across = ACROSS_WIDTHS * width
    total = cv2.GaussianBlur(part * weight, (0, 0), sigmaX=across, sigmaY=along)
    over = cv2.GaussianBlur(weight, (0, 0), sigmaX=across, sigmaY=along)
    return np.asarray(total / np.maximum(over, 1e-3), np.float32)
