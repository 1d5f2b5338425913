"""How well a found outline covers the true one."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


def overlap(
    found: Points,
    true: Points,
    *,
    found_openings: Sequence[Points] = (),
    true_openings: Sequence[Points] = (),
) -> float:
    """Return intersection over union of two outlines (x, y in pixels), to a quarter pixel.

    What lies in the openings is taken off.
    """
    points = np.vstack([found, true])
    low = points.min(axis=0) - 2
    size = np.ceil((points.max(axis=0) - low + 4) * 2).astype(int)
    masks = []
    for outline, openings in ((found, found_openings), (true, true_openings)):
        mask = np.zeros((size[1], size[0]), np.uint8)
        for value, polygon in ((1, outline), *((0, opening) for opening in openings)):
            fine = np.round(((polygon - low) * 2 + 0.5) * 16).astype(np.int32)
            cv2.fillPoly(mask, [fine], value, shift=4)
        masks.append(mask.astype(bool))
    return float((masks[0] & masks[1]).sum() / (masks[0] | masks[1]).sum())
