"""A leaf under a lamp that stands anywhere along the grain, from two photographs of it.

The two photographs are the anchor: each is divided by what the fitted highlight sent under its own
lamp and multiplied by what it will send under the lamp wanted, and the two are blended in linear
light, the nearer lamp's the more. Under a photographed lamp the photograph itself comes back, pixel
for pixel. Where the slope of the fibres at a place is known only to some degrees, its highlight is
taken that much wider and lower.

The relighter on screen (`ui/theme/relit_view.js`) does the same arithmetic; this is the reference.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.colour_space import linear_to_srgb8, srgb_to_linear
from vision.laying import reverses_rows, shows_other_face
from vision.optics import fibre_lobe, refract, transmit
from vision.readings import LampAndEye
from vision.shot import Laid

Doubles = NDArray[np.float64]

SLOPE_RANGE = 0.5
"""Radians to either side that a coded slope spans."""
SPREAD_RANGE = 0.25
"""Radians that a coded spread spans."""
LEAST_APART = 1e-3
"""Radians of half-way angle under which two photographs count as taken in one light."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where lamp and eye stand over one leaf of a match, in lengths of that leaf.

    Measured from the foot, the point under the eye; ``lamp_along`` runs down the rows of the match.
    """

    foot: float
    """Where the foot lies, as a fraction of the leaf's length from its top."""
    lamp_along: float
    lamp_across: float
    lamp_height: float
    eye_height: float
    same_face: bool = True
    """False for a photograph of the face that lies down in the match: every slope meets its lamp
    and eye from the other side."""


@dataclass(frozen=True, slots=True, eq=False)
class RelitLeaf:
    """One leaf as it lies in the match: two photographs, and how its fibres rise.

    Parameters
    ----------
    pictures : two ndarrays of uint8, shape (rows, columns, 3)
        sRGB, both moved to how the leaf lies and laid over each other.
    figure : ndarray of uint8, shape (rows, columns, 3)
        Coded slope (`slope_of`), coded spread of the slope (`spread_of`), cover.
    seen : two Standing
        Where lamp and eye stood for each picture.
    strength, width : float
        Of the fibres' highlight: over diffuse light; radians.
    """

    pictures: tuple[NDArray[np.uint8], NDArray[np.uint8]]
    figure: NDArray[np.uint8]
    seen: tuple[Standing, Standing]
    strength: float
    width: float


def standing_in_match(stood: LampAndEye, foot: float, moved: Laid) -> Standing:
    """Return where lamp and eye stood for a photograph whose drawing is moved into a match.

    Examples
    --------
    >>> stood = LampAndEye(-0.7, 0.0, 1.0, 1.2)
    >>> standing_in_match(stood, 0.4, Laid.END_TURNED)
    Standing(foot=0.6, lamp_along=0.7, lamp_across=0.0, lamp_height=1.0, eye_height=1.2, \
same_face=True)
    """
    turned = reverses_rows(moved)
    return Standing(
        foot=1 - foot if turned else foot,
        lamp_along=-stood.lamp_along if turned else stood.lamp_along,
        lamp_across=stood.lamp_across,
        lamp_height=stood.lamp_height,
        eye_height=stood.eye_height,
        same_face=not shows_other_face(moved),
    )


def slope_of(coded: NDArray[np.uint8]) -> Doubles:
    """Return slopes, radians, positive where fibres rise toward the lower end of the match."""
    return (coded.astype(np.float64) / 255 * 2 - 1) * SLOPE_RANGE


def spread_of(coded: NDArray[np.uint8]) -> Doubles:
    """Return by how much, radians, a place's slope may be off."""
    return coded.astype(np.float64) / 255 * SPREAD_RANGE


def code_figure(slope: Doubles, spread: Doubles, cover: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return slope, spread and cover as one picture of eight bits a channel.

    Examples
    --------
    >>> coded = code_figure(np.array([[0.1]]), np.array([[0.02]]), np.array([[255]], np.uint8))
    >>> round(float(slope_of(coded[..., 0])[0, 0]), 2), coded.tolist()
    (0.1, [[[153, 20, 255]]])
    """
    slopes = np.clip(np.rint((slope / SLOPE_RANGE + 1) / 2 * 255), 0, 255)
    spreads = np.clip(np.rint(spread / SPREAD_RANGE * 255), 0, 255)
    return np.stack([slopes, spreads, cover], axis=-1).astype(np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class Angles:
    """Refracted angles of lamp and eye, and the log share of light passed, place by place."""

    lamp: Doubles
    eye: Doubles
    log_passed: Doubles

    @property
    def half_way(self) -> Doubles:
        """Twice the angle half-way between lamp and eye: all that the highlight asks of them."""
        return self.lamp + self.eye


def angles_along(stood: Standing, place: Doubles) -> Angles:
    """Return the angles at places along a leaf, fractions of its length from its top."""
    from_foot = place - stood.foot
    along = stood.lamp_along - from_foot
    sign = 1 if stood.same_face else -1
    lamp = sign * along / np.sqrt(along**2 + stood.lamp_across**2 + stood.lamp_height**2)
    eye = -sign * from_foot / np.hypot(from_foot, stood.eye_height)
    return Angles(refract(lamp), refract(eye), np.log(transmit(lamp) * transmit(eye)))


def log_response(
    seen: Angles,
    slope: Doubles,
    *,
    strength: float | Doubles,
    width: float | Doubles,
    spread: float | Doubles = 0.0,
) -> Doubles:
    """Return the log of what wood of even colour sends; every argument broadcasts.

    A slope known to ``spread`` meets the highlight as one wider and lower by as much: the mean of a
    Gaussian over a Gaussian.
    """
    wide = np.sqrt(np.square(width) + 4 * np.square(spread))
    lobe = fibre_lobe(seen.lamp, seen.eye, slope=slope, width=wide)
    return np.asarray(seen.log_passed + np.log1p(strength * width / wide * lobe))


def share_of_first(wanted: Angles, seen: tuple[Angles, Angles]) -> Doubles:
    """Return the first photograph's share in the blend: 1 under its own lamp, 0 under the other."""
    first, second = (one.half_way for one in seen)
    apart = first - second
    told = np.abs(apart) > LEAST_APART
    share = (wanted.half_way - second) / np.where(told, apart, 1.0)
    return np.where(told, np.clip(share, 0, 1), 0.5)


def relight(leaf: RelitLeaf, stood: Standing) -> NDArray[np.uint8]:
    """Return a leaf as it lies in the match, lit from where the lamp stands.

    Parameters
    ----------
    leaf : RelitLeaf
    stood : Standing
        Lamp and eye over that leaf.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB; fall-off of the lamp's light is left out, as in the kept pictures.
    """
    rows = len(leaf.figure)
    place = ((np.arange(rows) + 0.5) / rows)[:, None]
    slope, spread = slope_of(leaf.figure[..., 0]), spread_of(leaf.figure[..., 1])
    at = [angles_along(one, place) for one in (stood, *leaf.seen)]
    sent = [
        log_response(one, slope, strength=leaf.strength, width=leaf.width, spread=spread)
        for one in at
    ]
    first = share_of_first(at[0], (at[1], at[2]))
    gains = (first * np.exp(sent[0] - sent[1]), (1 - first) * np.exp(sent[0] - sent[2]))
    light = sum(
        srgb_to_linear(picture) * gain[..., None].astype(np.float32)
        for picture, gain in zip(leaf.pictures, gains, strict=True)
    )
    return linear_to_srgb8(np.asarray(light, dtype=np.float32))
