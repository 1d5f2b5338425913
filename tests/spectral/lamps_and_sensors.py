"""Lamps and the two camera sensors, as spectra of the reference library."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from tests.spectral.bands import (
    NM,
    Doubles,
    colour_science,
    delta_e00,
    on_bands,
    to_lab,
    to_xyz,
    xyz_to_lab,
)
from tests.spectral.printed_spectra import chart_spectra

GOOD_LAMPS = ("PHOS-1", "LED-V2", "LED-BH1", "4-LED-2 (447/512/573/627)", "A", "D50", "FL3.15")
"""Colour rendering index 90 and more, as a shooting station wants it."""
POOR_LAMPS = ("LED-B3", "FL3.8")
"""Index 80 to 85: office light."""
SENSORS = {"bayer": "Nikon 5100 (NPL)", "stacked": "Sigma SDMerill (NPL)"}
XYZ_TO_SRGB = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
"""X, Y, Z for D50 to linear sRGB, Bradford adapted (Lindbloom)."""


def lamp(name: str) -> Doubles:
    """Return a lamp's power, shape (61,), mean 1."""
    colour = colour_science()
    found = colour.SDS_ILLUMINANTS if name in colour.SDS_ILLUMINANTS else colour.SDS_LIGHT_SOURCES
    power = on_bands(found[name].wavelengths, found[name].values)
    return np.asarray(power / power.mean())


def tinted(power: Doubles, tint: float) -> Doubles:
    """Return a lamp with ``tint`` more red than blue light (a fraction, end to end)."""
    return np.asarray(power * (1 + tint * (NM - 550) / 300))


def sensor(name: str) -> Doubles:
    """Return sensitivities of R, G, B in energy terms, shape (61, 3)."""
    found = colour_science().MSDS_CAMERA_SENSITIVITIES[SENSORS[name]]
    values = np.maximum(on_bands(found.wavelengths, found.values), 0)
    return np.asarray(values / values.sum(axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """One sensor under the lamps of a station.

    Parameters
    ----------
    lamps : ndarray, shape (n, 61)
        Power of each lamp.
    sensitivities : ndarray, shape (61, 3)
    """

    lamps: Doubles
    sensitivities: Doubles

    def rgb(self, reflectance: Doubles) -> Doubles:
        """Return raw R, G, B of reflectances (..., 61) under each lamp alone, shape (n, ..., 3).

        A perfect white under the mean of the lamps has G = 1.
        """
        weights = self.lamps[:, :, None] * self.sensitivities
        green = weights[..., 1].sum(axis=1).mean()
        return np.stack([reflectance @ (one / green) for one in weights])


@cache
def camera_matrix(sensor_name: str) -> Doubles:
    """Return the camera's own matrix from balanced R, G, B to linear sRGB.

    Fitted once in the works, under D50 on a colour chart, whatever the lamp will be; white is
    kept white.
    """
    spectra = chart_spectra("before-2014", np.random.default_rng(1), tolerance=0.0)
    works = Sight(lamp("D50")[None], sensor(sensor_name))
    balanced = works.rgb(spectra)[0] / works.rgb(np.ones((1, len(NM))))[0]
    target = to_xyz(spectra) @ XYZ_TO_SRGB.T
    whites = np.full((400, 3), 0.9)
    matrix = np.linalg.lstsq(
        np.vstack([balanced, whites]), np.vstack([target, whites]), rcond=None
    )[0].T
    return np.asarray(matrix / matrix.sum(axis=1, keepdims=True))


def best_wood_error(sight: Sight, woods: Doubles, chart: Doubles) -> Doubles:
    """Return CIEDE2000 of woods through a 3 x 3 fitted to a chart, without any noise.

    What no arithmetic after the sensor can beat by much: the part that lamp and sensor decide.
    """
    raw = sight.rgb(chart).mean(axis=0)
    matrix = np.linalg.lstsq(raw, to_xyz(chart), rcond=None)[0]
    seen = xyz_to_lab(sight.rgb(woods).mean(axis=0) @ matrix)
    return delta_e00(seen, to_lab(woods))
