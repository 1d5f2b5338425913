"""From where each slice of a leaf is lit and seen, told in the leaf's own axes.

A leaf that was turned is, in light and dark, the unturned leaf with lamp and eye carried to the
mirrored side: face over reverses them along the leaf, end over across it, end turned both (fibres
have no head, so these half turns of the leaf are half turns of lamp and eye; see `vision.laying`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vision.laying import reverses_columns, reverses_rows
from vision.optics import OffCone, off_cone, refract_direction, transmit
from vision.piece import cos_sin
from vision.readings import SLICES, LampAndEye
from vision.shot import Laid

Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Lighting:
    """Directions inside the film, slice by slice in the rows of the leaf as it lies.

    ``lamp`` has shape (sources, SLICES, 3), ``eye`` (SLICES, 3); ``share`` (sources, SLICES) is
    what each source gives of the light that falls on a slice, times what passes the surface on
    the way in and out.
    """

    lamp: Doubles
    eye: Doubles
    share: Doubles


@dataclass(frozen=True, slots=True, eq=False)
class Response:
    """Log light of each slice over that of its wood, and its derivatives."""

    log_light: Doubles
    by_slope: Doubles
    by_strength: Doubles
    """By the log of the strength."""
    by_width: Doubles
    """By the log of the width."""
    by_lean: Doubles
    by_swing: Doubles
    """By the log of the swing."""


def slice_places(laid: Laid) -> Doubles:
    """Return where the slices lie on the board, 0 to 1 from its top, in the leaf's own rows."""
    place = (np.arange(SLICES) + 0.5) / SLICES
    return place[::-1] if reverses_rows(laid) else place


def lighting(
    laid: Laid,
    to_lamps: Doubles,
    to_eye: Doubles,
    irradiance: Doubles,
    *,
    turned_deg: float = 0.0,
) -> Lighting:
    """Return the lighting of a leaf so laid, and then turned in its plane.

    Parameters
    ----------
    laid : Laid
    to_lamps, to_eye : ndarray, shape (sources, SLICES, 3) and (SLICES, 3)
        Unit directions on the board: right, down the rows, out; slices in the leaf's own rows.
    irradiance : ndarray, shape (sources, SLICES)
        Light of each source on a surface that lies there.
    turned_deg : float
        By how much the leaf so laid is turned, clockwise as seen.
    """
    to_lamps, to_eye = (_turned_back(one, turned_deg) for one in (to_lamps, to_eye))
    signs = np.array(
        [-1.0 if reverses_rows(laid) else 1.0, -1.0 if reverses_columns(laid) else 1.0, 1.0]
    )
    passed = transmit(_sine(to_lamps)) * transmit(_sine(to_eye))
    total = irradiance.sum(axis=0)
    return Lighting(
        refract_direction(to_lamps * signs),
        refract_direction(to_eye * signs),
        irradiance / total * passed,
    )


def lighting_on_board(
    laid: Laid, stood: LampAndEye, foot: float, *, lamp_off: float = 0.0
) -> Lighting:
    """Return the lighting of a photograph, from where its lamp and eye stood.

    ``lamp_off`` carries the lamp down the board, in leaf lengths.
    """
    place = slice_places(laid) - foot
    nothing = np.zeros(SLICES)
    to_lamp = np.stack(
        [
            np.full(SLICES, stood.lamp_across),
            stood.lamp_along + lamp_off - place,
            np.full(SLICES, stood.lamp_height),
        ],
        axis=-1,
    )
    to_eye = np.stack([nothing, -place, np.full(SLICES, stood.eye_height)], axis=-1)
    return lighting(laid, unit(to_lamp)[None], unit(to_eye), np.ones((1, SLICES)))


