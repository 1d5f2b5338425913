"""The light on the board, drawn as a map: bands with numbers, not shades alone."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.measure import find_contours

from catalog.set_paper import ACCENT, INK, PALE, RULE
from catalog.sheet_pen import Pen, Place
from vision.match_render import PAPER
from vision.readings import PhotoReading

FINE_PX = 240
"""Long side of the smooth field in which the contours are sought."""
APART_PX = 46.0
"""Numbers on the map stay so far apart, if they can."""
LIGHTEST = np.array([253.0, 246.0, 226.0])
DARKEST = np.array([121.0, 101.0, 82.0])
STEPS = (0.02, 0.05, 0.10, 0.20)
MOST_LINES = 6
_ALONG = (0.5, 0.36, 0.64, 0.22, 0.78, 0.1, 0.9)


def draw_light_map(
    pen: Pen, at: Place, reading: PhotoReading, *, width: int, most_height: int
) -> float:
    """Draw the map of a photograph, or say that there is none; return where that ends."""
    x, y = at
    rows = () if reading.quality is None else reading.quality.light_map
    wide = pen.words((x, y), "Light on the board", size=22, bold=True, colour=ACCENT)
    if not rows:
        words = "The light on the board was not kept with this photograph's reading."
        return pen.paragraph((x, y + 36), words, width=width, size=17)
    field = _smooth(np.array(rows, dtype=np.float32), reading)
    low = float(field.min())
    pen.words((x + wide + 14, y), f"{100 * low:.0f} to 100 %", size=22, bold=True)
    scale = min(width / reading.width_px, most_height / reading.height_px)
    size = (round(reading.width_px * scale), round(reading.height_px * scale))
    corner = (x, y + 40)
    levels = band_limits(low)
    pen.picture(_banded(field, levels), corner, size)
    for leaf in reading.leaves:
        if len(leaf.outline) > 2:
            line = [
                (corner[0] + (px + 0.5) * scale, corner[1] + (py + 0.5) * scale)
                for px, py in (*leaf.outline, leaf.outline[0])
            ]
            pen.line(line, colour=PAPER, thick=1.5)
    _draw_contours(pen, field, levels, corner=corner, size=size)
    pen.box(corner, size, edge=RULE)
    words = (
        "Numbers: per cent of the light at the brightest place. Pale line: the leaf. Fall-off is "
        "taken out of the figures; the darker the place, the less sure they are."
    )
    beside = x + size[0] + 22
    if width - size[0] > 190:
        room = width - size[0] - 22
        pen.paragraph((beside, corner[1]), words, width=room, size=16, colour=PALE)
        return corner[1] + size[1]
    return pen.paragraph((x, corner[1] + size[1] + 12), words, width=width, size=16, colour=PALE)


def band_limits(low: float) -> tuple[float, ...]:
    """Return where bands of light end, as shares of the brightest, brightest first.

    Examples
    --------
    >>> band_limits(0.62)
    (0.9, 0.8, 0.7)
    >>> band_limits(0.96)
    (0.98,)
    """
    step = next((one for one in STEPS if (1 - low) / one <= MOST_LINES), STEPS[-1])
    count = math.ceil((1 - low) / step - 1e-6)
    return tuple(round(1 - step * index, 2) for index in range(1, count))


def _smooth(grid: NDArray[np.float32], reading: PhotoReading) -> NDArray[np.float32]:
    """Return the coarse grid as a smooth field of the photograph's shape, 1 where brightest."""
    scale = FINE_PX / max(reading.width_px, reading.height_px)
    size = (max(2, round(reading.width_px * scale)), max(2, round(reading.height_px * scale)))
    field = cv2.resize(grid, size, interpolation=cv2.INTER_CUBIC)
    field = cv2.GaussianBlur(field, (0, 0), 2.0)
    return np.asarray(np.clip(field / max(float(field.max()), 1e-6), 0, 1), dtype=np.float32)


def _banded(field: NDArray[np.float32], levels: tuple[float, ...]) -> NDArray[np.uint8]:
    """Return the field in flat shades, one for each band."""
    large = cv2.resize(field, None, fx=6, fy=6, interpolation=cv2.INTER_CUBIC)
    band = sum((large < level).astype(np.float32) for level in levels) + np.zeros_like(large)
    share = (band / max(1, len(levels)))[..., None]
    return np.asarray(LIGHTEST + (DARKEST - LIGHTEST) * share, dtype=np.uint8)


def _draw_contours(
    pen: Pen,
    field: NDArray[np.float32],
    levels: tuple[float, ...],
    *,
    corner: Place,
    size: tuple[int, int],
) -> None:
    rows, columns = field.shape
    taken: list[Place] = []
    numbers: list[tuple[Place, str]] = []
    for level in levels:
        lines: list[NDArray[np.float64]] = find_contours(field, level)  # type: ignore[no-untyped-call]
        for line in lines:
            places = [
                (
                    corner[0] + (column + 0.5) * size[0] / columns,
                    corner[1] + (row + 0.5) * size[1] / rows,
                )
                for row, column in line
            ]
            pen.line(places, colour=INK, thick=1.0)
            if len(places) > 20:
                where = _free_place(places, taken)
                taken.append(where)
                numbers.append((where, f"{100 * level:.0f}"))
    for where, number in numbers:
        pen.words(where, number, size=16, bold=True, anchor="mm", halo=True)
    row, column = np.unravel_index(int(field.argmin()), field.shape)
    x = corner[0] + np.clip(column / columns, 0.05, 0.95) * size[0]
    y = corner[1] + np.clip(row / rows, 0.05, 0.95) * size[1]
    if all(math.dist((x, y), one) > APART_PX / 2 for one in taken):
        words = f"{100 * float(field.min()):.0f}"
        pen.words((float(x), float(y)), words, size=16, anchor="mm", halo=True)


def _free_place(line: list[Place], taken: list[Place]) -> Place:
    """Return a place on a line for its number, away from the numbers that stand already."""
    tried = [line[round(share * (len(line) - 1))] for share in _ALONG]
    for place in tried:
        if all(math.dist(place, other) > APART_PX for other in taken):
            return place
    return max(tried, key=lambda place: min(math.dist(place, other) for other in taken))
