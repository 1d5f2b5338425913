"""Two leaves opened like a book and butted: where the joint runs, and each leaf by itself."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.leaf_image import LeafImage

SEARCH = 0.12
"""The joint is sought within this share of the pair's width either side of the middle:
neighbouring leaves are nearly of one width."""
MIRROR_REACH = 0.22
"""Share of the pair's width, either side of the joint, that is compared with its mirror image."""
SURE_CORRELATION = 0.25
"""Mirror correlation below which the joint is called uncertain."""


@dataclass(frozen=True, slots=True)
class Joint:
    """The joint of an opened pair, as columns of the pair's flat picture."""

    top_px: float
    bottom_px: float
    correlation: float
    """Of the two sides mirrored onto each other, -1 to 1."""

    @property
    def is_sure(self) -> bool:
        """Tell whether the figure itself, mirrored, shows where the joint is."""
        return self.correlation >= SURE_CORRELATION


def find_joint(pair: LeafImage) -> Joint:
    """Return where the joint runs: the line about which the figure is its own mirror image."""
    lightness = _figure(pair)
    rows, columns = lightness.shape
    halves = [slice(0, rows // 2), slice(rows // 2, rows), slice(0, rows)]
    found = [_mirror_column(lightness[half]) for half in halves]
    scale = pair.light.shape[1] / columns
    upper, lower, whole = ((column + 0.5) * scale for column, _ in found)
    correlation = found[2][1]
    both_sure = min(found[0][1], found[1][1]) >= SURE_CORRELATION
    if not both_sure or abs(upper - lower) > 0.03 * pair.light.shape[1]:
        return Joint(whole, whole, correlation)
    slope = lower - upper
    middle = (upper + lower) / 2
    return Joint(middle - slope, middle + slope, correlation)


def split_pair(pair: LeafImage, joint: Joint) -> tuple[LeafImage, LeafImage]:
    """Return the left and the right leaf, each on the pair's own grid cut at the joint."""
    rows, columns = pair.on_leaf.shape
    line = np.linspace(joint.top_px, joint.bottom_px, rows)[:, None]
    x = np.arange(columns)[None, :]
    cut = (min(joint.top_px, joint.bottom_px), max(joint.top_px, joint.bottom_px))
    left_end = min(columns, int(np.ceil(cut[1])) + 1)
    right_start = max(0, int(np.floor(cut[0])) - 1)
    left = LeafImage(
        pair.light[:, :left_end].copy(),
        (pair.on_leaf & (x < line - 1.0))[:, :left_end],
        pair.px_per_mm,
    )
    right = LeafImage(
        pair.light[:, right_start:].copy(),
        (pair.on_leaf & (x > line + 1.0))[:, right_start:],
        pair.px_per_mm,
    )
    return left, right


def _figure(pair: LeafImage) -> NDArray[np.float32]:
    """Return log lightness at a modest size with slow changes across taken out."""
    tone = np.log(np.maximum(pair.light.mean(axis=2), 1e-3))
    tone = np.where(pair.on_leaf, tone, np.median(tone[pair.on_leaf]))
    rows, columns = tone.shape
    size = (min(columns, 320), min(rows, 480))
    small = cv2.resize(tone.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    slow = cv2.GaussianBlur(small, (0, 0), 9.0)
    return np.asarray(small - slow, dtype=np.float32)


def _mirror_column(figure: NDArray[np.float32]) -> tuple[float, float]:
    """Return the column (fractional) of the best mirror axis, and its correlation."""
    columns = figure.shape[1]
    reach = max(4, int(MIRROR_REACH * columns))
    centre, search = (columns - 1) / 2, int(SEARCH * columns)
    twice = np.arange(int(2 * (centre - search)), int(2 * (centre + search)) + 1)
    scores = np.array([_mirror_score(figure, int(t), reach) for t in twice])
    best = int(np.argmax(scores))
    return float(twice[best]) / 2, float(scores[best])


def _mirror_score(figure: NDArray[np.float32], twice: int, reach: int) -> float:
    """Return the correlation of the two sides of column ``twice / 2``, mirrored."""
    left_last = (twice - 1) // 2
    right_first = twice - left_last
    count = min(reach, left_last + 1, figure.shape[1] - right_first)
    if count < 4:
        return -1.0
    left = figure[:, left_last - count + 1 : left_last + 1][:, ::-1].ravel()
    right = figure[:, right_first : right_first + count].ravel()
    norm = float(np.sqrt((left * left).sum() * (right * right).sum()))
    return float((left * right).sum()) / norm if norm > 0 else 0.0