def respond(
    lit: Lighting,
    slope: Doubles,
    *,
    strength: Doubles,
    width: Doubles,
    lean: Doubles,
    swing: Doubles,
) -> Response:
    """Return log light of slices over that of their wood: log of T T' (1 + R F), with derivatives.

    Where the slope swings about its mean within a slice, as in fiddleback and ribbon, F is the
    mean over it: a Gaussian lobe that much wider and lower.

    Parameters
    ----------
    lit : Lighting
        Its arrays may have more axes in front, which broadcast.
    slope : ndarray, shape (..., SLICES)
    strength, width, lean : ndarray, shape (...)
        Of the highlight over diffuse light; radians; in the face, radians.
    swing : ndarray, shape (..., SLICES)
        Standard deviation of the slope within each slice, radians.
    """
    seen = _highlight(lit, slope, strength=strength, width=width, lean=lean, swing=swing)
    lamp, eye, about, half, square, kept, shine = seen
    falling, turning = -about / square, np.tan(half)
    sent = lit.share * (1 + shine)
    total = sent.sum(axis=-2)
    weight = lit.share * shine

    def summed(part: Doubles) -> Doubles:
        return np.asarray((weight * part).sum(axis=-2) / total)

    return Response(
        np.log(total),
        summed((falling - turning) * lamp.by_slope + (falling + turning) * eye.by_slope),
        summed(np.ones_like(about)),
        summed(1 + kept * (about**2 / square - 1)),
        summed((falling - turning) * lamp.by_lean + (falling + turning) * eye.by_lean),
        summed((1 - kept) * (about**2 / square - 1)),
    )


def log_respond(
    lit: Lighting,
    slope: Doubles,
    *,
    strength: Doubles,
    width: Doubles,
    lean: Doubles,
    swing: Doubles,
) -> Doubles:
    """Return the log light of `respond` alone."""
    seen = _highlight(lit, slope, strength=strength, width=width, lean=lean, swing=swing)
    return np.asarray(np.log((lit.share * (1 + seen.shine)).sum(axis=-2)))


class _Highlight(NamedTuple):
    """The highlight of every source on every slice, and what it comes of."""

    lamp: OffCone
    eye: OffCone
    about: Doubles
    half: Doubles
    square: Doubles
    """Of its width, with the swing in it."""
    kept: Doubles
    """The share of that which is its own."""
    shine: Doubles
    """Over diffuse light."""


def _highlight(
    lit: Lighting,
    slope: Doubles,
    *,
    strength: Doubles,
    width: Doubles,
    lean: Doubles,
    swing: Doubles,
) -> _Highlight:
    ratio, beta, leaning = (np.asarray(value)[..., None, None] for value in (strength, width, lean))
    tilt = slope[..., None, :]
    lamp = off_cone(lit.lamp, tilt, leaning)
    eye = off_cone(lit.eye[..., None, :, :], tilt, leaning)
    about, half = lamp.angle + eye.angle, (eye.angle - lamp.angle) / 2
    moved = (lamp.by_slope + eye.by_slope) * np.asarray(swing)[..., None, :]
    square = np.square(beta) + np.square(moved)
    kept = np.square(beta) / square
    shine = ratio * np.sqrt(kept) * np.exp(-(about**2) / (2 * square)) / np.cos(half) ** 2
    return _Highlight(lamp, eye, about, half, square, kept, shine)


def unit(vector: Doubles) -> Doubles:
    """Return vectors (last axis) of length one."""
    return np.asarray(vector / np.linalg.norm(vector, axis=-1, keepdims=True))


def _turned_back(direction: Doubles, turned_deg: float) -> Doubles:
    """Return directions on the board (right, down, out) as a leaf turned clockwise has them."""
    cos, sin = cos_sin(turned_deg)
    right, down, out = direction[..., 0], direction[..., 1], direction[..., 2]
    return np.stack([cos * right + sin * down, cos * down - sin * right, out], axis=-1)


def _sine(direction: Doubles) -> Doubles:
    return np.asarray(np.minimum(np.hypot(direction[..., 0], direction[..., 1]), 1.0))
