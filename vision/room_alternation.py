"""Light and dark between neighbours in a light that was never photographed.

The fit of each leaf (`vision.slope_fit`) says how its fibres slope and how they shine, and how
sure that is; from it the light of every slice is worked out for a lamp, a window or a sky anywhere,
and an eye anywhere. Both leaves are looked at in the same place, the middle of the panel, so that
the step is theirs and not the light's fall-off from one to the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from vision.alternation import (
    CENTRE,
    SEGMENTS,
    SeenLeaf,
    laid_in,
    not_measured,
    views_by_leaf,
)
from vision.colour_space import linear_to_lab
from vision.curl import curl_sd
from vision.finish import Finish, finished
from vision.laying import reverses_rows
from vision.leaf_lighting import Lighting, lighting, slice_places, unit
from vision.light_profile import LUMINANCE
from vision.readings import SLICES, Evidence, PairAlternation, SegmentStep
from vision.room_lights import Room
from vision.settings import VisionSettings
from vision.shot import Laid
from vision.slope_fit import SlopeFit, fit_flitch
from vision.slope_solver import FACE_LIGHT, FACE_WIDTH, LEAN, OF_LEAF, SLOPE, STRENGTH, WIDTH, WOOD
from vision.step_grade import Z95, flag_between, grade, hypot, worst_difference

Doubles = NDArray[np.float64]

USUAL_LENGTH_MM = 2000.0
"""Taken where no photograph tells how long the leaves are."""
MODEL_SD, MODEL_SHARE = 0.3, 0.1
"""L*, and share of a step, by which a light off the photographed ones is misjudged though the fit
is right: real highlights are not quite of the assumed form. With 0.2, nine in ten intervals held
in simulation with other forms."""


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


def predict_rooms(
    order: Sequence[str],
    seen: Sequence[SeenLeaf],
    *,
    rooms: Sequence[Room],
    match: str = "book",
    length_mm: float | None = None,
    finish: Finish | None = None,
    settings: VisionSettings,
) -> tuple[PairAlternation, ...]:
    """Return light and dark for each pair of neighbours in each room.

    Parameters
    ----------
    order : sequence of str
        Leaf labels in the order they lie; each and the next are neighbours.
    seen : sequence of SeenLeaf
        Every photograph of those leaves that was read.
    rooms : sequence of Room
        From `vision.room_lights`.
    match : str
        One of `vision.alternation.TURNED_IN`.
    length_mm : float or None
        Of the leaves; `USUAL_LENGTH_MM` where it is not known.
    finish : Finish or None
        Said of the leaves with that finish; as photographed without one.
    settings : VisionSettings
        For the limits of the flags.

    Returns
    -------
    tuple of PairAlternation
        One entry a pair and room, pair by pair. ``not-measured`` where a leaf was not photographed
        with its slope both toward and away from a lamp.
    """
    laid = laid_in(match)
    fits = fit_leaves(order, seen, finish=finish)
    length = length_mm or USUAL_LENGTH_MM
    return tuple(
        judge_in_room(
            (left, right),
            (fits[left], fits[right]),
            laid,
            room,
            match=match,
            length_mm=length,
            settings=settings,
        )
        for left, right in pairwise(order)
        for room in rooms
    )


def fit_leaves(
    order: Sequence[str], seen: Sequence[SeenLeaf], *, finish: Finish | None = None
) -> dict[str, SlopeFit | None]:
    """Return the fit of each leaf of a flitch, all fitted together; with a finish if any."""
    views = views_by_leaf(seen)
    labels = tuple(dict.fromkeys(order))
    fits = fit_flitch(tuple(tuple(views.get(label, ())) for label in labels))
    known = dict(zip(labels, fits, strict=True))
    if finish is None:
        return known
    return {leaf: None if fit is None else finished(fit, finish) for leaf, fit in known.items()}


def judge_in_room(
    labels: tuple[str, str],
    fits: tuple[SlopeFit | None, SlopeFit | None],
    laid: tuple[Laid, Laid],
    room: Room,
    *,
    match: str,
    length_mm: float,
    settings: VisionSettings,
) -> PairAlternation:
    """Return light and dark of one pair, so laid, in one room."""
    left, right = fits
    if left is None or right is None:
        return not_measured(*labels, match=match, light=room.name)
    sides = (
        show_in_room(left, laid[0], room, length_mm=length_mm),
        show_in_room(right, laid[1], room, length_mm=length_mm),
    )
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
    tilt = _tilt_part(fits=(left, right), laid=laid, room=room, length_mm=length_mm, step=step)
    return PairAlternation(
        left=labels[0],
        right=labels[1],
        match=match,
        light=room.name,
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


def show_in_room(fit: SlopeFit, laid: Laid, room: Room, *, length_mm: float) -> RoomSide:
    """Return how a leaf so laid will look in a room."""
    seen = fit.respond(laid, light_in_room(laid, room, length_mm=length_mm))
    other = fit.shows_other(laid)
    by = np.zeros((SLICES, OF_LEAF))
    each = np.arange(SLICES)
    by[each, SLOPE.start + each] = seen.by_slope
    by[:, STRENGTH], by[:, WIDTH], by[:, LEAN] = seen.by_strength, seen.by_width, seen.by_lean
    by[each, WOOD.start + each] = 1.0
    log_light = seen.log_light
    if other:
        by[:, FACE_WIDTH], by[:, FACE_LIGHT] = seen.by_width, 1.0
        log_light = log_light + fit.face_light
    light = fit.wood * np.exp(log_light)[:, None]
    if reverses_rows(laid):
        light, by = light[::-1], by[::-1]
    return RoomSide(light, by, fit.spread, fit.both_faces or not other, curl_sd(fit))


def light_in_room(laid: Laid, room: Room, *, length_mm: float) -> Lighting:
    """Return from where each slice of a leaf in the middle of the panel is lit and seen."""
    up = (0.5 - slice_places(laid)) * length_mm
    at = np.stack([np.zeros(SLICES), up, np.zeros(SLICES)], axis=-1)
    to_lamps = room.places_mm[:, None, :] - at
    to_eye = np.array(room.eye_mm) - at
    square = (to_lamps**2).sum(axis=-1)
    toward = unit(to_lamps)
    sent = np.where(
        (room.facing != 0).any(axis=1)[:, None],
        np.clip(-np.einsum("msx,mx->ms", toward, room.facing), 0.0, None),
        1.0,
    )
    irradiance = room.power[:, None] * sent * np.clip(toward[..., 2], 1e-9, None) / square
    down = np.array([1.0, -1.0, 1.0])
    return lighting(laid, toward * down, unit(to_eye) * down, irradiance)


def step_between(sides: tuple[RoomSide, RoomSide], window: slice) -> tuple[float, float]:
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
    return step, hypot(float(np.sqrt(variance)), MODEL_SD, MODEL_SHARE * step)


def _tilt_part(
    *,
    fits: tuple[SlopeFit, SlopeFit],
    laid: tuple[Laid, Laid],
    room: Room,
    length_mm: float,
    step: float,
) -> float:
    """Return the part of a step that would change its sign were all slopes the other way."""
    turned = tuple(
        show_in_room(_reversed(fit), how, room, length_mm=length_mm)
        for fit, how in zip(fits, laid, strict=True)
    )
    other, _sd = step_between((turned[0], turned[1]), CENTRE)
    return (step - other) / 2


def _reversed(fit: SlopeFit) -> SlopeFit:
    return replace(fit, slope=-fit.slope, lean=-fit.lean)


def _lab(light: Doubles) -> Doubles:
    return linear_to_lab(light.mean(axis=0))
