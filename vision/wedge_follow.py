"""Follow the figure under a wedge from leaf to leaf, so that every wedge is cut from the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.wedge import Wedge

Floats = NDArray[np.float32]

WORKING_PX_PER_MM = 0.5
"""Figure a few millimetres wide tells the place to a fraction of a millimetre; finer lines of one
leaf are not those of the next."""
COARSE_MM = 40.0
"""Light and colour that change over more than this say nothing of the place."""
SLIP_ALONG_MM, SLIP_ACROSS_MM = 80.0, 20.0
"""How far the figure of one leaf may lie from that of the leaf before: leaves slip in the stack
along the grain, and are trimmed a little differently across."""
SURE_LIKENESS = 0.5
"""Correlation from which the figure is taken as found again."""
LEAST_PX = 4
"""A wedge of fewer pixels either way, at working size, shows no figure."""
LEAST_CONTRAST = 1e-4
"""Standard deviation of lightness, 0 to 1, below which there is nothing to follow."""


@dataclass(frozen=True, slots=True)
class Followed:
    """Where the figure of the wedge lies on one leaf, against the first leaf."""

    along_mm: float
    """Down the leaf positive."""
    across_mm: float
    """To the right positive."""
    likeness: float
    """Correlation with the leaf before, -1 to 1; 1 for the first leaf."""

    @property
    def is_sure(self) -> bool:
        """Whether the figure was found again."""
        return self.likeness >= SURE_LIKENESS


def follow_wedge(
    lightness: Sequence[Floats], wedge: Wedge, *, px_per_mm: float
) -> tuple[Followed, ...]:
    """Return where the figure under a wedge lies on each leaf of a run.

    Each leaf is compared with the one before it, for figure wanders through a flitch and the
    first and the last leaf of a long run need not look alike any more. Where nothing is like
    it, the place found last is kept, and `Followed.is_sure` says no.

    Parameters
    ----------
    lightness : sequence of ndarray of float32, shape (rows, columns)
        Leaves as they lie, in order, in any one unit; NaN beside a leaf. Rows run along the leaf.
    wedge : Wedge
        On the first leaf.
    px_per_mm : float
        Pixels of these pictures per millimetre.
    """
    scale = min(1.0, WORKING_PX_PER_MM / px_per_mm)
    working = px_per_mm * scale
    small = [_figure(leaf, scale, sigma_px=COARSE_MM / 2 * working) for leaf in lightness]
    found = [Followed(0.0, 0.0, 1.0)]
    for before, after in pairwise(small):
        found.append(_next(before, after, wedge, found[-1], px_per_mm=working))
    return tuple(found[: len(lightness)])


def _figure(leaf: Floats, scale: float, *, sigma_px: float) -> Floats:
    """Return the figure alone: coarse light taken out, zero beside the leaf, at working size."""
    here = np.isfinite(leaf).astype(np.float32)
    light = np.where(here > 0, leaf, np.float32(0))
    if scale < 1.0:
        size = (max(1, round(leaf.shape[1] * scale)), max(1, round(leaf.shape[0] * scale)))
        light = cv2.resize(light, size, interpolation=cv2.INTER_AREA).astype(np.float32)
        here = cv2.resize(here, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    coarse = cv2.GaussianBlur(light, (0, 0), sigma_px)
    share = cv2.GaussianBlur(here, (0, 0), sigma_px)
    whole = here > 0.99
    mean = light / np.maximum(here, 1e-6) - coarse / np.maximum(share, 1e-6)
    return np.where(whole, mean, 0.0).astype(np.float32)


def _next(
    before: Floats, after: Floats, wedge: Wedge, last: Followed, *, px_per_mm: float
) -> Followed:
    cut = _cut_out(before, (wedge.corners_mm() + [last.across_mm, last.along_mm]) * px_per_mm)
    if cut is None:
        return Followed(last.along_mm, last.across_mm, 0.0)
    patch, mask, (left, top) = cut
    along, across = (round(mm * px_per_mm) for mm in (SLIP_ALONG_MM, SLIP_ACROSS_MM))
    wide = cv2.copyMakeBorder(after, along, along, across, across, cv2.BORDER_CONSTANT, value=0)
    rows, columns = patch.shape
    search = wide[top : top + rows + 2 * along, left : left + columns + 2 * across]
    if search.shape[0] < rows or search.shape[1] < columns:
        return Followed(last.along_mm, last.across_mm, 0.0)
    likeness = _likeness(np.asarray(search, np.float32), patch, mask)
    row, column = (int(at) for at in np.unravel_index(int(likeness.argmax()), likeness.shape))
    peak = float(likeness[row, column])
    if peak < SURE_LIKENESS:
        return Followed(last.along_mm, last.across_mm, peak)
    down = row + _peak_between(likeness[:, column], row) - along
    side = column + _peak_between(likeness[row], column) - across
    return Followed(
        last.along_mm + down / px_per_mm, last.across_mm + side / px_per_mm, min(1.0, peak)
    )


def _cut_out(
    figure: Floats, corners_px: NDArray[np.float64]
) -> tuple[Floats, Floats, tuple[int, int]] | None:
    """Return the figure round a wedge, 1 where it is wedge and wood, and its top left corner.

    None where too little of the wedge lies on the leaf, or there is nothing to see in it.
    """
    left, top = np.maximum(np.floor(corners_px.min(axis=0)).astype(int), 0)
    right, bottom = np.minimum(np.ceil(corners_px.max(axis=0)).astype(int), figure.shape[::-1])
    if right - left < LEAST_PX or bottom - top < LEAST_PX:
        return None
    patch = figure[top:bottom, left:right]
    mask = np.zeros(patch.shape, np.float32)
    cv2.fillConvexPoly(mask, np.rint(corners_px - [left, top]).astype(np.int32), 1.0)
    mask *= patch != 0
    if mask.sum() < LEAST_PX**2 or patch[mask > 0].std() < LEAST_CONTRAST:
        return None
    return patch, mask, (int(left), int(top))


def _likeness(search: Floats, patch: Floats, mask: Floats) -> Floats:
    """Return the correlation of the patch, within its mask, with every place of the search.

    Sums over the mask by `cv2.matchTemplate`; a place that is half beside the leaf is no match.
    """
    count = float(mask.sum())
    inside = (patch - float(patch[mask > 0].mean())) * mask
    present = (search != 0).astype(np.float32)
    product = cv2.matchTemplate(search, inside, cv2.TM_CCORR)
    total = cv2.matchTemplate(search, mask, cv2.TM_CCORR)
    square = cv2.matchTemplate(search * search, mask, cv2.TM_CCORR)
    covered = cv2.matchTemplate(present, mask, cv2.TM_CCORR) / count
    spread = np.maximum(square - total * total / count, 1e-12)
    found = product / np.sqrt(spread * float((inside * inside).sum()))
    return np.where(covered > 0.9, found, -1.0).astype(np.float32)


def _peak_between(line: Floats, at: int) -> float:
    """Return by how much the top of a parabola through three neighbours lies off the middle."""
    if at in (0, len(line) - 1):
        return 0.0
    low, mid, high = (float(line[at + step]) for step in (-1, 0, 1))
    bend = low - 2 * mid + high
    return 0.0 if bend >= -1e-12 else float(np.clip((low - high) / (2 * bend), -0.5, 0.5))
