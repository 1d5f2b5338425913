"""How well a found outline covers the true one."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray


def overlap(found: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    """Return intersection over union of two outlines (x, y in pixels), to a quarter pixel."""
    points = np.vstack([found, true])
    low = points.min(axis=0) - 2
    size = np.ceil((points.max(axis=0) - low + 4) * 2).astype(int)
    masks = []
    for outline in (found, true):
        mask = np.zeros((size[1], size[0]), np.uint8)
        cv2.fillPoly(
            mask, [np.round(((outline - low) * 2 + 0.5) * 16).astype(np.int32)], 1, shift=4
        )
        masks.append(mask.astype(bool))
    return float((masks[0] & masks[1]).sum() / (masks[0] | masks[1]).sum())
