"""How places of leaves look in a light that was never photographed, and the step between two.

What the fit of a leaf (`vision.slope_fit`) says of its fibres gives the light of every place of it
for lamps and an eye anywhere, with its derivatives by all that was fitted, and so the interval.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision.alternation import CENTRE, SEGMENTS
from vision.colour_space import linear_to_lab
from vision.curl import curl_sd
from vision.leaf_lighting import Lighting, lighting, unit
from vision.light_profile import LUMINANCE
from vision.piece import cos_sin
from vision.readings import SLICES, Evidence, PairAlternation, SegmentStep
from vision.room_lights import Room
from vision.settings import VisionSettings
from vision.shot import Laid
from vision.slope_fit import SlopeFit
from vision.slope_solver import (
    FACE_LIGHT,
    FACE_WIDTH,
    LEAN,
    OF_LEAF,
    SLOPE,
    STRENGTH,
    SWING,
    WIDTH,
    WOOD,
)
from vision.step_grade import Z95, flag_between, grade, hypot, worst_difference

Doubles = NDArray[np.float64]

MODEL_SD, MODEL_SHARE = 0.3, 0.1
"""L*, and share of a step, by which a light off the photographed ones is misjudged though the fit
is right: real highlights are not quite of the assumed form. With 0.2, nine in ten intervals held
in simulation with other forms."""
TURN_SHARE = 0.2
"""The same share more for a piece turned square to the lamp, where no photograph was taken under a
lamp at the side: light across the grain is then inferred from light along it. In simulation with
highlights of other forms such steps came out a fifth off."""


@dataclass(frozen=True, slots=True, eq=False)
class RoomSide:
    """One leaf of a pair as it will look in a room, slice by slice from the top of the match."""

    light: Doubles
    """Linear R, G, B, shape (SLICES, 3)."""
    by_unknown: Doubles
    """Derivative of log light by what was fitted, shape (SLICES, OF_LEAF)."""
    spread: Doubles
    """Covariance of what was fitted."""
    face_seen: bool
    curl_sd: float
    """Radians of slope that may be the leaf's own curl (`vision.curl`)."""
    model_share: float = MODEL_SHARE
    """Share of a step by which a light off the photographed ones is misjudged."""

    def from_below(self) -> RoomSide:
        """Return the same, its places in the other order."""
        return replace(self, light=self.light[::-1], by_unknown=self.by_unknown[::-1])


Sides = tuple[RoomSide, RoomSide]


def show_places(
    fit: SlopeFit, laid: Laid, lit: Lighting, shares: Doubles, *, turned_deg: float
) -> RoomSide:
    """Return how places of a leaf so laid will look.

    Parameters
    ----------
    fit : SlopeFit
    laid : Laid
    lit : Lighting
        Of each place.
    shares : ndarray, shape (places, SLICES)
        How much of each slice of the leaf is at each place; rows add up to 1.
    turned_deg : float
        By how much the leaf is turned in its plane; ``lit`` has it already.
    """
    there = replace(fit, slope=shares @ fit.slope, swing=shares @ fit.swing)
    seen = there.respond(laid, lit)
    other = fit.shows_other(laid)
    by = np.zeros((len(shares), OF_LEAF))
    by[:, SLOPE] = seen.by_slope[:, None] * shares
    by[:, STRENGTH], by[:, WIDTH], by[:, LEAN] = seen.by_strength, seen.by_width, seen.by_lean
    by[:, WOOD] = shares
    by[:, SWING] = seen.by_swing[:, None] * shares
    log_light = seen.log_light
    if other:
        by[:, FACE_WIDTH], by[:, FACE_LIGHT] = seen.by_width, 1.0
        log_light = log_light + fit.face_light
    light = np.exp(shares @ np.log(fit.wood) + log_light[:, None])
    unseen = 0.0 if fit.side_seen else TURN_SHARE * cos_sin(turned_deg)[1] ** 2
    return RoomSide(
        light,
        by,
        fit.spread,
        fit.both_faces or not other,
        curl_sd(fit),
        hypot(MODEL_SHARE, unseen),
    )


