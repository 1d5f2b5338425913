"""Light on wood: refraction at the surface, and the highlight of the fibres underneath.

Wood cells reflect like a bundle of threads: light that enters the surface is thrown back in a
cone about the fibre direction. When fibres rise out of the face the cone leans, and the same wood
looks lighter or darker as the lamp stands before or behind it (Marschner, Westin, Arbree, Moon,
"Measuring and modeling the appearance of finished wood", ACM Transactions on Graphics 24(3),
2005, for the cone; the Gaussian cross-section and the cos^2 factor are that model's).

All angles are in the plane of the grain, radians, signed along the leaf.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FILM_INDEX = 1.5
"""Refractive index of the surface film. It cannot be told from photographs of one surface: an
unfinished face is fitted by slopes and widths shrunk by the same factor, and predictions for that
surface stand."""


def refract(sine: ArrayLike, index: float = FILM_INDEX) -> NDArray[np.float64]:
    """Return the angle inside the film of light that meets it at an angle of this sine (Snell).

    Examples
    --------
    >>> float(np.rad2deg(refract(np.sin(np.deg2rad(30)))).round(4))
    19.4712
    """
    return np.asarray(np.arcsin(np.asarray(sine, dtype=np.float64) / index))


def transmit(sine: ArrayLike, index: float = FILM_INDEX) -> NDArray[np.float64]:
    """Return the share of unpolarised light that passes the surface (1 - Fresnel reflection).

    Parameters
    ----------
    sine : array_like
        Sine of the angle from the normal outside, 0 to 1.

    Examples
    --------
    >>> transmit(np.sin(np.deg2rad([0, 60]))).round(5).tolist()
    [0.96, 0.91081]
    """
    sine = np.abs(np.asarray(sine, dtype=np.float64))
    outside, inside = np.sqrt(1 - sine**2), np.cos(refract(sine, index))
    across = (outside - index * inside) / (outside + index * inside)
    along = (index * outside - inside) / (index * outside + inside)
    return np.asarray(1 - (across**2 + along**2) / 2)


def fibre_lobe(
    lamp: NDArray[np.float64],
    eye: NDArray[np.float64],
    *,
    slope: NDArray[np.float64] | float,
    width: float,
) -> NDArray[np.float64]:
    """Return the strength of the fibres' highlight, about 1 where it is strongest.

    Parameters
    ----------
    lamp, eye : ndarray
        Refracted angles of lamp and eye from the face normal.
    slope : ndarray or float
        Slope of the fibres out of the face, positive where they rise along +.
    width : float
        Standard deviation of the cone's cross-section.
    """
    about_cone = lamp + eye + 2 * slope
    gaussian = np.exp(-(about_cone**2) / (2 * width**2))
    return np.asarray(gaussian / np.cos((eye - lamp) / 2) ** 2)
