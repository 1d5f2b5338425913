"""Where lamp and eye stood, read from the light on the bare board.

The board is matt, so its light falls with the cosine and the square of the distance to the lamp,
and toward the corners with the lens; a point lamp is fitted to that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.board import LightField
from vision.table_map import TableMap

FILM_DIAGONAL_MM = 43.27
"""Diagonal of a 24 x 36 mm frame, to which "35 mm equivalent" focal lengths refer."""
USUAL_FOCAL_MM = 30.0
"""Taken where the file does not tell: between a telephone's and a camera's usual lens."""
ROUNDS, SETTLED = 60, 1e-6
"""Rounds of the fit at most, and the step, as a share of the picture, that ends it."""
Doubles = NDArray[np.float64]
GRID = (11, 17)
"""Places across and along at which the fitted light is asked."""


@dataclass(frozen=True, slots=True)
class Station:
    """Lamp and eye above the board, from the point under the eye.

    In photo pixels: x runs right, y down the picture, height toward the camera, and the eye is
    straight above the middle of the picture. Where the table is known, in its millimetres.
    """

    lamp: tuple[float, float]
    lamp_height: float
    eye_height: float


def find_station(
    field: LightField, *, focal_35mm: float | None, table: TableMap | None = None
) -> Station:
    """Return where the lamp stood that lit the board so, and the eye.

    Parameters
    ----------
    field : LightField
        The light on the board.
    focal_35mm : float or None
        The lens's focal length in 35 mm terms, from the file; it gives the eye's height.
    table : TableMap or None
        Where the rails say that the table and the camera are.
    """
    width, height = field.size_px
    x, y = np.meshgrid(
        np.linspace(0.06, 0.94, GRID[0]) * width, np.linspace(0.06, 0.94, GRID[1]) * height
    )
    log_light = np.log(field.at(x, y).astype(np.float64)).mean(axis=2)
    if table is None:
        focal_px = (
            (focal_35mm or USUAL_FOCAL_MM) / FILM_DIAGONAL_MM * float(np.hypot(width, height))
        )
        long, eye_height = float(max(width, height)), focal_px
        u, v = (x - (width - 1) / 2) / long, (y - (height - 1) / 2) / long
        corner = np.log1p((u**2 + v**2) * (long / focal_px) ** 2)
    else:
        eye_height, long = float(table.eye_mm[2]), float(table.eye_mm[2])
        places = table.to_mm(np.stack([x, y], axis=-1).reshape(-1, 2)) - table.eye_mm[:2]
        u, v = (places / long).T.reshape(2, *x.shape)
        corner = np.log1p(u**2 + v**2)

    def miss(lamp: Doubles) -> tuple[Doubles, Doubles]:
        across, along, log_height, falling, level = lamp
        to_x, to_y, height2 = u - across, v - along, np.exp(2 * log_height)
        distance2 = to_x**2 + to_y**2 + height2
        off = level - 1.5 * np.log(distance2) - falling * corner - log_light
        held = [(falling - 1.2) / 0.8 * 0.02, across / 0.5 * 0.01, (log_height + 0.4) / 0.6 * 0.01]
        slopes = [3 * to_x / distance2, 3 * to_y / distance2, -3 * height2 / distance2]
        slopes += [-corner, np.ones_like(corner)]
        holds = np.zeros((5, 3))
        holds[[3, 0, 2], [0, 1, 2]] = 0.02 / 0.8, 0.01 / 0.5, 0.01 / 0.6
        columns = [np.append(one.ravel(), hold) for one, hold in zip(slopes, holds, strict=True)]
        return np.append(off.ravel(), held), np.stack(columns, axis=1)

    side = 1.0 if log_light[-4:].mean() > log_light[:4].mean() else -1.0
    start = np.array([0.0, side * 0.6, -0.4, 1.2, float(log_light.mean())])
    found = _least_squares(miss, start)
    return Station(
        lamp=(float(found[0] * long), float(found[1] * long)),
        lamp_height=float(np.exp(found[2]) * long),
        eye_height=eye_height,
    )


def _least_squares(miss: Callable[[Doubles], tuple[Doubles, Doubles]], start: Doubles) -> Doubles:
    """Return what makes the squares of the misses least (Levenberg and Marquardt).

    ``miss`` returns the misses and their slopes. For five unknowns the library's own takes longer
    over its book-keeping than over the arithmetic.
    """
    values, damping = start, 1e-3
    off, slopes = miss(values)
    for _ in range(ROUNDS):
        normal, down = slopes.T @ slopes, slopes.T @ off
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), down)
        tried, tried_slopes = miss(values - step)
        if tried @ tried > off @ off:
            damping *= 10
            continue
        is_settled = float(np.abs(step).max()) < SETTLED
        values, off, slopes = values - step, tried, tried_slopes
        damping = max(damping / 10, 1e-9)
        if is_settled:
            break
    return values
