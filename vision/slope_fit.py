"""Fibre slope along one leaf, fitted to its photographs under two lamps or two layings.

Two photographs of one face, with the slope once toward and once away from the lamp, hold more
than a difference: how light changes along the leaf, as lamp and eye pass over it, tells how wide
and how strong the fibres' highlight is. With that known, what the leaf will send laid another way
can be worked out at every place along it, which no photograph of the same face shows directly:
the eye of the turned leaf stands on the other side of the foot of the camera.

Only lamps past the ends are fitted, in the plane of the grain.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from vision.laying import reverses_rows, slope_sign
from vision.leaf_light import LeafLight
from vision.light_profile import LUMINANCE
from vision.optics import fibre_lobe, refract, transmit
from vision.readings import SLICES, LampAndEye
from vision.shot import Laid, Lamp

KNOTS = 6
"""Places along the leaf at which the slope is free; straight lines between."""
MEAN_SLOPE_SD = np.deg2rad(4.0)
SLOPE_CHANGE_SD = np.deg2rad(1.5)
"""Of the leaf's mean slope, and of a knot about it: fibre tilt maps of finished samples have
standard deviations of 1.8 to 2.2 deg about means up to 3 deg (decoded from the maps of the paper
named in `vision.optics`)."""
STRENGTH = (np.log(0.3), 0.9)
"""Mean and sd of the log of highlight over diffuse light."""
WIDTH = (np.log(np.deg2rad(12.0)), 0.4)
"""Mean and sd of the log of the highlight's width."""
SLICE_SD = 0.006
"""Noise of a slice's log light between two photographs of it."""
WOOD_SD = 0.05
"""Natural change of a leaf's log lightness along its length."""
TILTED_LIGHT_SD = 0.010
"""A slope along the leaf, end to end, left in a photograph's light."""
START_WIDTHS = np.log(np.deg2rad([8.0, 16.0]))
START = np.deg2rad(2.0)
"""Slope from which the fit sets out, with the sign that the middle of the leaf shows."""


@dataclass(frozen=True, slots=True, eq=False)
class SlopeFit:
    """What the photographs of one face of one leaf say of its fibres.

    Parameters
    ----------
    slope : ndarray, shape (SLICES,)
        Slope out of the face, radians, positive where fibres rise toward the lower end of the
        leaf as it lies.
    strength, width : float
        Of the fibres' highlight: over diffuse light; radians.
    log_wood : ndarray, shape (SLICES,)
        Log light of the wood itself, lamp and eye taken out.
    """

    slope: NDArray[np.float64]
    strength: float
    width: float
    log_wood: NDArray[np.float64]

    def log_light(
        self, laid: Laid, seen_from: LampAndEye, foot: float, *, width_times: float = 1.0
    ) -> NDArray[np.float64]:
        """Return the log light of the slices, in the rows of the leaf as it lies.

        Parameters
        ----------
        laid : Laid
            How the leaf lies under that lamp.
        seen_from : LampAndEye
            In the rows of the board.
        foot : float
            Where the point under the eye lies, as a fraction of the leaf's length from the top
            of the board.
        width_times : float
            The highlight's width over the fitted one, for a face that may differ.
        """
        lit = _lighting(laid, seen_from, foot)
        width = self.width * width_times
        return self.log_wood + _log_response(lit, self.slope, self.strength, width)


@dataclass(frozen=True, slots=True, eq=False)
class _Lighting:
    """Sines and refracted angles of lamp and eye along the fibres, slice by slice."""

    lamp_sine: NDArray[np.float64]
    eye_sine: NDArray[np.float64]
    lamp: NDArray[np.float64]
    eye: NDArray[np.float64]


