"""A leaf straightened out of its photograph, in light held against the board."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import LightField
from vision.colour_space import srgb_to_linear
from vision.leaf_image import LeafImage
from vision.outline import Outline

FIELD_GRID_PX = 24
"""Pitch, px, at which the light on the board is computed under the leaf; it is smooth."""
EDGE_LOSS_PX = 1.0
"""Pixels taken off the outline (times the working step), so that no board shines in."""

MOST_BINS = 96
"""Places along a side at which a leaf's extent across is read."""
BIN_POINTS = 3.0
"""Points of the outline that a bin must hold, or it may see one end of a narrow leaf alone."""


@dataclass(frozen=True, slots=True, eq=False)
class Straightened:
    """Where a straightened leaf lies in its photograph.

    Parameters
    ----------
    to_photo : ndarray, shape (2, 3)
        Affine map from flat pixels (x, y) to photo pixels.
    size_px : tuple of int
        Columns and rows of the flat picture.
    points : ndarray, shape (n, 2)
        The outline in flat pixels.
    length_px, width_px : float
        Length at mid-width, width at mid-length, photo pixels.
    """

    to_photo: NDArray[np.float64]
    size_px: tuple[int, int]
    points: NDArray[np.float64]
    length_px: float
    width_px: float


def straighten(outline: Outline) -> Straightened:
    """Return how to turn a leaf upright: long axis along the rows, upper end first.

    The axis halves the angle between the two long edges, so that a tapered leaf stands straight.
    A leaf that lies across the picture is turned so that its left end comes to the top.
    """
    points = outline.points
    centred = points - points.mean(axis=0)
    _, _, axes = np.linalg.svd(centred, full_matrices=False)
    axis = axes[0] * (1 if axes[0][np.argmax(np.abs(axes[0]))] >= 0 else -1)
    for _ in range(2):
        turned = points @ _turn(axis).T
        tilt = _mean_edge_slope(turned)
        axis = _turn(axis).T @ np.array([tilt, 1.0])
        axis /= np.linalg.norm(axis)
    turn = _turn(axis)
    turned = points @ turn.T
    low = np.floor(turned.min(axis=0)) - 1
    size = np.ceil(turned.max(axis=0) - low).astype(int) + 2
    flat = turned - low
    to_photo = np.hstack([turn.T, (turn.T @ low)[:, None]])
    length, width = _length_and_width(flat)
    return Straightened(to_photo, (int(size[0]), int(size[1])), flat, length, width)


def flatten(
    rgb: NDArray[np.uint8],
    field: LightField,
    straight: Straightened,
    *,
    board_rgb: tuple[float, float, float],
    px_per_mm: float | None,
    edge_loss_px: float = EDGE_LOSS_PX,
) -> LeafImage:
    """Return the leaf in linear light as a fraction of what a white sheet would send.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        The photograph, sRGB.
    field : LightField
        The light that the board sends in that photograph.
    board_rgb : tuple of float
        Linear reflectance of the board, one value for the whole bundle.
    edge_loss_px : float
        Taken off the outline all round, photo pixels.
    """
    size = straight.size_px
    light = srgb_to_linear(_lay_flat(rgb, straight))
    light *= _gain(field, straight, board_rgb)
    mask = np.zeros((size[1], size[0]), np.uint8)
    shifted = np.round(straight.points * 16).astype(np.int32)
    cv2.fillPoly(mask, [shifted], 1, lineType=cv2.LINE_8, shift=4)
    reach = 2 * int(np.ceil(edge_loss_px)) + 1
    mask = np.asarray(cv2.erode(mask, np.ones((reach, reach), np.uint8)), dtype=np.uint8)
    return LeafImage(light, mask.astype(bool), px_per_mm)


def _lay_flat(rgb: NDArray[np.uint8], straight: Straightened) -> NDArray[np.uint8]:
    """Return the flat picture.

    OpenCV turns pictures of four channels twice as fast as those of three.
    """
    columns, rows = straight.size_px
    rim = np.array([[0, 0, 1], [columns, 0, 1], [0, rows, 1], [columns, rows, 1]])
    seen = rim @ straight.to_photo.T
    left, top = np.maximum(np.floor(seen.min(axis=0)).astype(int) - 2, 0)
    right, bottom = np.ceil(seen.max(axis=0)).astype(int) + 3
    to_part = straight.to_photo - [[0, 0, left], [0, 0, top]]
    flat = cv2.warpAffine(
        cv2.cvtColor(rgb[top:bottom, left:right], cv2.COLOR_RGB2RGBA),
        to_part,
        (columns, rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(cv2.cvtColor(flat, cv2.COLOR_RGBA2RGB), dtype=np.uint8)


def _gain(
    field: LightField, straight: Straightened, board_rgb: tuple[float, float, float]
) -> NDArray[np.float32]:
    """Return board reflectance over board light at every flat pixel."""
    columns, rows = straight.size_px
    nx, ny = max(2, columns // FIELD_GRID_PX), max(2, rows // FIELD_GRID_PX)
    x = (np.arange(nx) + 0.5) * columns / nx - 0.5
    y = (np.arange(ny) + 0.5) * rows / ny - 0.5
    xx, yy = np.meshgrid(x, y)
    photo = np.stack([xx, yy, np.ones_like(xx)], axis=-1) @ straight.to_photo.T
    gain = np.asarray(board_rgb, dtype=np.float32) / field.at(photo[..., 0], photo[..., 1])
    return np.asarray(
        cv2.resize(gain, (columns, rows), interpolation=cv2.INTER_LINEAR), dtype=np.float32
    )


def _turn(axis: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the rotation that brings ``axis`` to (0, 1)."""
    x, y = axis
    return np.array([[y, -x], [x, y]])


def long_edges(points: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Return y, left x and right x of a straightened outline at evenly spaced heights, px."""
    return _edges(points, along=1)


def _edges(points: NDArray[np.float64], *, along: int) -> tuple[NDArray[np.float64], ...]:
    """Return bin centres and the outline's least and greatest extent across, bin by bin."""
    position, across = points[:, along], points[:, 1 - along]
    low, high = position.min(), position.max()
    apart = float(np.median(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    bins = int(np.clip((high - low) / max(BIN_POINTS * apart, 1e-9), 4, MOST_BINS))
    index = np.minimum(((position - low) / (high - low) * bins).astype(int), bins - 1)
    least = np.full(bins, np.inf)
    most = np.full(bins, -np.inf)
    np.minimum.at(least, index, across)
    np.maximum.at(most, index, across)
    centres = low + (np.arange(bins) + 0.5) * (high - low) / bins
    seen = np.isfinite(least) & (most > least)
    return centres[seen], least[seen], most[seen]


def _mean_edge_slope(turned: NDArray[np.float64]) -> float:
    """Return dx/dy of the line midway between the two long edges."""
    y, left, right = long_edges(turned)
    middle = slice(len(y) // 12, len(y) - len(y) // 12)
    slopes = [np.polyfit(y[middle], edge[middle], 1)[0] for edge in (left, right)]
    return float(np.mean(slopes))


def _length_and_width(flat: NDArray[np.float64]) -> tuple[float, float]:
    _, left, right = long_edges(flat)
    quarter = len(left) // 4
    width = float(np.median((right - left)[quarter : len(left) - quarter]))
    _, top, bottom = _edges(flat, along=0)
    fifth = len(top) // 5
    length = float(np.median((bottom - top)[fifth : len(top) - fifth]))
    return length, width
