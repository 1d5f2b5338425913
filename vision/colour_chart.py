"""A chart of 24 patches in a photograph: where it lies, and the light of each patch.

Its place comes from the markers of its holder, else from OpenCV's chart finder. Patches that are
burnt out, lost in the dark or uneven (a reflection, an edge of shadow) are told, not mended.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import shrink
from vision.chart_references import COLUMNS, NEUTRALS, PATCHES, ROWS
from vision.patch_light import faults_of, sample_patches, trimmed_light, trimmed_mean

INNER = 0.48
"""Side of what is read, as a share of the way from patch to patch: the inner 60 % of a patch that
takes up four fifths of it."""
SMALL_PX = 20.0
"""Patches narrower than this are coloured by their neighbours in most JPEGs (4:2:0)."""
FIND_LONG_PX = 1400
"""Long side, px, at which the chart is looked for."""


@dataclass(frozen=True, slots=True, eq=False)
class ChartReading:
    """What was read of a chart.

    Parameters
    ----------
    samples : ndarray of uint8, shape (24, n, 3)
        Encoded R, G, B within each patch, the dark skin first.
    centres_px : ndarray, shape (24, 2)
        Where the patches lie, full-size photo pixels.
    side_px : float
        Width of a patch, taken as four fifths of the way from one to the next.
    dropped : tuple of str
        Why a patch cannot be used (``clipped``, ``dark``, ``uneven``), or empty; 24 of them.
    by_holder : bool
        The place comes from the holder's markers.
    """

    samples: NDArray[np.uint8]
    centres_px: NDArray[np.float64]
    side_px: float
    dropped: tuple[str, ...]
    by_holder: bool

    @property
    def is_small(self) -> bool:
        """Tell whether the patches are too narrow for a JPEG's colours."""
        return self.side_px < SMALL_PX

    @property
    def used(self) -> NDArray[np.bool_]:
        """The patches that can be used."""
        return np.array([not why for why in self.dropped])

    def levels(self) -> NDArray[np.float64]:
        """Return the trimmed mean of each patch's encoded levels, shape (24, 3)."""
        return trimmed_mean(self.samples)

    def light(self, decode: NDArray[np.float32]) -> NDArray[np.float64]:
        """Return the trimmed mean of each patch's linear light, shape (24, 3)."""
        return trimmed_light(self.samples, decode)

    def turned(self) -> ChartReading:
        """Return the same chart read from its other end."""
        return replace(
            self,
            samples=self.samples[::-1],
            centres_px=self.centres_px[::-1],
            dropped=self.dropped[::-1],
        )


def read_by_holder(
    rgb: NDArray[np.uint8],
    holder_to_px: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    patch_centres_mm: NDArray[np.floating],
    *,
    lab: NDArray[np.float64],
) -> ChartReading | None:
    """Return the chart in its holder, whichever way round it was put in; None if cut by the frame.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        Full size.
    holder_to_px : callable
        From holder mm, shape (n, 2), to photo pixels.
    patch_centres_mm : ndarray, shape (24, 2)
        The holder's, row by row.
    lab : ndarray, shape (24, 3)
        What the patches are known to be: tells which end is up.
    """
    centres = np.asarray(holder_to_px(np.asarray(patch_centres_mm, dtype=np.float64)))
    reading = _read_patches(rgb, centres, by_holder=True)
    return None if reading is None else _right_way_up(reading, lab)


def find_chart(rgb: NDArray[np.uint8], *, lab: NDArray[np.float64]) -> ChartReading | None:
    """Return the chart wherever it lies in the picture, by OpenCV's chart finder; None without."""
    small, step = shrink(rgb, FIND_LONG_PX)
    quads = _finder(small)
    if quads is None:
        return None
    centres = (quads.mean(axis=1) + 0.5) * step - 0.5
    reading = _read_patches(rgb, centres, by_holder=False)
    return None if reading is None else _right_way_up(reading, lab)


def _finder(rgb: NDArray[np.uint8]) -> NDArray[np.float64] | None:
    """Return the patches' corners, shape (24, 4, 2), dark skin first: OpenCV 5's `cv2.mcc`.

    It wants B, G, R; its methods are named otherwise in OpenCV 4 (issue 29705 there).
    """
    detector = cv2.mcc.CCheckerDetector.create()
    detector.setColorChartType(cv2.mcc.MCC24)
    if not detector.process(np.ascontiguousarray(rgb[..., ::-1])):
        return None
    corners = np.asarray(detector.getBestColorChecker().getColorCharts(), dtype=np.float64)
    return corners.reshape(PATCHES, 4, 2) if corners.size == PATCHES * 8 else None


def _read_patches(
    rgb: NDArray[np.uint8], centres_px: NDArray[np.float64], *, by_holder: bool
) -> ChartReading | None:
    """Read each patch about its centre along the grid's own directions; None if cut off."""
    grid = centres_px.reshape(ROWS, COLUMNS, 2)
    across, down = (np.asarray(np.gradient(grid, axis=axis)) for axis in (1, 0))
    pitch = float(np.sqrt(np.abs(_area(across, down)).mean()))
    sides = [INNER * one.reshape(PATCHES, 2) for one in (across, down)]
    patches, inside = sample_patches(rgb, centres_px, *sides)
    if not inside.all():
        return None
    dropped = faults_of(patches)
    samples = patches.reshape(PATCHES, -1, 3)
    return ChartReading(samples, centres_px, 0.8 * pitch, dropped, by_holder)


def _area(across: NDArray[np.float64], down: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(across[..., 0] * down[..., 1] - across[..., 1] * down[..., 0])


def _right_way_up(reading: ChartReading, lab: NDArray[np.float64]) -> ChartReading:
    """Return the reading with the dark skin first: the order that lightness and hue agree with."""
    other = reading.turned()
    return min(reading, other, key=lambda one: _mismatch(one.levels(), lab))


def _mismatch(levels: NDArray[np.float64], lab: NDArray[np.float64]) -> float:
    """Return how badly encoded levels and known colours go together, after a straight-line fit.

    The neutrals set each channel's white first, so that a cast does not count.
    """
    even = levels / np.maximum(levels[NEUTRALS][:3].mean(axis=0), 1.0)
    seen = np.stack([even.mean(axis=1), even[:, 0] - even[:, 1], even[:, 1] - even[:, 2]], axis=1)
    known = np.column_stack([lab, np.ones(len(lab))])
    guess, *_ = np.linalg.lstsq(known, seen, rcond=None)
    return float(np.mean((known @ guess - seen) ** 2))