def sloped_back(fit: SlopeFit) -> SlopeFit:
    """Return the fit of the same leaf were its fibres to slope and lean the other way."""
    return replace(fit, slope=-fit.slope, lean=-fit.lean)


def light_at(at_mm: Doubles, laid: Laid, room: Room, *, turned_deg: float) -> Lighting:
    """Return from where places of a panel are lit and seen, told in the axes of a leaf there.

    Parameters
    ----------
    at_mm : ndarray, shape (places, 3)
        In the axes of `vision.room_lights`.
    laid : Laid
        How the leaf lies.
    room : Room
    turned_deg : float
        By how much it is then turned, clockwise as seen.
    """
    to_lamps = room.places_mm[:, None, :] - at_mm
    to_eye = np.array(room.eye_mm) - at_mm
    square = (to_lamps**2).sum(axis=-1)
    toward = unit(to_lamps)
    sent = np.where(
        (room.facing != 0).any(axis=1)[:, None],
        np.clip(-np.einsum("msx,mx->ms", toward, room.facing), 0.0, None),
        1.0,
    )
    irradiance = room.power[:, None] * sent * np.clip(toward[..., 2], 1e-9, None) / square
    down = np.array([1.0, -1.0, 1.0])
    return lighting(laid, toward * down, unit(to_eye) * down, irradiance, turned_deg=turned_deg)


def judge_sides(
    labels: tuple[str, str],
    sides: Sides,
    sloped_back: Sides,
    *,
    match: str,
    light: str,
    settings: VisionSettings,
) -> PairAlternation:
    """Return light and dark of two leaves side by side, slice by slice of their joint.

    Parameters
    ----------
    labels : (str, str)
    sides, sloped_back : two of RoomSide
        How they will look, and how they would with all slopes the other way (`sloped_back`).
    match, light : str
        For the record.
    settings : VisionSettings
        For the limits of the flags.
    """
    each = SLICES // SEGMENTS
    windows = [slice(index * each, (index + 1) * each) for index in range(SEGMENTS)]
    segments = []
    colours = []
    for index, window in enumerate(windows):
        colours.append((_lab(sides[0].light[window]), _lab(sides[1].light[window])))
        step, sd = step_between(sides, window)
        low, high = index / SEGMENTS, (index + 1) / SEGMENTS
        apart = worst_difference(colours[-1:], [(step, sd)], hue_is_sure=True)[1]
        segments.append(SegmentStep(low, high, step, sd, apart))
    step, sd = step_between(sides, CENTRE)
    low, middle, high = worst_difference(
        colours,
        [(segment.lightness_step, segment.sd) for segment in segments],
        hue_is_sure=all(side.face_seen for side in sides),
    )
    other, _sd = step_between(sloped_back, CENTRE)
    tilt = (step - other) / 2
    return PairAlternation(
        left=labels[0],
        right=labels[1],
        match=match,
        light=light,
        lightness_step=step,
        lightness_low=step - Z95 * sd,
        lightness_high=step + Z95 * sd,
        delta_e00=middle,
        delta_e00_low=low,
        delta_e00_high=high,
        tilt_part=tilt,
        face_part=step - tilt,
        local_rms=None,
        likely=grade(middle, settings),
        flag=flag_between(low, high, settings),
        evidence=Evidence.MODEL,
        segments=tuple(segments),
    )


def step_between(sides: Sides, window: slice) -> tuple[float, float]:
    """Return the L* step (right minus left) of mean light over a window, and its sd."""
    labs, variance = [], 0.0
    for side in sides:
        part = side.light[window]
        lab = _lab(part)
        luminance = part @ LUMINANCE.astype(np.float64)
        by = (lab[0] + 16) / 3 * (luminance / luminance.sum()) @ side.by_unknown[window]
        variance += float(by @ side.spread @ by) + float(by[SLOPE].sum() * side.curl_sd) ** 2
        labs.append(lab)
    step = float(labs[1][0] - labs[0][0])
    return step, hypot(
        float(np.sqrt(variance)), MODEL_SD, max(side.model_share for side in sides) * step
    )


def _lab(light: Doubles) -> Doubles:
    return linear_to_lab(light.mean(axis=0))
