"""A leaf and its board at a small size, held against the board's light: for looking for faults."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.flatten import Straightened

Floats = NDArray[np.float32]

ROWS = 384
"""Rows of the small flat leaf."""
LEAST_COLUMNS = 16
RIM_SHARE = 0.03
"""Share of the leaf's width left out at the outline."""
RIM_COARSE_PX = 1.5
"""Pixels of the board's coarse picture left out there as well: they mix leaf and board."""


@dataclass(frozen=True, slots=True, eq=False)
class SmallLook:
    """One leaf, straightened, at a small size.

    Parameters
    ----------
    ratio : ndarray of float32, shape (`ROWS`, columns, 3)
        log(leaf / board), the light's fall-off taken out. The pixels are square.
    on_leaf : ndarray of bool, shape (`ROWS`, columns)
        False at the rim and beside the leaf.
    width_px : float
        The leaf's width in these pixels.
    """

    ratio: Floats
    on_leaf: NDArray[np.bool_]
    width_px: float


def look_small(board: Board, straight: Straightened) -> SmallLook:
    """Return the leaf at a small size, out of the board's coarse picture."""
    columns, rows = straight.size_px
    scale = ROWS / rows
    small = (max(LEAST_COLUMNS, round(columns * scale)), ROWS)
    pitch = np.array([columns / small[0], rows / small[1]])
    turn, shift = straight.to_photo[:, :2], straight.to_photo[:, 2]
    first = turn @ (0.5 * pitch - 0.5) + shift
    to_coarse = np.hstack([turn * pitch, first[:, None] + 0.5]) / board.step
    to_coarse[:, 2] -= 0.5
    ratio = cv2.warpAffine(
        board.ratio,
        to_coarse,
        small,
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    mask = np.zeros(small[::-1], np.uint8)
    points = (straight.points + 0.5) * [small[0] / columns, small[1] / rows] - 0.5
    cv2.fillPoly(mask, [np.round(points * 16).astype(np.int32)], 1, shift=4)
    width_px = straight.width_px * scale
    rim = round(RIM_SHARE * width_px + RIM_COARSE_PX * board.step * scale)
    reach = 2 * max(1, rim) + 1
    square = np.ones((reach, reach), np.uint8)
    eroded = cv2.erode(mask, square, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    return SmallLook(np.asarray(ratio, np.float32), eroded > 0, width_px)
