"""Reflectance spectra of wood, by Kubelka and Munk, with the colours that woods have.

A thick sheet that absorbs K and scatters S sends back R = 1 + K/S - sqrt((K/S)^2 + 2 K/S) (Kubelka
and Munk 1931). In wood lignin absorbs towards the violet, extractives absorb in broad bands in the
blue and green, and dark matter everywhere. How much of each is in a wood is found from a colour
within the range of its kind; the places and widths are drawn by lot, so that two woods of one
colour still differ in spectrum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.spectral.bands import NM, Doubles, to_lab

RANGES: dict[str, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]] = {
    "maple": ((80, 88), (3, 6), (15, 20)),
    "ash": ((75, 83), (3, 6), (16, 21)),
    "beech": ((74, 80), (6, 9), (17, 21)),
    "steamed beech": ((59, 65), (10, 13), (18, 21)),
    "cherry": ((58, 70), (8, 13), (18, 25)),
    "oak": ((62, 69), (8, 9.6), (19, 22)),
    "strongly steamed oak": ((45, 51), (8.5, 10.5), (16, 19)),
    "mahogany": ((45, 60), (10, 17), (18, 27)),
    "walnut": ((40, 56), (5, 9), (11, 19)),
    "teak": ((42, 60), (4, 11), (19, 28)),
}
"""L*, a*, b* of each wood, least and most: steamed oak and beech from Dzurenda (2018) and Dzurenda
and Dudiak (2024), the rest usual ranges."""


@dataclass(frozen=True, slots=True, eq=False)
class Wood:
    """A wood as absorption over scattering, and how it varies within a leaf.

    Parameters
    ----------
    name : str
    k_over_s : ndarray, shape (61,)
        Of the mean wood.
    figure : ndarray, shape (61,)
        Added once for a figure of 1 (late wood), taken off for -1 (early wood).
    """

    name: str
    k_over_s: Doubles
    figure: Doubles

    def reflectance(self, figure: Doubles) -> Doubles:
        """Return spectra, shape figure.shape + (61,), at places of the figure, -1 to 1."""
        return km_reflectance(self.k_over_s + np.asarray(figure)[..., None] * self.figure)


def km_reflectance(k_over_s: Doubles) -> Doubles:
    """Return the reflectance of a thick sheet from absorption over scattering."""
    return np.asarray(1 + k_over_s - np.sqrt(k_over_s**2 + 2 * k_over_s))


def draw_wood(name: str, rng: np.random.Generator) -> Wood:
    """Return a wood of a kind of `RANGES`, its colour and its absorbers drawn by lot."""
    for _ in range(200):
        target = np.array([rng.uniform(low, high) for low, high in RANGES[name]])
        bases = _absorbers(rng)
        amounts = _amounts_for(target, bases)
        if np.abs(to_lab(km_reflectance(amounts @ bases)) - target).max() < 0.01:
            break
    else:
        raise ValueError(f"No mixture of absorbers makes {name}.")
    spread = rng.uniform(0.10, 0.22) * np.array([1.0, rng.uniform(0.8, 1.6), rng.uniform(0.6, 1.4)])
    k_over_s = amounts @ bases
    return Wood(name, k_over_s, np.minimum((amounts * spread) @ bases, 0.8 * k_over_s))


def _absorbers(rng: np.random.Generator) -> Doubles:
    """Return the three absorbers over scattering, shape (3, 61), each falling towards the red."""
    lignin = np.exp(-(NM - 400) / rng.uniform(40, 80))
    extractive = 1 / (1 + np.exp((NM - rng.uniform(535, 575)) / rng.uniform(22, 38)))
    dark = np.exp(-(NM - 400) / rng.uniform(450, 900))
    scatter = (NM / 550) ** -rng.uniform(0.1, 0.4)
    return np.stack([lignin, extractive, dark]) / scatter


def _amounts_for(lab: Doubles, bases: Doubles) -> Doubles:
    """Return amounts of the absorbers for a colour, by Newton's method on their logarithms."""
    log_amounts = np.log(np.array([0.5, 0.2, 0.05]))
    for _ in range(60):
        at = to_lab(km_reflectance(np.exp(log_amounts) @ bases))
        if np.abs(at - lab).max() < 1e-3:
            break
        step = 1e-4
        slopes = np.stack(
            [
                (to_lab(km_reflectance(np.exp(log_amounts + step * one) @ bases)) - at) / step
                for one in np.eye(3)
            ],
            axis=1,
        )
        move = np.linalg.lstsq(slopes, lab - at, rcond=1e-6)[0]
        log_amounts = np.clip(log_amounts + np.clip(move, -0.5, 0.5), -9, 3)
    return np.exp(log_amounts)
