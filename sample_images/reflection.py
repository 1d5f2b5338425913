"""How wood sends light back: a matt part, and a highlight from fibres below the surface.

Axes: x across the grain, y along it, z out of the face. A fibre lies along
u = (sin phi cos tau, cos phi cos tau, sin tau), headless. Directions refract into the surface film
(Snell), and the highlight lies on a cone about the fibre, a lobe in the angle off that cone:
Marschner, Westin, Arbree, Moon 2005, "Measuring and modeling the appearance of finished wood",
ACM Transactions on Graphics 24(3).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lobe:
    """The highlight of one face of one wood.

    ``shape`` other than ``gauss`` and a ``sheen`` above 0 are ways for real wood to differ from
    the model, for those who want to know how well a reading stands it.
    """

    ratio: float
    """Highlight over matt part, R = A / D, at the top of the lobe."""
    width_deg: float
    """Standard deviation (gauss) or equivalent of the angle off the cone."""
    film_index: float = 1.5
    shape: str = "gauss"
    """gauss | lorentz | flat-top"""
    sheen: float = 0.0
    """Light added toward grazing directions, as a fraction of the matt part."""


def refract(direction: Doubles, film_index: float) -> Doubles:
    """Return the unit direction inside the film of a unit direction outside (Snell), last axis xyz.

    Examples
    --------
    >>> inside = refract(np.array([0.0, np.sin(np.radians(30)), np.cos(np.radians(30))]), 1.5)
    >>> round(float(np.degrees(np.arcsin(inside[1]))), 4)
    19.4712
    """
    flat = direction[..., :2] / film_index
    z = np.sqrt(1 - (flat**2).sum(axis=-1, keepdims=True))
    return np.concatenate([flat, z], axis=-1)


def transmittance(cosine: Doubles, film_index: float) -> Doubles:
    """Return the share of unpolarised light that passes the surface: 1 - Fresnel.

    Examples
    --------
    >>> round(float(transmittance(np.cos(np.radians(45)), 1.5)), 5)
    0.94976
    """
    cos_out = np.asarray(cosine, np.float64)
    cos_in = np.sqrt(1 - (1 - cos_out**2) / film_index**2)
    s = ((cos_out - film_index * cos_in) / (cos_out + film_index * cos_in)) ** 2
    p = ((film_index * cos_out - cos_in) / (film_index * cos_out + cos_in)) ** 2
    return np.asarray(1 - (s + p) / 2)


def fibre_axis(tilt_deg: Floats, angle_deg: Floats | float) -> tuple[Floats, Floats, Floats]:
    """Return the three components of the fibre direction."""
    tilt, angle = np.radians(tilt_deg), np.radians(angle_deg)
    flat = np.cos(tilt)
    return (
        np.asarray(flat * np.sin(angle), np.float32),
        np.asarray(flat * np.cos(angle), np.float32),
        np.asarray(np.sin(tilt), np.float32),
    )


def lobe_value(
    psi_in: Floats | Doubles, psi_out: Floats | Doubles, lobe: Lobe, *, lamp_spread_deg: float = 0.0
) -> Floats:
    """Return the highlight F, 1 at its top: off-cone lobe over the squared cosine of the half turn.

    Parameters
    ----------
    psi_in, psi_out : ndarray
        Angles between lamp, viewer (both refracted) and the plane across the fibre, radians.
    lamp_spread_deg : float
        Standard deviation of the lamp's angular size; it widens the lobe and lowers it.
    """
    own = np.radians(lobe.width_deg)
    spread = float(np.hypot(own, np.radians(lamp_spread_deg) / lobe.film_index))
    off = np.asarray((psi_in + psi_out) / spread, np.float32)
    square = off * off
    if lobe.shape == "gauss":
        value = cv2.exp(-0.5 * square)
    elif lobe.shape == "lorentz":
        value = 1 / (1 + square / 1.386)
    elif lobe.shape == "flat-top":
        value = cv2.exp(-(square * square) / 5.5)
    else:
        raise ValueError(f"The lobe has no shape {lobe.shape!r}; use gauss, lorentz or flat-top.")
    half = np.cos((psi_out - psi_in) / 2)
    return np.asarray(value.reshape(off.shape) * (own / spread) / (half * half), np.float32)


def highlight(
    fibre: tuple[Floats, Floats, Floats],
    lamp_inside: Floats | Doubles,
    eye_inside: Floats | Doubles,
    lobe: Lobe,
    *,
    lamp_spread_deg: float = 0.0,
) -> Floats:
    """Return R F of fibres under refracted directions (last axis xyz) that broadcast to them."""
    psi = [
        np.arcsin(
            np.clip(
                inside[..., 0] * fibre[0] + inside[..., 1] * fibre[1] + inside[..., 2] * fibre[2],
                -1,
                1,
            )
        )
        for inside in (lamp_inside, eye_inside)
    ]
    return lobe.ratio * lobe_value(psi[0], psi[1], lobe, lamp_spread_deg=lamp_spread_deg)


def matt_gain(to_lamp: Doubles, to_viewer: Doubles, lobe: Lobe) -> tuple[Doubles, Doubles]:
    """Return T_i T_r of the matt part, and the sheen that comes on top of 1 + R F."""
    through = transmittance(to_lamp[..., 2], lobe.film_index) * transmittance(
        to_viewer[..., 2], lobe.film_index
    )
    return through, lobe.sheen * (1 - to_lamp[..., 2]) ** 2


def reflectance_gain(
    tilt_deg: Floats,
    angle_deg: Floats | float,
    to_lamp: Doubles,
    to_viewer: Doubles,
    lobe: Lobe,
) -> Floats:
    """Return T_i T_r (1 + R F): what the matt colour is to be multiplied with.

    Parameters
    ----------
    tilt_deg, angle_deg : ndarray or float
        Fibre tilt out of the face and angle in the face.
    to_lamp, to_viewer : ndarray, shape (..., 3)
        Unit directions that broadcast against the tilt.

    Examples
    --------
    >>> up = np.array([0.0, 0.0, 1.0])
    >>> lamp = np.array([0.0, np.sin(np.radians(15)), np.cos(np.radians(15))])
    >>> flat = np.zeros(1, np.float32)
    >>> gain = reflectance_gain(flat, 0.0, lamp, up, Lobe(ratio=1.0, width_deg=10.0))
    >>> bool(0.96**2 * 1.6 < gain[0] < 0.96**2 * 1.63)
    True
    """
    through, sheen = matt_gain(to_lamp, to_viewer, lobe)
    shine = highlight(
        fibre_axis(tilt_deg, angle_deg),
        refract(to_lamp, lobe.film_index),
        refract(to_viewer, lobe.film_index),
        lobe,
    )
    return np.asarray(through * (1 + shine + sheen), np.float32)


def even_light_gain(tilt_deg: Floats, lobe: Lobe) -> Floats:
    """Return the same gain under an even white sky, seen from straight above.

    The sky is summed over directions for a table of tilts, and the table read.
    """
    steps = np.arange(-40.0, 40.5, 1.0)
    cosines = np.sqrt((np.arange(24) + 0.5) / 24)
    azimuths = (np.arange(36) + 0.5) / 36 * 2 * np.pi
    sine = np.sqrt(1 - cosines**2)[:, None]
    sky = np.stack(
        [
            sine * np.cos(azimuths),
            sine * np.sin(azimuths),
            np.broadcast_to(cosines[:, None], (24, 36)),
        ],
        axis=-1,
    ).reshape(1, -1, 3)
    gain = reflectance_gain(
        steps.astype(np.float32)[:, None], 0.0, sky, np.array([0.0, 0.0, 1.0]), lobe
    ).mean(axis=1)
    return np.asarray(np.interp(tilt_deg, steps, gain), np.float32)
