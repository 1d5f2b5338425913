"""Square-cut patches of a leaf in lightness, and their spectra: what figure is measured on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vision.colour_space import LUMINANCE, lightness_of_y
from vision.leaf_image import LeafImage

PATCH_MM = 128.0
"""Side of a patch: three times the longest stripe looked for, and the figure still the same."""
LEAST_PATCH_MM = 24.0
"""A narrower strip holds too few lines to say anything."""
MOST_PATCHES = 8
"""Eight places, a metre of the length, tell the figure of a leaf; more would only take longer."""
MOST_PX_PER_MM = 2.5
"""Finer pictures are brought to this: half a pixel still resolves what is looked for."""

BRIGHTEST_Y = 1.25
"""Light wood in a gloss may send more than white would; beyond this nothing is figure."""
_LIGHTNESS_STEPS = 65535
_LIGHTNESS_TABLE = lightness_of_y(np.linspace(0, BRIGHTEST_Y, _LIGHTNESS_STEPS + 1)).astype(
    np.float32
)


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """Equal patches of one leaf.

    Parameters
    ----------
    lightness : ndarray of float32, shape (patches, rows, columns)
        L*; rows run along the leaf.
    px_per_mm : float
    """

    lightness: NDArray[np.float32]
    px_per_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Spectrum:
    """Power of patches by wave vector, one half plane (the other is its mirror).

    Parameters
    ----------
    power : ndarray of float32, shape (patches, m, n)
        L* squared, so scaled that the sum over all wave vectors is the variance.
    across, along : ndarray, shapes (1, n) and (m, 1)
        Wave vector, cycles per mm; across the leaf (to the right) and along it (down).
    """

    power: NDArray[np.float32]
    across: NDArray[np.float32]
    along: NDArray[np.float32]

    @property
    def frequency(self) -> NDArray[np.float32]:
        """Length of each wave vector, cycles per mm."""
        return np.asarray(np.hypot(self.across, self.along))


def cut_patches(leaf: LeafImage) -> Patches | None:
    """Return patches spread over the leaf, each wholly wood; None without scale or room."""
    scale = leaf.px_per_mm
    if scale is None or not leaf.on_leaf.any():
        return None
    places = _places(leaf.on_leaf, scale)
    if not places:
        return None
    shrink = max(1.0, scale / MOST_PX_PER_MM)
    weights = np.array([LUMINANCE], dtype=np.float32)
    cut = []
    for rows, columns in places:
        y = cv2.transform(leaf.light[rows, columns], weights)
        if shrink > 1:
            size = (round(y.shape[1] / shrink), round(y.shape[0] / shrink))
            y = cv2.resize(y, size, interpolation=cv2.INTER_AREA)
        cut.append(_lightness(np.asarray(y)))
    return Patches(
        np.stack(cut), scale * cut[0].shape[0] / (places[0][0].stop - places[0][0].start)
    )


def _places(on_leaf: NDArray[np.bool_], scale: float) -> list[tuple[slice, slice]]:
    """Return equal windows that lie wholly on the leaf, stepping over its width."""
    where = np.flatnonzero(on_leaf.any(axis=1))
    first, last = int(where[0]), int(where[-1]) + 1
    widths = np.count_nonzero(on_leaf[first:last:8], axis=1)
    deep = min(round(PATCH_MM * scale), round(0.95 * (last - first)))
    wide = min(round(PATCH_MM * scale), round(0.9 * float(np.median(widths))))
    if min(deep, wide) < LEAST_PATCH_MM * scale:
        return []
    count = max(1, min(MOST_PATCHES, (last - first) // deep))
    places = []
    for index in range(count):
        start = first + round((last - first - deep) * (index + 0.5) / count)
        rows = slice(start, start + deep)
        whole = np.flatnonzero(on_leaf[rows].all(axis=0))
        room = len(whole) - wide
        if room < 0:
            continue
        left = int(whole[0]) + round(room * (index * 0.6180339887 % 1.0))
        columns = slice(left, left + wide)
        if on_leaf[rows, columns].all():
            places.append((rows, columns))
    return places


def _lightness(y: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return L* of luminance by table; beyond `BRIGHTEST_Y` it is held."""
    scale: Any = _LIGHTNESS_STEPS / BRIGHTEST_Y
    index = cv2.multiply(y, scale, dtype=cv2.CV_16U)
    return np.asarray(cv2.LUT(index, _LIGHTNESS_TABLE), dtype=np.float32)


def spectrum(lightness: NDArray[np.float32], px_per_mm: float) -> Spectrum:
    """Return the power spectra of patches (Hann window, mean removed).

    A few rows and columns are left out so that the transform's lengths have small factors only: a
    prime one takes five times as long.
    """
    rows, columns = (fft.prev_fast_len(side, real=True) for side in lightness.shape[-2:])
    lightness = lightness[..., :rows, :columns]
    window = np.outer(_hann(rows), _hann(columns)).astype(np.float32)
    flat = lightness - lightness.mean(axis=(-2, -1), keepdims=True)
    wave = fft.rfft2(flat * window)
    power = wave.real**2 + wave.imag**2
    power /= float((window**2).sum()) * rows * columns
    twice = np.full(power.shape[-1], 2.0, dtype=np.float32)
    twice[0] = 1.0
    if columns % 2 == 0:
        twice[-1] = 1.0
    return Spectrum(
        power=power * twice,
        across=(fft.rfftfreq(columns) * px_per_mm).astype(np.float32)[None, :],
        along=(fft.fftfreq(rows) * px_per_mm).astype(np.float32)[:, None],
    )


def _hann(count: int) -> NDArray[np.float64]:
    return np.asarray(0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(count) + 0.5) / count))
