"""Light on wood: refraction at the surface, and the highlight of the fibres underneath.

Wood cells reflect like a bundle of threads: light that enters the surface is thrown back in a
cone about the fibre direction. When fibres rise out of the face the cone leans, and the same wood
looks lighter or darker as the lamp stands before or behind it (Marschner, Westin, Arbree, Moon,
"Measuring and modeling the appearance of finished wood", ACM Transactions on Graphics 24(3),
2005, for the cone; the Gaussian cross-section and the cos^2 factor are that model's).

Angles are radians. In the plane of the grain they are signed along the leaf; directions anywhere
are unit vectors: across the leaf, along it, out of its face.
"""

from __future__ import annotations

from dataclasses import dataclass

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


def refract_direction(
    direction: NDArray[np.float64], index: float = FILM_INDEX
) -> NDArray[np.float64]:
    """Return the unit directions inside the film of unit directions outside (Snell).

    Parameters
    ----------
    direction : ndarray, shape (..., 3)
        Across, along, out of the face.

    Examples
    --------
    >>> slant = np.deg2rad(45)
    >>> inside = refract_direction(np.array([0.0, np.sin(slant), np.cos(slant)]))
    >>> float(np.rad2deg(np.arcsin(inside[1])).round(4))
    28.1255
    """
    flat = direction[..., :2] / index
    up = np.sqrt(1 - (flat**2).sum(axis=-1, keepdims=True))
    return np.concatenate([flat, up], axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class OffCone:
    """Angle of a direction inside the film off the plane across the fibre, and how it changes."""

    angle: NDArray[np.float64]
    by_slope: NDArray[np.float64]
    by_lean: NDArray[np.float64]


def off_cone(
    inside: NDArray[np.float64], slope: NDArray[np.float64], lean: NDArray[np.float64]
) -> OffCone:
    """Return the angles of directions off the plane across fibres, with derivatives.

    Parameters
    ----------
    inside : ndarray, shape (..., 3)
        Unit directions inside the film.
    slope, lean : ndarray
        Of the fibres: out of the face, positive where they rise along +; in the face, positive
        where they run toward + across. Broadcast against the directions.
    """
    across, along, up = inside[..., 0], inside[..., 1], inside[..., 2]
    ahead = across * np.sin(lean) + along * np.cos(lean)
    sine = np.clip(ahead * np.cos(slope) + up * np.sin(slope), -0.999999, 0.999999)
    cosine = np.sqrt(1 - sine**2)
    turned = across * np.cos(lean) - along * np.sin(lean)
    return OffCone(
        np.arcsin(sine),
        (up * np.cos(slope) - ahead * np.sin(slope)) / cosine,
        turned * np.cos(slope) / cosine,
    )
