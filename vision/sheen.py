"""Glare: spots on a leaf where the lamp's own light lies over the wood's colour."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.small_look import SmallLook

Floats = NDArray[np.float32]

BLOCK_PX = 4
"""Small pixels to a block: fine figure and noise average out."""
WINDOW_SHARE = 0.4
"""Length, as a share of the leaf's, over which wood of one streak is taken to be alike."""
GREATEST_SHARE = 0.005
"""The score is what this share of the leaf exceeds: a spot of 20 mm on a narrow leaf."""
BESIDE_SHARE = 0.2
"""Share of the width within which streaks are asked as well: the border of sapwood wanders."""
LEAST_HUE = 0.05
"""Least share of a wood's light that is colour, for dividing by."""


def measure_sheen(look: SmallLook, board_rgb: tuple[float, float, float]) -> float:
    """Return white light over the wood's own, as a fraction of it, at the leaf's shiniest spots.

    Light reflected in the surface has the lamp's colour, and is added; more light or less pigment
    keep the wood's hue or nearly so (the dichromatic model: Shafer, Color Research and Application
    10, 1985). Each place is compared with its own streak, up and down the leaf, and with those
    beside it, so that sapwood and other stripes do not count.
    """
    light, seen = _blocks(look)
    if seen.sum() < 20:
        return 0.0
    light = light * np.asarray(board_rgb, np.float32)
    usual = _usual(light, seen)
    reach = max(2, round(BESIDE_SHARE * usual.shape[1]))
    found = np.full(seen.shape, np.inf, np.float32)
    for shift in range(-reach, reach + 1):
        columns = np.clip(np.arange(usual.shape[1]) + shift, 0, usual.shape[1] - 1)
        found = np.minimum(found, _white_over(light, usual[:, columns]))
    return max(0.0, float(np.quantile(found[seen], 1 - GREATEST_SHARE)))


def _white_over(light: Floats, usual: Floats) -> Floats:
    """Return white light beyond what wood of the usual kind sends, as a fraction of that."""
    level = usual.mean(axis=2)
    square = (usual**2).sum(axis=2)
    hueless = 1 - (usual.sum(axis=2) / square)[..., None] * usual
    strength = ((light - usual) * hueless).sum(axis=2)
    added = strength / np.maximum((hueless**2).sum(axis=2), 3 * LEAST_HUE**2) / level
    brighter = (light.min(axis=2) - usual.min(axis=2)) / level
    return np.asarray(np.minimum(added, brighter), np.float32)


def _blocks(look: SmallLook) -> tuple[Floats, NDArray[np.bool_]]:
    """Return mean light over board in blocks, and which blocks lie on the leaf."""
    rows, columns = look.on_leaf.shape
    size = (max(1, columns // BLOCK_PX), rows // BLOCK_PX)
    share = cv2.resize(look.on_leaf.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    light = np.exp(look.ratio) * look.on_leaf[..., None]
    small = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    return np.asarray(small / np.maximum(share, 1e-3)[..., None], np.float32), share > 0.5


def _usual(light: Floats, seen: NDArray[np.bool_]) -> Floats:
    """Return the median of each streak along the leaf, in a running window."""
    rows = len(light)
    half = max(2, round(WINDOW_SHARE * rows / 2))
    whole = np.median(light[seen], axis=0)
    known = np.where(seen[..., None], light, whole)
    starts = np.arange(0, rows, max(1, half // 3))
    bands = [np.median(known[max(0, start - half) : start + half + 1], axis=0) for start in starts]
    at = np.arange(rows)
    low = np.clip(np.searchsorted(starts, at, side="right") - 1, 0, len(starts) - 1)
    return np.asarray(np.array(bands)[low], np.float32)