@lru_cache(maxsize=512)
def fit_slopes(views: tuple[LeafLight, ...]) -> SlopeFit | None:
    """Return the slopes of one leaf, or None where its photographs cannot tell.

    Parameters
    ----------
    views : tuple of LeafLight
        Photographs of one face of one dry leaf, lamps A and B only. Needed: both signs of slope
        against lamp, and where lamp and eye stood.
    """
    known = [view for view in views if view.profile.station is not None]
    signs = {_toward(view) for view in known}
    if len(signs) < 2:
        return None
    lit = [
        _lighting(v.shot.laid, v.profile.station, v.profile.foot)
        for v in known
        if v.profile.station
    ]
    observed = np.array([_log_observed(view) for view in known])
    level_sd = max(view.profile.level_sd for view in known)
    toward = np.array([_toward(view) for view in known])
    lighter_under_a = float(
        toward @ (observed - observed.mean(axis=0))[:, SLICES // 4 : -SLICES // 4].mean(axis=1)
    )
    start = float(np.copysign(START, lighter_under_a))
    tried = [_solve(start, width, lit, observed, level_sd) for width in START_WIDTHS]
    best = min(tried, key=lambda found: found[0])[1]
    slope, strength, width, gains = _unpack(best, len(known))
    response = np.array([_log_response(one, slope, strength, width) for one in lit])
    return SlopeFit(slope, strength, width, (observed - gains - response).mean(axis=0))


def _toward(view: LeafLight) -> int:
    return slope_sign(view.shot.laid) * (1 if view.shot.lamp is Lamp.A else -1)


def _log_observed(view: LeafLight) -> NDArray[np.float64]:
    """Return the log light of the slices in the rows of the leaf as it lies."""
    light = np.log(np.asarray(view.profile.slices) @ LUMINANCE.astype(np.float64))
    return np.asarray(light[::-1] if reverses_rows(view.shot.laid) else light)


def _lighting(laid: Laid, stood: LampAndEye, foot: float) -> _Lighting:
    place = (np.arange(SLICES) + 0.5) / SLICES - foot
    if reverses_rows(laid):
        place = place[::-1]
    along = stood.lamp_along - place
    lamp_sine = along / np.sqrt(along**2 + stood.lamp_across**2 + stood.lamp_height**2)
    eye_sine = -place / np.hypot(place, stood.eye_height)
    sign = slope_sign(laid)
    lamp_sine, eye_sine = sign * lamp_sine, sign * eye_sine
    return _Lighting(lamp_sine, eye_sine, refract(lamp_sine), refract(eye_sine))


def _log_response(
    lit: _Lighting, slope: NDArray[np.float64], strength: float, width: float
) -> NDArray[np.float64]:
    passed = transmit(lit.lamp_sine) * transmit(lit.eye_sine)
    lobe = fibre_lobe(lit.lamp, lit.eye, slope=slope, width=width)
    return np.asarray(np.log(passed * (1 + strength * lobe)))


def _unpack(
    found: NDArray[np.float64], count: int
) -> tuple[NDArray[np.float64], float, float, NDArray[np.float64]]:
    """Return slopes, strength, width, and each photograph's log gain, slice by slice."""
    knots, rest = found[:KNOTS], found[KNOTS:]
    place = (np.arange(SLICES) + 0.5) / SLICES
    slope = np.interp(place, np.linspace(0, 1, KNOTS), knots)
    level, tilted = rest[2 : 2 + count], rest[2 + count :]
    gains = level[:, None] + tilted[:, None] * (place - 0.5)
    return slope, float(np.exp(rest[0])), float(np.exp(rest[1])), gains


def _solve(
    slope: float,
    log_width: float,
    lit: list[_Lighting],
    observed: NDArray[np.float64],
    level_sd: float,
) -> tuple[float, NDArray[np.float64]]:
    count = len(lit)

    def miss(found: NDArray[np.float64]) -> NDArray[np.float64]:
        slope, strength, width, gains = _unpack(found, count)
        response = np.array([_log_response(one, slope, strength, width) for one in lit])
        wood = observed - gains - response
        mean = wood.mean(axis=0)
        knots, rest = found[:KNOTS], found[KNOTS:]
        return np.concatenate(
            [
                ((wood - mean) / SLICE_SD).ravel(),
                (mean - mean.mean()) / WOOD_SD,
                [knots.mean() / MEAN_SLOPE_SD],
                (knots - knots.mean()) / SLOPE_CHANGE_SD,
                [(rest[0] - STRENGTH[0]) / STRENGTH[1], (rest[1] - WIDTH[0]) / WIDTH[1]],
                rest[2 : 2 + count] / level_sd,
                rest[2 + count :] / TILTED_LIGHT_SD,
            ]
        )

    first = np.concatenate([np.full(KNOTS, slope), [STRENGTH[0], log_width], np.zeros(2 * count)])
    found = least_squares(miss, first, method="trf", max_nfev=40)
    return float(found.cost), np.asarray(found.x)
