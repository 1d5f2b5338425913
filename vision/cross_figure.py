"""What crosses the grain: the stripes of fiddleback and the like, and light flecks."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.figure_patches import Patches, Spectrum, spectrum

BAND_MM = (5.0, 40.0)
"""Periods of cross figure."""
GRID_MM = 1.0
SECTOR_DEG = 35.0
"""Stripes may lean this far from square to the grain."""
STANDS_OUT = 2.5
"""A period is told if its power is this many times what the rest of the spectrum promises."""
PEAK_WIDTH = 1.35
"""Figure is never quite regular: periods from 1/PEAK_WIDTH to PEAK_WIDTH times count together."""
LEAST_PEAK_SHARE = 0.35
"""A period is told only if this share of the power in the band lies about it."""
LEAST_STRENGTH = 0.3
"""RMS L*; fainter stripes are not seen, and chance makes some."""
FLECK_LIGHTER = 1.5
"""L* by which a fleck is at least lighter than the wood about it."""
FLECK_SPREADS = 3.0
"""... and how many standard deviations of that wood."""
FLECK_ACROSS_MM = 4.0
"""Least extent across the grain; pores and lines run along it."""
FLECK_BLUR = (5, 3)
"""Cells across and along: the pores of oak and ash are not to hide its flecks."""
STRIPE_FROM_MM = 20.0
"""What is light over more of the width is a stripe, not a fleck."""
ABOUT_MM = 31.0
"""Wood about a fleck, along the grain."""


class CrossFigure:
    """Stripes and flecks of the patches of one leaf, on a grid of `GRID_MM` or coarser.

    Power is summed over the wave vectors that run along the grain, give or take `SECTOR_DEG`:
    lines along the grain do not lie there. The camera's noise, judged from the shortest periods,
    is taken off.
    """

    def __init__(self, patches: Patches) -> None:
        self._grid = _on_grid(patches)
        self._waves = spectrum(self._grid.lightness, self._grid.px_per_mm)
        self._mean = np.asarray(self._waves.power.mean(axis=0))
        self._frequency = self._waves.frequency

    def strength(self, grain_angle_deg: float) -> float:
        """Return RMS L* of the stripes with periods within `BAND_MM`."""
        band = (self._frequency >= 1 / BAND_MM[1]) & (self._frequency <= 1 / BAND_MM[0])
        power, sector = self._along(grain_angle_deg)
        return float(np.sqrt(power[band & sector].sum()))

    def period_mm(self, grain_angle_deg: float) -> float | None:
        """Return the period of the stripes, mm; None where none stands out."""
        if self.strength(grain_angle_deg) < LEAST_STRENGTH:
            return None
        power, sector = self._along(grain_angle_deg)
        return _period(power, sector, self._frequency)

    def flake_density(self, grain_angle_deg: float) -> float:
        """Return the share of the leaf, 0 to 1, covered by light flecks across the grain."""
        about = max(3, round(ABOUT_MM * self._grid.px_per_mm)) | 1
        across = max(2, round(FLECK_ACROSS_MM * self._grid.px_per_mm))
        stripe = np.ones((1, round(STRIPE_FROM_MM * self._grid.px_per_mm)), dtype=np.uint8)
        is_striped = self.period_mm(grain_angle_deg) is not None
        raised = []
        for patch in self._grid.lightness:
            level = cv2.blur(_turned(patch, grain_angle_deg), FLECK_BLUR)
            along = cv2.blur(level, (1, about), borderType=cv2.BORDER_REFLECT)
            level = cv2.subtract(level, along)
            if is_striped:
                level = cv2.morphologyEx(level, cv2.MORPH_TOPHAT, stripe)
            raised.append(level)
        lighter = np.stack(raised)
        sample = lighter[:, ::2, ::2]
        wood = float(np.median(sample))
        spread = 1.4826 * float(np.median(np.abs(sample - wood)))
        flecks = (lighter > wood + max(FLECK_LIGHTER, FLECK_SPREADS * spread)).astype(np.uint8)
        line = np.ones((1, across), dtype=np.uint8)
        return float(np.mean([cv2.morphologyEx(one, cv2.MORPH_OPEN, line) for one in flecks]))

    def _along(self, grain_angle_deg: float) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
        """Return the power without noise, and which wave vectors run along the grain."""
        sector = _sector(self._waves, grain_angle_deg)
        nyquist = self._grid.px_per_mm / 2
        fine = sector & (self._frequency > 0.75 * nyquist) & (self._frequency < nyquist)
        noise = float(np.median(self._mean[fine])) if fine.any() else 0.0
        return np.maximum(self._mean - np.float32(noise), 0), sector


def _turned(patch: NDArray[np.float32], angle_deg: float) -> NDArray[np.float32]:
    """Return the patch turned so that the grain runs down its columns."""
    rows, columns = patch.shape
    turn = cv2.getRotationMatrix2D(((columns - 1) / 2, (rows - 1) / 2), angle_deg, 1.0)
    level = cv2.warpAffine(patch, turn, (columns, rows), borderMode=cv2.BORDER_REFLECT)
    return np.asarray(level, dtype=np.float32)


def _on_grid(patches: Patches) -> Patches:
    """Return the patches in cells of `GRID_MM`, or as they are if they are coarser."""
    shrink = GRID_MM * patches.px_per_mm
    if shrink <= 1.0:
        return patches
    rows, columns = (max(2, round(side / shrink)) for side in patches.lightness.shape[1:])
    cells = [
        cv2.resize(patch, (columns, rows), interpolation=cv2.INTER_AREA)
        for patch in patches.lightness
    ]
    return Patches(
        np.stack(cells).astype(np.float32), patches.px_per_mm * rows / patches.lightness.shape[1]
    )


def _sector(waves: Spectrum, grain_angle_deg: float) -> NDArray[np.bool_]:
    """Return which wave vectors run along the grain."""
    angle = np.radians(grain_angle_deg)
    along = np.abs(waves.across * np.sin(angle) - waves.along * np.cos(angle))
    least = waves.frequency * np.cos(np.radians(SECTOR_DEG))
    return np.asarray((along >= least) & (waves.frequency > 0))


def _period(
    power: NDArray[np.float32], sector: NDArray[np.bool_], frequency: NDArray[np.float32]
) -> float | None:
    """Return the period that stands out of a spectrum, mm."""
    edges = np.geomspace(1 / (1.5 * BAND_MM[1]), min(1 / (0.7 * BAND_MM[0]), frequency.max()), 22)
    which = np.digitize(frequency[sector], edges) - 1
    inside = (which >= 0) & (which < len(edges) - 1)
    count = np.bincount(which[inside], minlength=len(edges) - 1)
    total = np.bincount(which[inside], power[sector][inside], minlength=len(edges) - 1)
    seen = count > 0
    centre = np.sqrt(edges[:-1] * edges[1:])[seen]
    density = total[seen] / count[seen]
    octave = density * centre**2
    in_band = (centre >= 1 / BAND_MM[1]) & (centre <= 1 / BAND_MM[0])
    if in_band.sum() < 4 or density[in_band].max() <= 0:
        return None
    peak = int(np.argmax(np.where(in_band, octave, -1.0)))
    near = np.abs(np.log(centre / centre[peak])) <= np.log(PEAK_WIDTH)
    rest = ~near & (density > 0)
    if rest.sum() < 4:
        return None
    slope, level = np.polyfit(np.log(centre[rest]), np.log(density[rest]), 1)
    promised = np.exp(level + slope * np.log(centre[peak]))
    share = octave[near & in_band].sum() / octave[in_band].sum()
    if density[peak] < STANDS_OUT * promised or share < LEAST_PEAK_SHARE:
        return None
    weight = octave[near]
    return float(1 / np.exp((np.log(centre[near]) * weight).sum() / weight.sum()))
