"""From the table's millimetres to the photograph and back, as the rails told them.

A plane seen by a pinhole is a projectivity; the lens then moves every point along the ray from its
axis, by the radial terms of Brown (1966): radius' = radius (1 + k1 radius^2 + k2 radius^4).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vision.errors import RailsUnfit
from vision.readings import MarkerMiss

NEWTON_STEPS = 8
"""Steps in which the radial terms are undone; four give 1e-6 px with a telephone's lens."""
LEAST_SPANNED = 0.7
"""Share of a leaf's length beside which both rails must show markers."""


@dataclass(frozen=True, slots=True)
class RightRail:
    """How the right rail lies: the left one is the table's y axis."""

    gap_top_mm: float
    """Centre line to centre line, at the first markers."""
    gap_bottom_mm: float
    """The same at the last markers."""
    shift_mm: float
    """How much further along the table its first marker lies than the left rail's."""
    length_mm: float
    """First marker to last."""
    covariance: tuple[tuple[float, float, float], ...] = ()
    """Of the two gaps and the shift, mm squared, where a fit has told them."""

    def place(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return table mm of points of the rail (n, 2): across from its centre line, along it."""
        lean = (self.gap_bottom_mm - self.gap_top_mm) / self.length_mm
        along = np.array([lean, np.sqrt(1 - lean**2)])
        across = np.array([along[1], -along[0]])
        start = np.array([self.gap_top_mm, self.shift_mm])
        return np.asarray(start + points_mm[:, :1] * across + points_mm[:, 1:] * along)


@dataclass(frozen=True, slots=True)
class TableTrust:
    """How far millimetres on the table may be off: one standard deviation, as fractions."""

    along: float
    across: float
    focal: float
    """Of the camera's height above the table, with which thickness is allowed for."""


@dataclass(frozen=True, slots=True, eq=False)
class TableMap:
    """Where every point of the table lies in one photograph.

    Parameters
    ----------
    plane : ndarray, shape (3, 3)
        Table mm (x, y, 1) to homogeneous places, in `unit_px` from the lens's axis, lens undone.
    upright : ndarray, shape (3,)
        What a millimetre of height adds to them.
    radial : tuple of float
        k1 and k2, radius in `unit_px`.
    axis_px : ndarray, shape (2,)
        Where the lens's axis meets the picture, photo pixels.
    unit_px : float
        Half the picture's diagonal.
    eye_mm : ndarray, shape (3,)
        The camera: table mm across, along and up.
    right_rail : RightRail
    scales : tuple of float
        What the tape made of a designed millimetre of the left and of the right rail.
    span_mm : tuple of float
        Least and greatest y between which both rails show markers.
    trust : TableTrust
    misses : tuple of MarkerMiss
    rms_mm : float
        Root mean square of the misses, every marker counted.
    is_by_tape : bool
        Whether the rails' lengths were taken by tape.
    holder : ndarray of shape (3, 3) or None
        Holder mm to the same places as ``plane``, if the chart holder is in view.
    """

    plane: NDArray[np.float64]
    upright: NDArray[np.float64]
    radial: tuple[float, float]
    axis_px: NDArray[np.float64]
    unit_px: float
    eye_mm: NDArray[np.float64]
    right_rail: RightRail
    scales: tuple[float, float]
    span_mm: tuple[float, float]
    trust: TableTrust
    misses: tuple[MarkerMiss, ...]
    rms_mm: float
    is_by_tape: bool
    holder: NDArray[np.float64] | None = None

    def to_px(self, points_mm: NDArray[np.float64], height_mm: float = 0.0) -> NDArray[np.float64]:
        """Return photo pixels (n, 2) of table points (n, 2), so high above the rails' face."""
        return self._onto_picture(project(self._plane_at(height_mm), points_mm))

    def to_mm(self, points_px: NDArray[np.float64], height_mm: float = 0.0) -> NDArray[np.float64]:
        """Return table points (n, 2), so high above the rails' face, seen at photo pixels."""
        seen = (np.asarray(points_px, dtype=np.float64) - self.axis_px) / self.unit_px
        straight = undo_radial(seen, self.radial)
        back = np.asarray(np.linalg.inv(self._plane_at(height_mm)), dtype=np.float64)
        return project(back, straight)

    def holder_to_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return photo pixels (n, 2) of points of the chart holder (n, 2), holder mm.

        Raises
        ------
        RailsUnfit
            If the holder is not in view.
        """
        if self.holder is None:
            raise RailsUnfit(
                "The four markers of the chart holder were not all found. Lay the holder flat, "
                "with nothing over its markers."
            )
        return self._onto_picture(project(self.holder, points_mm))

    def rail_to_mm(
        self, rail: Literal["left", "right"], points_mm: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return table mm of points of a rail as designed: from its centre line and first marker.

        Tape and fit are both in it: the rail's true length, and how the right rail really lies.
        """
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        if rail == "left":
            return points * self.scales[0]
        return self.right_rail.place(points * self.scales[1])

    def px_per_mm_at(self, point_mm: tuple[float, float], height_mm: float = 0.0) -> float:
        """Return photo pixels to a millimetre at a place: the root of the ratio of areas."""
        x, y = point_mm
        around = np.array([[x - 1, y], [x + 1, y], [x, y - 1], [x, y + 1]])
        left, right, above, below = self.to_px(around, height_mm)
        across, along = (right - left) / 2, (below - above) / 2
        return float(np.sqrt(abs(across[0] * along[1] - across[1] * along[0])))

    def check_spans(self, low_mm: float, high_mm: float) -> None:
        """Refuse a leaf, lying from ``low_mm`` to ``high_mm`` along, that the rails do not flank.

        Raises
        ------
        RailsUnfit
            If both rails show markers along less than `LEAST_SPANNED` of it.
        """
        beside = min(high_mm, self.span_mm[1]) - max(low_mm, self.span_mm[0])
        share = max(0.0, beside) / (high_mm - low_mm)
        if share < LEAST_SPANNED:
            raise RailsUnfit(
                f"Markers of both rails stand along {share:.0%} of the leaf's length; "
                f"{LEAST_SPANNED:.0%} is needed. Lay the rails along the whole leaf and keep their "
                "markers free and in view."
            )

    def _plane_at(self, height_mm: float) -> NDArray[np.float64]:
        plane = self.plane.copy()
        plane[:, 2] += height_mm * self.upright
        return plane

    def _onto_picture(self, straight: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(apply_radial(straight, self.radial) * self.unit_px + self.axis_px)


def project(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return points (n, 2) moved by a projectivity."""
    seen = np.asarray(points, dtype=np.float64) @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(seen[:, :2] / seen[:, 2:])


def apply_radial(points: NDArray[np.float64], radial: tuple[float, float]) -> NDArray[np.float64]:
    """Return points (n, 2), from the axis, as the lens moves them."""
    square = (points**2).sum(axis=1, keepdims=True)
    return np.asarray(points * (1 + square * (radial[0] + square * radial[1])))


def undo_radial(points: NDArray[np.float64], radial: tuple[float, float]) -> NDArray[np.float64]:
    """Return where the points (n, 2) were before the lens moved them (Newton's method)."""
    seen = np.sqrt((points**2).sum(axis=1, keepdims=True))
    k1, k2 = radial
    true = seen.copy()
    for _ in range(NEWTON_STEPS):
        square = true**2
        off = true * (1 + square * (k1 + square * k2)) - seen
        true -= off / np.maximum(1 + square * (3 * k1 + 5 * square * k2), 0.2)
        # Far outside the picture the terms may have no inverse; nothing there is asked for.
        true = np.clip(true, 0.0, 3 * seen)
    return np.asarray(points * (true / np.maximum(seen, 1e-12)))


def stand_of_camera(
    plane: NDArray[np.float64], focal: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return what a millimetre of height adds to homogeneous places, and where the camera stands.

    The plane's first two columns are the camera matrix times two directions at right angles
    (Zhang 2000); the third direction, up, is their cross product turned round.
    """
    camera = np.diag([focal, focal, 1.0])
    seen = np.linalg.inv(camera) @ plane
    if seen[2, 2] < 0:
        seen = -seen
    scale = float(np.sqrt(np.linalg.norm(seen[:, 0]) * np.linalg.norm(seen[:, 1])))
    up = -np.cross(seen[:, 0], seen[:, 1]) / scale
    eye = -np.linalg.solve(np.column_stack([seen[:, 0], seen[:, 1], up]), seen[:, 2])
    return np.asarray(camera @ up * np.sign(plane[2, 2])), np.asarray(eye)
