"""The wood beside the edges of two leaves that meet, and how far apart it is along two lines.

A cut is five numbers here: depth and slope of the left line, depth and slope of the right line,
and the slip of the right leaf; depths in millimetres at the middle of the length, slopes as
tangents, positive where the cut gets deeper downwards.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from vision.errors import MatchNotPossible
from vision.joint_cut import JointLimits

Doubles = NDArray[np.float64]

ACROSS_MM = 0.5
ALONG_MM = 2.0
"""Grid on which the edges are compared."""
DEPTHS_MM = (1.0, 3.0, 6.0, 10.0, 15.0, 21.0)
"""How far inside the line the compared strips lie in a mirrored match; else the first alone."""
HALF_WEIGHT_MM = 2.0
"""A strip so deep weighs half of what it would at the line itself."""
STRIP_MM = 2.0
LEAST_LENGTH_MM = 100.0


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """The wood beside a joint edge, mean 0 and deviation 1: rows along, columns inward."""

    grid: Doubles

    @property
    def rows(self) -> int:
        """How many rows of `ALONG_MM` it has."""
        return int(self.grid.shape[0])

    def strip(self, line: tuple[float, float], inside_mm: float, rows: Doubles) -> Doubles:
        """Return lightness along a line (depth, slope), so far inside it, at some rows."""
        depth_mm, slope = line
        middle = (self.rows - 1) / 2
        across = depth_mm + inside_mm + slope * (rows - middle) * ALONG_MM
        places = np.vstack([rows, across / ACROSS_MM - 0.5])
        return np.asarray(map_coordinates(self.grid, places, order=1, mode="nearest"))


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """Two edges to be cut, how deep inside they are compared, and what may be cut off."""

    left: Edge
    right: Edge
    depths_mm: tuple[float, ...]
    limits: JointLimits

    @property
    def half_mm(self) -> float:
        """Half of the length that both share."""
        return self.left.rows * ALONG_MM / 2

    @property
    def weights(self) -> Doubles:
        """How much each strip counts, 1 together: most beside the line, where one looks."""
        raw = 1.0 / (1.0 + np.array(self.depths_mm) / HALF_WEIGHT_MM)
        return np.asarray(raw / raw.sum())

    def rows(self, step: int = 1) -> Doubles:
        """Return the rows of the left leaf that are compared whatever the slip."""
        slack = math.ceil(self.limits.most_slip_mm / ALONG_MM) + 1
        return np.arange(slack, self.left.rows - slack, step, dtype=np.float64)

    def differences(self, cut: Doubles, rows: Doubles) -> Doubles:
        """Return left less right, place by place, so weighed that the squares add up to `apart`."""
        slipped = rows + cut[4] / ALONG_MM
        left, right = (float(cut[0]), float(cut[1])), (float(cut[2]), float(cut[3]))
        apart = [
            math.sqrt(weight / (2.0 * rows.size))
            * (self.left.strip(left, inside, rows) - self.right.strip(right, inside, slipped))
            for inside, weight in zip(self.depths_mm, self.weights, strict=True)
        ]
        return np.concatenate(apart)

    def apart(self, cut: Doubles) -> float:
        """Return how far the strips beside two lines are apart: 0 alike, 1 as strangers."""
        return float(np.sum(self.differences(cut, self.rows()) ** 2))


def meeting_of(
    left: NDArray[np.floating],
    right: NDArray[np.floating],
    *,
    px_per_mm: float,
    mirrored: bool,
    limits: JointLimits,
) -> Meeting:
    """Return the wood beside the joint edges of two leaves, to the length of the shorter.

    Parameters
    ----------
    left, right : ndarray of float, shape (rows, columns)
        Lightness of each leaf as it lies in the match, cropped to its straightened edges, the top
        ends in line. The joint is at the right edge of ``left`` and the left edge of ``right``.
    px_per_mm : float
        Of both.
    mirrored : bool
        Whether one of the two is turned over (book), so that the figure mirrors at the joint.
    limits : JointLimits

    Raises
    ------
    MatchNotPossible
        If the leaves are too short or too narrow to compare, or nothing may be cut.
    """
    rows = min(left.shape[0], right.shape[0])
    length = rows / px_per_mm
    wide = limits.most_loss_mm + DEPTHS_MM[-1] + STRIP_MM
    narrowest = min(left.shape[1], right.shape[1]) / px_per_mm
    if length < LEAST_LENGTH_MM or narrowest < wide:
        raise MatchNotPossible(
            f"The leaves share {length:.0f} mm of length and are {narrowest:.0f} mm wide; a joint "
            f"needs {LEAST_LENGTH_MM:.0f} and {wide:.0f} mm. Allow less loss, or take other leaves."
        )
    if limits.most_loss_mm < 2 * limits.least_cut_mm:
        raise MatchNotPossible(
            f"{limits.most_loss_mm:g} mm may be lost at the joint, but each edge needs "
            f"{limits.least_cut_mm:g} mm to be shot. Allow more loss or a smaller cut."
        )
    columns = math.ceil(wide * px_per_mm)
    bands = (left[:rows, ::-1][:, :columns], right[:rows, :columns])
    size = (round(wide / ACROSS_MM), round(length / ALONG_MM))
    made = []
    for band in bands:
        picture = np.ascontiguousarray(band, dtype=np.float64)
        grid = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        grid = cv2.blur(grid, (max(1, round(STRIP_MM / ACROSS_MM)), 1))
        made.append(Edge((grid - grid.mean()) / max(float(grid.std()), 1e-6)))
    return Meeting(made[0], made[1], DEPTHS_MM if mirrored else DEPTHS_MM[:1], limits)
