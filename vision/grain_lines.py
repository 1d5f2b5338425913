"""How far apart the grain lines lie."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from vision.figure_patches import Patches

LINE_RUN_MM = 20.0
"""Lines are averaged over this much of their length: noise falls, bends stay."""
MOST_RUNS = 4
"""Profiles a patch."""
LEAST_PITCH_PX = 3.0
"""Closer lines run together in the picture; up to 4 px apart some do, and the pitch reads high."""
LINE_DEPTH = 0.5
"""A line is at least this share of the profile's standard deviation deep."""
LEAST_DEPTH = 0.05
"""L*; rounding makes fainter ones."""
TREND_MM = 20.0
"""Slower changes of tone across the leaf are not lines."""


def measure_line_pitch(patches: Patches, *, grain_angle_deg: float) -> float | None:
    """Return the mean distance between grain lines, mm, measured across the grain.

    Dark lines are counted on profiles across the grain; a line counts if it stands out from its
    neighbourhood by three times the noise and by half the spread of the profile.

    Returns
    -------
    float or None
        None where no line stands out, or they lie closer than `LEAST_PITCH_PX`.
    """
    scale = patches.px_per_mm
    half_run = max(2, round(LINE_RUN_MM * scale / 2))
    width = lines = 0.0
    for patch in patches.lightness:
        level = _along_columns(patch, grain_angle_deg)
        runs = min(MOST_RUNS, level.shape[0] // (2 * half_run))
        pairs = level[: 2 * half_run * runs].reshape(runs, half_run, 2, -1).mean(axis=1)
        for even, odd in pairs:
            count, distance = _count_lines(even, odd, scale)
            lines += count
            width += distance
    if lines < 2 or width / lines < LEAST_PITCH_PX:
        return None
    return width / lines / scale


def _along_columns(patch: NDArray[np.float32], angle_deg: float) -> NDArray[np.float32]:
    """Return the largest centred part of a patch turned so that the grain runs down the columns."""
    rows, columns = patch.shape
    turn = cv2.getRotationMatrix2D(((columns - 1) / 2, (rows - 1) / 2), angle_deg, 1.0)
    level = cv2.warpAffine(patch, turn, (columns, rows), flags=cv2.INTER_LINEAR)
    sine, cosine = abs(np.sin(np.radians(angle_deg))), abs(np.cos(np.radians(angle_deg)))
    share = min(rows / (rows * cosine + columns * sine), columns / (columns * cosine + rows * sine))
    keep_rows, keep_columns = int(rows * share), int(columns * share)
    top, left = (rows - keep_rows) // 2, (columns - keep_columns) // 2
    return np.asarray(level[top : top + keep_rows, left : left + keep_columns], dtype=np.float32)


def _count_lines(
    even: NDArray[np.float32], odd: NDArray[np.float32], scale: float
) -> tuple[int, float]:
    """Return intervals between dark lines, and the px they span together.

    The two profiles are of every other row of one run: what they differ by is noise.
    """
    profile = (even + odd) / 2
    noise = float(np.std(even - odd)) / 2
    box = max(3, round(TREND_MM * scale))
    profile = profile - cv2.blur(profile[None], (box, 1), borderType=cv2.BORDER_REFLECT)[0]
    stands_out = max(3 * noise, LINE_DEPTH * float(np.std(profile)), LEAST_DEPTH)
    lines, _ = find_peaks(-profile, prominence=stands_out)
    if len(lines) < 2:
        return 0, 0.0
    return len(lines) - 1, float(lines[-1] - lines[0])
