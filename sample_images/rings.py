"""Growth rings: tone and pores from the pith outward, one year after the other."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from sample_images.species import Rings

Floats = NDArray[np.float32]

STEP_MM = 0.05
"""Radius step of the tables: well under the thinnest line."""
FIRST_BLUR_MM = 0.12
BLURS = 6
"""Levels of blur, each twice the one before, for faces that cut the rings at any slant."""


@dataclass(frozen=True, slots=True, eq=False)
class RingTables:
    """Tone and share of pores against radius, at several blurs; shape (BLURS, radii)."""

    inner_mm: float
    tone: Floats
    early: Floats

    def look_up(self, radius_mm: Floats, pixel_mm: Floats) -> tuple[Floats, Floats]:
        """Return tone and early-wood share at radii, averaged over ``pixel_mm`` of radius."""
        column = (radius_mm - self.inner_mm) / STEP_MM
        level = np.log2(np.maximum(pixel_mm / 2, FIRST_BLUR_MM) / FIRST_BLUR_MM)
        level = np.clip(level, 0, BLURS - 1).astype(np.float32)
        column = np.clip(column, 0, self.tone.shape[1] - 1.01).astype(np.float32)
        read = [
            cv2.remap(table, column, level, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            for table in (self.tone, self.early)
        ]
        return np.asarray(read[0], np.float32), np.asarray(read[1], np.float32)


def grow(rng: np.random.Generator, rings: Rings, *, inner_mm: float, outer_mm: float) -> RingTables:
    """Return the rings of a tree between two radii."""
    mean_mm = rng.uniform(*rings.width_mm)
    count = int((outer_mm - inner_mm) / (0.3 * mean_mm)) + 8
    widths = mean_mm * np.exp(rings.spread * _years(rng, count))
    edges = inner_mm - 3 * mean_mm + np.concatenate([[0.0], np.cumsum(widths)])
    radii = np.arange(inner_mm, outer_mm, STEP_MM)
    year = np.clip(np.searchsorted(edges, radii, side="right") - 1, 0, count - 1)
    share = np.clip((radii - edges[year]) / widths[year], 0, 1)
    depth = np.exp(0.35 * _years(rng, count))[year]
    rise = rings.rise * np.exp(0.25 * rng.standard_normal(count))[year]
    line = rings.line * np.exp(0.45 * rng.standard_normal(count))[year]
    to_end = (1 - share) * widths[year]
    tone = 0.75 * depth * share**rise + line * np.exp(-to_end / rings.line_mm)
    tone *= np.clip(share * widths[year] / 0.12, 0, 1)
    early_end = rings.early_share * np.clip(rng.normal(1, 0.25, count), 0.5, 1.6)[year]
    early = 1 / (1 + np.exp((share - early_end) / 0.05))
    if rings.early_share >= 1:
        early = 1 - 0.5 * share
    return RingTables(inner_mm, _blurred(tone), _blurred(early))


def _years(rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    """Return good and bad years: noise that remembers, unit variance."""
    white = rng.standard_normal(count)
    kept = np.empty(count)
    kept[0] = white[0]
    for index in range(1, count):
        kept[index] = 0.55 * kept[index - 1] + 0.835 * white[index]
    return kept


def _blurred(values: NDArray[np.float64]) -> Floats:
    levels = [
        gaussian_filter1d(values, FIRST_BLUR_MM * 2**level * 0.6 / STEP_MM, mode="nearest")
        for level in range(BLURS)
    ]
    return np.stack(levels).astype(np.float32)
