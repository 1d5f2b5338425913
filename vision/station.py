"""Where lamp and eye stood, read from the light on the bare board.

The board is matt, so its light falls with the cosine and the square of the distance to the lamp,
and toward the corners with the lens; a point lamp is fitted to that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from vision.board import LightField

FILM_DIAGONAL_MM = 43.27
"""Diagonal of a 24 x 36 mm frame, to which "35 mm equivalent" focal lengths refer."""
USUAL_FOCAL_MM = 30.0
"""Taken where the file does not tell: between a telephone's and a camera's usual lens."""
GRID = (11, 17)
"""Places across and along at which the fitted light is asked."""


@dataclass(frozen=True, slots=True)
class Station:
    """Lamp and eye above the board, in photo pixels from the point under the eye.

    x runs right, y down the picture, height toward the camera. The eye is straight above the
    middle of the picture.
    """

    lamp_px: tuple[float, float]
    lamp_height_px: float
    eye_height_px: float


def find_station(field: LightField, *, focal_35mm: float | None) -> Station:
    """Return where the lamp stood that lit the board so, and the eye.

    Parameters
    ----------
    field : LightField
        The light on the board.
    focal_35mm : float or None
        The lens's focal length in 35 mm terms, from the file; it gives the eye's height.
    """
    width, height = field.size_px
    focal_px = (focal_35mm or USUAL_FOCAL_MM) / FILM_DIAGONAL_MM * float(np.hypot(width, height))
    x, y = np.meshgrid(
        np.linspace(0.06, 0.94, GRID[0]) * width, np.linspace(0.06, 0.94, GRID[1]) * height
    )
    log_light = np.log(field.at(x, y).astype(np.float64)).mean(axis=2)
    long_px = float(max(width, height))
    u, v = (x - (width - 1) / 2) / long_px, (y - (height - 1) / 2) / long_px
    corner = np.log1p((u**2 + v**2) * (long_px / focal_px) ** 2)

    def miss(lamp: NDArray[np.float64]) -> NDArray[np.float64]:
        across, along, log_height, falling, level = lamp
        distance2 = (u - across) ** 2 + (v - along) ** 2 + np.exp(2 * log_height)
        off = level - 1.5 * np.log(distance2) - falling * corner - log_light
        held = [(falling - 1.2) / 0.8 * 0.02, across / 0.5 * 0.01, (log_height + 0.4) / 0.6 * 0.01]
        return np.concatenate([off.ravel(), held])

    side = 1.0 if log_light[-4:].mean() > log_light[:4].mean() else -1.0
    found = least_squares(miss, [0.0, side * 0.6, -0.4, 1.2, float(log_light.mean())]).x
    return Station(
        lamp_px=(float(found[0] * long_px), float(found[1] * long_px)),
        lamp_height_px=float(np.exp(found[2]) * long_px),
        eye_height_px=focal_px,
    )
