"""Two leaves opened like a book and butted: where the joint runs, and each leaf by itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.joint_signs import (
    BLOCKS,
    ROWS,
    Candidates,
    Middle,
    PairPicture,
    find_middle,
    list_candidates,
    read_signs,
    shrink_pair,
)
from vision.leaf_image import LeafImage

WIDTH_SD = 0.01
"""One standard deviation, in widths of the pair, of the joint from the middle line: booked leaves
are cut one after the other and differ little in width, clipped edges a little more."""
WIDTH_TAIL = 4.0
"""Degrees of freedom of Student's t for the same; a badly torn leaf is no wonder."""
TILT_SD = 0.006
"""One standard deviation of the joint's run against the middle line, end to end, in widths."""
NEAR = 0.012
"""Lines within this share of the pair's width tell of the same joint."""
SHARED = 0.5
"""What the signs count for together: they look at the same pixels, so their sum says too much."""
SURE_MARGIN = 3.5
"""By how many nats the signs at the joint must outweigh those anywhere else, `NEAR` apart. Single
leaves taken for pairs, which have no joint, stay below in nine cases of ten; the tenth is a flat
sawn leaf that is its own mirror image about the heart."""


@dataclass(frozen=True, slots=True)
class Joint:
    """The joint of an opened pair, as columns of the pair's flat picture."""

    top_px: float
    """In the first row."""
    bottom_px: float
    """In the last row."""
    margin: float
    """By how much the signs here outweigh those of any line elsewhere, nats; below 0 if they do
    not, and the joint rests on the pair's outline alone."""

    @property
    def is_sure(self) -> bool:
        """Tell whether the wood itself, not only the outline, shows where the joint is."""
        return self.margin >= SURE_MARGIN


def find_joint(pair: LeafImage) -> Joint:
    """Return where the joint runs: the line that most signs agree on, close to the middle.

    The signs are those of `vision.joint_signs.read_signs`; the line midway between the long edges
    says where to expect it, and decides where the wood shows nothing.
    """
    picture = shrink_pair(pair)
    middle = find_middle(picture)
    lines = list_candidates(middle)
    read = read_signs(picture, lines, width=middle.width)
    signs = SHARED * np.sum(list(read.values()), axis=0)
    total = signs + _expected(lines, middle)
    tilt, offset = np.unravel_index(int(np.argmax(total)), total.shape)
    far = np.abs(lines.offsets - lines.offsets[offset]) > 2 * NEAR * middle.width
    margin = float(signs[tilt, offset] - signs[:, far].max()) if far.any() else 0.0
    return _to_image(
        picture, middle, (int(lines.tilts[tilt]) / 2, int(lines.offsets[offset]) / 2), pair, margin
    )


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


def split_outline(
    points: NDArray[np.float64], joint: Joint, *, rows: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the parts of a closed outline left and right of the joint.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        x, y in pixels of the pair's flat picture.
    rows : int
        Of that picture.
    """
    slope = (joint.bottom_px - joint.top_px) / max(1, rows - 1)
    beyond = points[:, 0] - (joint.top_px + slope * points[:, 1])
    return _keep(points, -beyond), _keep(points, beyond)


def _keep(points: NDArray[np.float64], inside: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a polygon cut along the line where ``inside`` is 0 (Sutherland and Hodgman, 1974)."""
    after, inside_after = np.roll(points, -1, axis=0), np.roll(inside, -1)
    crosses = (inside > 0) != (inside_after > 0)
    share = np.where(crosses, inside / np.where(crosses, inside - inside_after, 1.0), 0.0)
    crossing = points + share[:, None] * (after - points)
    both = np.stack([points, crossing], axis=1).reshape(-1, 2)
    return np.asarray(both[np.stack([inside > 0, crosses], axis=1).ravel()])


def _expected(lines: Candidates, middle: Middle) -> NDArray[np.float64]:
    """Return how likely each line is by the outline alone, nats, shape (tilts, offsets)."""
    sd = 2 * np.hypot(WIDTH_SD * middle.width, middle.scatter)
    off = -(WIDTH_TAIL + 1) / 2 * np.log1p((lines.offsets / sd) ** 2 / WIDTH_TAIL)
    lean = -0.5 * (lines.tilts / (2 * TILT_SD * middle.width)) ** 2
    return np.asarray(lean[:, None] + off[None, :])


def _to_image(
    picture: PairPicture,
    middle: Middle,
    line: tuple[float, float],
    pair: LeafImage,
    margin: float,
) -> Joint:
    """Return a line of the small picture, columns of tilt and offset, in the pair's image."""
    tilt, offset = line
    reach = (ROWS - 1) / ROWS * BLOCKS / (BLOCKS - 1) / 2
    first, last = picture.rows
    at = [
        (end + offset + sign * reach * tilt + 0.5) * picture.step - 0.5
        for end, sign in ((middle.at_top, -1), (middle.at_bottom, 1))
    ]
    pitch = (last - first) / ROWS
    rows = np.array([0.5 * pitch - 0.5 + first, (ROWS - 0.5) * pitch - 0.5 + first])
    slope = (at[1] - at[0]) / (rows[1] - rows[0])
    return Joint(
        float(at[0] - slope * rows[0]),
        float(at[0] + slope * (pair.on_leaf.shape[0] - 1 - rows[0])),
        margin,
    )
