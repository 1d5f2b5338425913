"""Grain and figure of a leaf: which way the grain runs, how straight, and what crosses it.

Grain lines and cross figure are told apart by their size. Lines lie a few millimetres apart at
most; the stripes of fiddleback and the like repeat every 5 to 40 mm. Where both are looked for in
one band the stronger one wins, and on figured wood that is the stripes: the grain would seem to
run across the leaf.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from vision.cross_figure import CrossFigure
from vision.figure_patches import Patches, Spectrum, cut_patches, spectrum
from vision.grain_lines import measure_line_pitch
from vision.leaf_image import LeafImage
from vision.readings import LeafFigure

GRAIN_BANDS_MM = ((1.6, 2.8), (2.8, 4.5))
"""Wavelengths in which the direction of the grain is read; the second where the first is empty."""
GRAIN_PX_PER_MM = (1.25, 1.0)
"""Resolution each of the bands needs."""
STRIPES_FROM_DEG = 45.0
"""In the second band lines nearer the width than the length may be cross figure: not told."""
LEAST_COHERENCE = 0.06
"""Below this the direction is that of noise; white noise alone reaches a third of it."""
MOST_ERROR_DEG = 3.0
"""Standard error, from patch to patch, above which no direction is told."""
WEDGE_DEG = 30.0
"""Wave vectors this near the length are left out where cross figure stands out: its overtones."""
LEAST_TILE_MM = 30.0
"""A tile must hold several of the longest waves of the bands."""
LINE_PX_PER_MM = 1.75
STRENGTH_PX_PER_MM = 1.25
"""Below this the camera blurs stripes of 5 mm and their strength with them."""
PERIOD_PX_PER_MM = 0.25


def measure_figure(leaf: LeafImage) -> LeafFigure:
    """Return the grain and figure of a leaf, measured on a few patches.

    The direction of the grain is the mean of doubled angles over the spectrum in a fixed band of
    wavelengths: the structure tensor of the band-passed picture (Bigun and Granlund, ICCV 1987,
    where the two are shown to be one).

    Parameters
    ----------
    leaf : LeafImage

    Returns
    -------
    LeafFigure
        None for what the picture is too coarse to show; None throughout without a scale.
    """
    patches = cut_patches(leaf)
    if patches is None or patches.px_per_mm < PERIOD_PX_PER_MM:
        return LeafFigure(None, None, None, None, None, None)
    scale = patches.px_per_mm
    stripes = CrossFigure(patches)
    mean = _mean_direction(patches, is_figured=stripes.period_mm(0.0) is not None)
    angle = None if mean is None else float(np.degrees(np.angle(mean)) / 2)
    straightness = None if mean is None else float(abs(mean))
    axis = 0.0 if angle is None else angle
    return LeafFigure(
        grain_angle_deg=angle,
        grain_straightness=straightness,
        line_pitch_mm=(
            None
            if angle is None or scale < LINE_PX_PER_MM
            else measure_line_pitch(patches, grain_angle_deg=angle)
        ),
        cross_figure_period_mm=stripes.period_mm(axis),
        cross_figure_strength=(stripes.strength(axis) if scale >= STRENGTH_PX_PER_MM else None),
        flake_density=(stripes.flake_density(axis) if scale >= STRENGTH_PX_PER_MM else None),
    )


def _mean_direction(patches: Patches, *, is_figured: bool) -> complex | None:
    """Return the mean of doubled angles, its length the straightness; None if none is seen."""
    waves = spectrum(_tiles(patches), patches.px_per_mm)
    for index, band_mm in enumerate(GRAIN_BANDS_MM):
        if patches.px_per_mm < GRAIN_PX_PER_MM[index]:
            continue
        seen = _coherence(waves, band_mm, is_figured=is_figured)
        mean = complex(seen.mean())
        if abs(mean) < LEAST_COHERENCE or _standard_error_deg(seen) > MOST_ERROR_DEG:
            continue
        if index > 0 and abs(np.degrees(np.angle(mean)) / 2) > STRIPES_FROM_DEG:
            continue
        return mean / float(np.abs(seen).mean())
    return None


def _standard_error_deg(seen: NDArray[np.complex128]) -> float:
    if len(seen) < 2:
        return 0.0
    mean = seen.mean()
    aside = (seen * np.conj(mean)).imag / abs(mean) ** 2
    return float(np.degrees(np.std(aside) / np.sqrt(len(seen) - 1)) / 2)


def _tiles(patches: Patches) -> NDArray[np.float32]:
    """Return each patch in four, where it is large enough: grain is straight over shorter ways."""
    tiles = patches.lightness
    least = 2 * LEAST_TILE_MM * patches.px_per_mm
    rows, columns = (side // 2 if side >= least else side for side in tiles.shape[1:])
    return np.concatenate(
        [
            tiles[:, top : top + rows, left : left + columns]
            for top in range(0, tiles.shape[1] - rows + 1, rows)
            for left in range(0, tiles.shape[2] - columns + 1, columns)
        ]
    )


def _coherence(
    waves: Spectrum, band_mm: tuple[float, float], *, is_figured: bool
) -> NDArray[np.complex128]:
    """Return the coherence of each tile in a band of wavelengths, as a doubled angle.

    What the spectrum holds alike in all directions, noise above all, is taken off ring by ring:
    in a whole band it cancels, in one with a wedge left out it would not.
    """
    frequency = waves.frequency
    band = (frequency >= 1 / band_mm[1]) & (frequency <= 1 / band_mm[0])
    if is_figured:
        band &= np.abs(waves.across) >= np.sin(np.radians(WEDGE_DEG)) * frequency
    ring = np.digitize(frequency[band], np.linspace(1 / band_mm[1], 1 / band_mm[0], 6))
    power = waves.power[:, band]
    mean = power.mean(axis=0)
    even = np.zeros_like(mean)
    for one in np.unique(ring):
        even[ring == one] = np.median(mean[ring == one])
    weight = frequency[band] ** 2
    turned = ((waves.across + 1j * waves.along) ** 2)[band]
    energy = (power * weight).sum(axis=1)
    return np.asarray((power - even) @ turned / np.maximum(energy, 1e-12))
