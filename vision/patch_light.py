"""Patches of one colour in a photograph: the pixels within, and whether they can be trusted."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

MOST_MAP_ROWS = 30_000
"""Rows of places that OpenCV takes at a time."""
SAMPLES = (6, 48)
"""Least and most places read along a side of a patch."""
BURNT_LEVEL, DARK_LEVEL = 250, 1
"""Encoded levels from which, and to which, a pixel is clipped."""
BURNT_SHARE = 0.02
"""Share of a patch's pixels that may be burnt out."""
DARK_SHARE = 0.20
"""Share that may be lost in the dark: noise takes a deep colour's weakest channel down to 0."""
UNEVEN_LEVELS, UNEVEN_SHARE = 6.0, 0.06
"""By how much a patch's quarters may differ: encoded levels, and as a share of the level."""
TRIM = 0.10
"""Share of the pixels left out at either end."""


def sample_patches(
    rgb: NDArray[np.uint8],
    centres_px: NDArray[np.float64],
    across_px: NDArray[np.float64],
    down_px: NDArray[np.float64],
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Return the pixels of patches, shape (patches, n, n, 3), and which lie within the picture.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    centres_px : ndarray, shape (patches, 2)
    across_px, down_px : ndarray, shape (patches, 2)
        The two sides of what is read of each.
    """
    sides = np.hypot(*across_px.T), np.hypot(*down_px.T)
    count = int(np.clip(np.median(sides), *SAMPLES))
    share = (np.arange(count) + 0.5) / count - 0.5
    points = (
        centres_px[:, None, None]
        + share[None, None, :, None] * across_px[:, None, None]
        + share[None, :, None, None] * down_px[:, None, None]
    )
    x, y = (points[..., axis].reshape(-1, count).astype(np.float32) for axis in (0, 1))
    parts = [slice(top, top + MOST_MAP_ROWS) for top in range(0, len(x), MOST_MAP_ROWS)]
    samples = [
        # A quarter of the time that picking them by their indices takes.
        cv2.remap(rgb, x[at], y[at], cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
        for at in parts
    ]
    ends = points[:, [0, 0, -1, -1], [0, -1, 0, -1]]
    inside = (np.rint(ends) >= 0) & (np.rint(ends) < rgb.shape[1::-1])
    picked = np.concatenate(samples).astype(np.uint8)
    return picked.reshape(len(points), count, count, 3), np.asarray(inside.all(axis=(1, 2)))


def trimmed_mean(pixels: NDArray[np.floating] | NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return the mean over the last axis but one, a tenth left out at either end."""
    # Levels, eight bits, are counted into order; side by side they are sorted sooner.
    ordered = np.sort(np.ascontiguousarray(np.swapaxes(pixels, -1, -2)), kind="stable")
    cut = int(TRIM * ordered.shape[-1])
    middle = ordered[..., cut : ordered.shape[-1] - cut]
    return np.asarray(middle.mean(axis=-1, dtype=np.float64))


def trimmed_light(samples: NDArray[np.uint8], decode: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the trimmed mean of the linear light of encoded pixels, shape (patches, n, 3).

    Light rises with the level, so the levels are put in order, which is soon done.
    """
    ordered = np.sort(np.ascontiguousarray(np.swapaxes(samples, -1, -2)), kind="stable")
    cut = int(TRIM * ordered.shape[-1])
    middle = ordered[..., cut : ordered.shape[-1] - cut]
    light = [
        decode[middle[:, channel], channel].mean(axis=-1, dtype=np.float64) for channel in range(3)
    ]
    return np.stack(light, axis=-1)


def faults_of(patches: NDArray[np.uint8]) -> tuple[str, ...]:
    """Return why each patch, shape (patches, n, n, 3), cannot be used, or nothing.

    ``clipped`` (burnt out), ``dark`` (lost in the dark) or ``uneven`` (a reflection, an edge of a
    shadow, dirt).
    """
    red, green, blue = (patches[..., channel] for channel in range(3))
    lightest = np.maximum(np.maximum(red, green), blue)
    darkest = np.minimum(np.minimum(red, green), blue)
    burnt = (lightest >= BURNT_LEVEL).mean(axis=(1, 2)) > BURNT_SHARE
    dark = (darkest <= DARK_LEVEL).mean(axis=(1, 2)) > DARK_SHARE
    half = patches.shape[1] // 2
    sums = [rows.sum(axis=1, dtype=np.float64) for rows in (patches[:, :half], patches[:, -half:])]
    quarters = np.stack([
        part.sum(axis=1) / half**2 for rows in sums for part in (rows[:, :half], rows[:, -half:])
    ])  # fmt: skip
    limit = np.maximum(UNEVEN_LEVELS, UNEVEN_SHARE * quarters.mean(axis=0))
    uneven = (np.ptp(quarters, axis=0) > limit).any(axis=1)
    return tuple(
        "clipped" if one else "dark" if two else "uneven" if three else ""
        for one, two, three in zip(burnt, dark, uneven, strict=True)
    )
