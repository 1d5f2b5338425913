"""How well stretches of one leaf fit another leaf at every shift along and across the grain."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft2, next_fast_len, rfft2

from vision.colour_space import LUMINANCE
from vision.leaf_image import LeafImage
from vision.leaf_stack import without_light

ROWS = 1200
"""Rows of the drawing that is compared: 1.7 mm on a leaf of 2 m. Cells are square."""
STRETCHES = 8
MOST_ALONG, MOST_ACROSS = 0.065, 0.12
"""Shifts looked at, as shares of length and width."""
SHARES = np.array([2 / 3, 1 / 3])
"""What lightness and hue count; the camera blurs hue."""
OCTAVES = (0, 1, 2, 4, 8, 16, 32, 64, 128)
"""Limits in waves along a stretch: every octave counts alike, the slow ones would drown the rest.
The first is what runs through from end to end, which tells across."""
FEATHER_CELLS, END_CELLS = 6.0, 18.0
"""A leaf fades in over so many cells from its outline, and after so many from its ends, where it
is torn and shaded: outlines are no figure."""
FADE = 0.3
"""A stretch fades in and out over this share of its length."""
WHOLE = 0.98
"""Share of a cell that must be wood."""
LEAST_LIGHT = 1e-3
LEAST_CELLS = 2000
LEAST_SIDE_PX = 8

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Fits:
    """Likeness of stretches at every shift of the second leaf, from middle on middle.

    Parameters
    ----------
    likeness : ndarray of float32, shape (stretches, shifts along, shifts across)
        1 at most; no shift in the middle, shifts toward the lower end and to the right after it.
    rows_at : ndarray, shape (stretches,)
        The middle of each stretch, in cells from the middle of the first leaf.
    pitch : float
        Of a cell and of a shift, in the unit of the leaves' scale.
    middle : ndarray, shape (2,)
        Where in ``likeness`` no shift stands, along and across; a half where one of the two leaves
        takes an odd number of cells.
    """

    likeness: Floats
    rows_at: Doubles
    pitch: float
    middle: Doubles


def fit_stretches(first: LeafImage, second: LeafImage) -> Fits | None:
    """Return how well stretches of ``first`` fit ``second``; None if hardly any wood is in view.

    Raises
    ------
    ValueError
        If a leaf has no scale.
    """
    if first.px_per_mm is None or second.px_per_mm is None:
        raise ValueError("Two leaves are compared at one scale; one of them has none.")
    boxes = [leaf_box(leaf.on_leaf) for leaf in (first, second)]
    if min(side.stop - side.start for box in boxes for side in box) < LEAST_SIDE_PX:
        return None
    pitch = (boxes[0][0].stop - boxes[0][0].start) / first.px_per_mm / ROWS
    one = _draw(first, boxes[0], first.px_per_mm * pitch)
    other = _draw(second, boxes[1], second.px_per_mm * pitch)
    if one is None or other is None:
        return None
    rows_at = np.array([(low + high - one.shape[1]) / 2 for low, high in _stretches(one)])
    likeness = _likeness(one, other)
    odd = (np.array(one.shape[1:]) - other.shape[1:]) % 2
    middle = (np.array(likeness.shape[1:]) - 1 + odd) / 2
    return Fits(likeness, rows_at, pitch, middle)


def leaf_box(on_leaf: NDArray[np.bool_]) -> tuple[slice, slice]:
    """Return the rows and columns that a leaf takes; empty ones if there is none."""
    found = []
    for axis in (1, 0):
        held = np.flatnonzero(on_leaf.any(axis=axis))
        found.append(slice(int(held[0]), int(held[-1]) + 1) if held.size else slice(0, 0))
    return found[0], found[1]


def _draw(leaf: LeafImage, box: tuple[slice, slice], px_per_cell: float) -> Floats | None:
    """Return lightness and hue in cells, shape (2, rows, columns), their light taken out."""
    wood = np.ascontiguousarray(leaf.on_leaf[box], np.float32)
    light = np.ascontiguousarray(leaf.light[box], np.float32)
    luminance = cv2.transform(light, np.array([LUMINANCE], np.float32)).reshape(wood.shape)
    lightness, red, blue = (
        np.log(np.maximum(plane, LEAST_LIGHT))
        for plane in (luminance, light[..., 0], light[..., 2])
    )
    rows, columns = (max(LEAST_SIDE_PX, round(side / px_per_cell)) for side in wood.shape)
    share, *planes = (
        np.asarray(cv2.resize(plane, (columns, rows), interpolation=cv2.INTER_AREA), np.float32)
        for plane in (wood, lightness * wood, (red - blue) * wood)
    )
    seen = np.asarray(share > WHOLE)
    if int(seen.sum()) < LEAST_CELLS:
        return None
    share = np.maximum(share, np.float32(1e-3))
    cells = np.stack([without_light(plane / share, seen) for plane in planes])
    return np.asarray(cells * _feathered(seen), np.float32)


def _feathered(seen: NDArray[np.bool_]) -> Floats:
    """Return how much each cell counts, 0 to 1."""
    held = np.pad(seen.astype(np.uint8), 1)
    inside = cv2.distanceTransform(held, cv2.DIST_L2, 3)[1:-1, 1:-1]
    at = np.arange(len(seen))
    from_end = np.minimum(at, at[::-1])[:, None]
    deep = np.minimum(inside - 2, from_end - END_CELLS) / FEATHER_CELLS
    return np.asarray(np.clip(deep, 0, 1), np.float32)


def _stretches(cells: Floats) -> list[tuple[int, int]]:
    rows = cells.shape[1]
    return list(pairwise(round(rows * part / STRETCHES) for part in range(STRETCHES + 1)))


def _likeness(one: Floats, other: Floats) -> Floats:
    """Return the likeness of each stretch of one drawing to the other, by waves."""
    rows, columns = one.shape[1:]
    along, across = round(MOST_ALONG * rows), max(4, round(MOST_ACROSS * columns))
    fade = round(rows / STRETCHES * FADE)
    beside = along + fade
    wide = next_fast_len(max(columns, other.shape[2]) + 2 * across, real=True)
    padded = _middle_on_middle(other, (rows + 2 * beside, wide), columns)
    found = []
    for low, high in _stretches(one):
        part = padded[:, low : high + 2 * beside] * _fading(high - low + 2 * beside, fade)
        own = np.zeros_like(part)
        own[:, beside : beside + high - low, :columns] = one[:, low:high]
        own[:, beside : beside + high - low] *= _fading(high - low, fade)
        size = (next_fast_len(part.shape[1], real=True), wide)
        first, second = (_whitened(cells, size, high - low) for cells in (own, part))
        fit = irfft2((first * second.conj()).sum(axis=0), s=size) * (size[0] * size[1])
        fit = np.roll(fit, (along, across), (0, 1))
        found.append(fit[: 2 * along + 1, : 2 * across + 1])
    return np.stack(found).astype(np.float32)


def _fading(rows: int, fade: int) -> Floats:
    """Return how much each row counts where a drawing is cut off, shape (rows, 1).

    Cut off sharply, what runs through would end in a step, and the steps of both drawings would
    look alike wherever they meet.
    """
    from_end = np.minimum(np.arange(rows), np.arange(rows)[::-1]) + 0.5
    rising = np.clip(from_end / fade, 0, 1)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * rising), np.float32)[:, None]


def _middle_on_middle(cells: Floats, size: tuple[int, int], columns: int) -> Floats:
    """Return a drawing laid on a sheet, its middle on that of a drawing of so many columns.

    What stands over at the left comes in at the right, as waves have it.
    """
    sheet = np.zeros((len(cells), *size), np.float32)
    rows = np.arange(cells.shape[1]) + (size[0] - cells.shape[1]) // 2
    held = (rows >= 0) & (rows < size[0])
    at = (np.arange(cells.shape[2]) + (columns - cells.shape[2]) // 2) % size[1]
    sheet[:, rows[held][:, None], at[None, :]] = cells[:, held]
    return sheet


def _whitened(cells: Floats, size: tuple[int, int], rows: int) -> NDArray[np.complex64]:
    """Return the waves of a stretch, each octave along the grain of one size, together 1."""
    waves = np.asarray(rfft2(cells, s=size), np.complex64)
    number = np.abs(np.fft.fftfreq(size[0])) * rows
    twice = np.full(waves.shape[2], 2.0)  # half of the waves across are not written down
    twice[0] = 1.0
    if size[1] % 2 == 0:
        twice[-1] = 1.0
    for low, high in pairwise(OCTAVES):
        band = (number >= low - 0.5) & (number < high - 0.5)
        strength = (np.abs(waves[:, band]) ** 2 * twice).sum(axis=(1, 2))
        scale = np.sqrt(SHARES / (len(OCTAVES) - 1) / np.maximum(strength, 1e-12))
        waves[:, band] *= scale[:, None, None].astype(np.float32)
    waves[:, number >= OCTAVES[-1] - 0.5] = 0
    return waves
