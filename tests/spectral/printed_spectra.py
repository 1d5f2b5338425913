"""Spectra of what is printed: paper, greys, black, the chart's patches, and the grey board."""

from __future__ import annotations

from functools import cache

import numpy as np

from tests.spectral.bands import (
    NM,
    Doubles,
    colour_science,
    lab_to_xyz,
    on_bands,
    to_xyz,
    xyz_to_lab,
)

EDITIONS = {
    "before-2014": "ColorChecker24 - Before November 2014",
    "after-2014": "ColorChecker24 - After November 2014",
}


def shaped_grey(reflectance: float, *, a: float, b: float) -> Doubles:
    """Return a smooth, nearly grey spectrum of a given Y under D50, a* and b*."""
    lightness = float(xyz_to_lab(to_xyz(np.full(len(NM), reflectance)))[0])
    return moved_to(np.full(len(NM), reflectance), np.array([lightness, a, b]))


def moved_to(spectrum: Doubles, lab: Doubles) -> Doubles:
    """Return a spectrum of exactly a colour: the given one times a smooth curve."""
    t = (NM - 550) / 150
    smooth = np.stack([np.ones_like(t), t, t**2])
    weights, target = np.zeros(3), lab_to_xyz(np.asarray(lab))
    for _ in range(20):
        now = spectrum * np.exp(weights @ smooth)
        off = target - to_xyz(now)
        if np.abs(off).max() < 1e-9:
            break
        slopes = to_xyz(now * smooth).T
        weights = weights + np.linalg.solve(slopes, off)
    return np.asarray(spectrum * np.exp(weights @ smooth))


@cache
def chart_lab(edition: str) -> Doubles:
    """Return the published L*, a*, b* (D50, 2 degrees) of an edition's patches, shape (24, 3)."""
    colour = colour_science()
    chart = colour.CCS_COLOURCHECKERS[EDITIONS[edition]]
    xyz = np.array([colour.xyY_to_XYZ(value) for value in chart.data.values()])
    return np.asarray(colour.XYZ_to_Lab(xyz, chart.illuminant))


def chart_spectra(edition: str, rng: np.random.Generator, *, tolerance: float = 0.15) -> Doubles:
    """Return spectra of a chart's patches, shape (24, 61).

    Measured spectra of such a chart (Ohta 1997, or the BabelColor mean of thirty), each bent
    smoothly to the edition's published colour, with ``tolerance`` (standard deviation of each of
    L*, a*, b*) left for the making of the single chart.
    """
    measured = colour_science().SDS_COLOURCHECKERS[
        ("ColorChecker N Ohta", "BabelColor Average")[int(rng.integers(2))]
    ]
    lab = chart_lab(edition) + rng.normal(0, tolerance, (24, 3))
    spectra = [on_bands(one.wavelengths, one.values) for one in measured.values()]
    return np.stack([moved_to(one, at) for one, at in zip(spectra, lab, strict=True)])
