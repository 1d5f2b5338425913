"""Light and dark between neighbouring leaves: will they alternate, how strongly, in which light?

Fibres that rise out of the face send less light toward the eye when they rise toward the lamp,
more when they fall away from it. A book match turns every other leaf over, which reverses the
slope: one leaf darkens where the next lightens, and both change places when the lamp moves to the
other end (highlight on a cone about the fibre: Marschner, Westin, Arbree, Moon, "Measuring and
modeling the appearance of finished wood", ACM Transactions on Graphics 24(3), 2005).

What decides is therefore a photograph in which the slope lies as the match will show it. There
are three ways to one: the two leaves opened on the board, the lamp moved to the other end, the
leaf turned. One lone photograph shows no slope, and nothing is claimed from it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from vision.colour_space import delta_e00, linear_to_lab
from vision.flags import AlternationFlag
from vision.flitch_hue import level_hues
from vision.laying import reverses_columns, reverses_rows
from vision.leaf_light import LeafLight
from vision.readings import SLICES, Evidence, LightProfile, PairAlternation, SegmentStep
from vision.settings import VisionSettings
from vision.shot import Laid, Lamp, Shot
from vision.shown_light import ShownLight, as_photographed, show_light
from vision.stand_in import as_single
from vision.step_grade import Z95, flag_between, grade, hypot, worst_difference

Layings = tuple[Laid, Laid]
"""How the left and the right leaf of a pair lie; of two end to end, the upper and the lower."""
TURNED_IN: dict[str, Laid] = {
    "book": Laid.FACE_OVER,
    "slip": Laid.AS_LIES,
    "reverse-slip": Laid.END_TURNED,
    "end": Laid.END_OVER,
}
"""Match -> how the right leaf of a pair lies, of two end to end the lower; the other as it lies."""
LAMPS = (Lamp.A, Lamp.B)
SEGMENTS = 5
CENTRE = slice(SLICES // 4, SLICES - SLICES // 4)
"""The centre half of the length, where a lamp past the end stands at a good angle."""
FIRST_FIFTH, LAST_FIFTH = slice(0, SLICES // 5), slice(-(SLICES // 5), None)
BASE_SD = 0.15
"""L*: noise, JPEG, figure not averaged out, in each step."""
CURL_SD = 0.15
"""L*: a leaf held flat to about 1 mm still waves a little (0.6 L* per degree of slope)."""
MIRROR_SHARE = 0.4
"""Off the foot, a step read from the far side of the board is off by about this share of it, where
the photographs are too few for a fit."""
FIT_SD, FIT_SHARE = 0.25, 0.15
"""L*, and share of what the fit adds, by which a fit to two photographs is off."""
JOINT_BAND_MM = (3.0, 30.0)
"""Stripes of these periods count as figure that meets reversed at the joint."""

HALF_PASSED = 0.187
"""Sigma of the Gaussian, over the period of which it passes half: sqrt(ln 2 / 2) / pi."""


@dataclass(frozen=True, slots=True)
class SeenLeaf:
    """One photograph's light profiles: one, or left and right for an opened pair."""

    shot: Shot
    sides: tuple[LightProfile, ...]


def predict_alternation(
    order: Sequence[str],
    seen: Sequence[SeenLeaf],
    *,
    match: str = "book",
    settings: VisionSettings,
) -> tuple[PairAlternation, ...]:
    """Return light and dark for each pair of neighbours, under lamp A and under lamp B.

    Parameters
    ----------
    order : sequence of str
        Leaf labels in the order they lie; each and the next are neighbours.
    seen : sequence of SeenLeaf
        Every photograph of those leaves that was read; wet ones, and those joined from parts, are
        left aside.
    match : str
        ``book`` (the right leaf of each pair face over) or ``slip`` (both as they lie).
    settings : VisionSettings
        For the limits of the flags and the allowance for an unseen face.

    Returns
    -------
    tuple of PairAlternation
        Two entries a pair, lamp A first. Without evidence the flag is ``not-measured`` and every
        number None.

    Raises
    ------
    ValueError
        If the match is unknown.
    """
    layings = laid_in(match)
    views = level_hues(views_by_leaf(seen))
    found: list[PairAlternation] = []
    for left, right in pairwise(order):
        lights = [
            _judge_pair(pair, lamp, views=views, settings=settings)
            for lamp in LAMPS
            for pair in [_Pair(left, right, match, layings)]
        ]
        found.extend(_part_tilt_from_face(lights))
    return tuple(found)


def laid_in(match: str) -> Layings:
    """Return how the two leaves of a pair lie in a match.

    Raises
    ------
    ValueError
        If the match is unknown.
    """
    if match not in TURNED_IN:
        raise ValueError(f"Unknown match {match!r}; known are {', '.join(TURNED_IN)}.")
    return Laid.AS_LIES, TURNED_IN[match]


def judge_joint(
    labels: tuple[str, str],
    layings: Layings,
    *,
    match: str,
    is_end: bool,
    views: Mapping[str, Sequence[LeafLight]],
    settings: VisionSettings,
) -> tuple[PairAlternation, PairAlternation]:
    """Return light and dark where two leaves meet, however each is laid, lamp A first.

    Parameters
    ----------
    labels : (str, str)
        Left and right leaf; of two end to end, the upper and the lower.
    layings : (Laid, Laid)
    match : str
        Name of the match, for the record.
    is_end : bool
        Whether they meet end to end: then the fifth of each that is next to the joint is judged,
        else the whole length side by side.
    views : mapping of str to sequence of LeafLight
        What dry photographs of single leaves, none joined from parts, show of each leaf.
    settings : VisionSettings
    """
    pair = _Pair(*labels, match, layings, is_end)
    under_a, under_b = _part_tilt_from_face(
        [_judge_pair(pair, lamp, views=views, settings=settings) for lamp in LAMPS]
    )
    return under_a, under_b


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two leaves that meet."""

    left: str
    right: str
    match: str
    layings: Layings
    is_end: bool = False


def views_by_leaf(seen: Sequence[SeenLeaf]) -> dict[str, list[LeafLight]]:
    """Return the dry single photographs of each leaf; a side of an opened pair counts as one."""
    views: dict[str, list[LeafLight]] = {}
    for one in seen:
        if one.shot.wet or one.shot.blank or one.shot.parts:
            continue  # joined from parts: the eye stood elsewhere for each
        for leaf, profile in zip(one.shot.leaves, one.sides, strict=True):
            views.setdefault(leaf, []).append(LeafLight(as_single(one.shot, leaf), profile))
    return views


def _judge_pair(
    pair: _Pair,
    lamp: Lamp,
    *,
    views: Mapping[str, Sequence[LeafLight]],
    settings: VisionSettings,
) -> PairAlternation:
    left, right, match = pair.left, pair.right, pair.match
    shown = _opened_pair(pair, lamp, views)
    evidence = Evidence.OPENED_PAIR
    if shown is None:
        sides = (
            show_light(views.get(left, []), pair.layings[0], lamp),
            show_light(views.get(right, []), pair.layings[1], lamp),
        )
        if sides[0] is None or sides[1] is None:
            return not_measured(left, right, match=match, light=f"lamp {lamp.value}")
        shown = (sides[0], sides[1])
        evidence = _evidence(shown)
    if pair.is_end:
        shown = _at_end(shown[0], LAST_FIFTH), _at_end(shown[1], FIRST_FIFTH)
    same_photo = evidence is Evidence.OPENED_PAIR
    segments = tuple(
        _segment(shown, index, same_photo=same_photo, settings=settings)
        for index in range(SEGMENTS)
    )
    step, sd = _step(shown, CENTRE, same_photo=same_photo, settings=settings)
    low, middle, high = _worst(shown, segments)
    return PairAlternation(
        left=left,
        right=right,
        match=match,
        light=f"lamp {lamp.value}",
        lightness_step=step,
        lightness_low=step - Z95 * sd,
        lightness_high=step + Z95 * sd,
        delta_e00=middle,
        delta_e00_low=low,
        delta_e00_high=high,
        tilt_part=None,
        face_part=None,
        local_rms=None if pair.is_end else _local_rms(shown),
        likely=grade(middle, settings),
        flag=flag_between(low, high, settings),
        evidence=evidence,
        segments=segments,
    )


def not_measured(left: str, right: str, *, match: str, light: str) -> PairAlternation:
    """Return what is said of a pair on which no photograph bears in that light."""
    return PairAlternation(
        left=left,
        right=right,
        match=match,
        light=light,
        lightness_step=None,
        lightness_low=None,
        lightness_high=None,
        delta_e00=None,
        delta_e00_low=None,
        delta_e00_high=None,
        tilt_part=None,
        face_part=None,
        local_rms=None,
        likely=AlternationFlag.NOT_MEASURED,
        flag=AlternationFlag.NOT_MEASURED.value,
        evidence=Evidence.NONE,
    )


def _opened_pair(
    pair: _Pair, lamp: Lamp, views: Mapping[str, Sequence[LeafLight]]
) -> tuple[ShownLight, ShownLight] | None:
    """Return both sides of a photograph of this very pair opened under this lamp, if any."""
    if pair.layings != (Laid.AS_LIES, Laid.FACE_OVER) or pair.is_end:
        return None
    for here in views.get(pair.left, []):
        for there in views.get(pair.right, []):
            if (
                here.shot.file == there.shot.file
                and here.shot.lamp is lamp
                and here.shot.laid is Laid.AS_LIES
                and there.shot.laid is Laid.FACE_OVER
            ):
                return as_photographed(here), as_photographed(there)
    return None


def _at_end(side: ShownLight, part: slice) -> ShownLight:
    """Return a leaf's light as if all of it were like the part next to an end joint."""

    def alike(light: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.repeat(light[part].mean(axis=0, keepdims=True), len(light), axis=0)

    differs = side.if_face_differs
    return replace(
        side,
        light=alike(side.light),
        if_face_differs=None if differs is None else (alike(differs[0]), alike(differs[1])),
    )


def _evidence(shown: tuple[ShownLight, ShownLight]) -> Evidence:
    if all(side.face_seen for side in shown):
        return Evidence.SAME_FACE
    if any(side.view.shot.laid is Laid.END_TURNED for side in shown):
        return Evidence.END_TURNED
    return Evidence.LAMP_SWAP


def _step(
    shown: tuple[ShownLight, ShownLight],
    window: slice,
    *,
    same_photo: bool,
    settings: VisionSettings,
) -> tuple[float, float]:
    """Return the L* step (right minus left) of mean linear light over a window, and its sd."""
    labs = [_lab(side.light[window]) for side in shown]
    step = float(labs[1][0] - labs[0][0])
    lightness = float(labs[0][0] + labs[1][0]) / 2
    levels = [side.level_sd for side in shown]
    level = max(levels) if same_photo else hypot(*levels)
    scale = max(side.view.profile.scale_sd for side in shown) * step
    unseen = [_face_sd(side, window, settings) for side in shown if not side.face_seen]
    sd = hypot((lightness + 16) / 3 * level, BASE_SD, CURL_SD, scale, *unseen)
    return step, sd


def _face_sd(side: ShownLight, window: slice, settings: VisionSettings) -> float:
    """Return the standard deviation, L*, that a face which was not photographed adds."""
    if side.if_face_differs is None:
        return settings.face_sd
    middle = _lab(side.light[window])[0]
    narrower, wider = (_lab(light[window])[0] for light in side.if_face_differs)
    highlight = (abs(narrower - middle) + abs(wider - middle)) / 2
    own = (middle + 16) / 3 * settings.face_albedo_sd
    step_of_fit = _lab(np.asarray(side.view.profile.slices)[window])[0] - middle
    return hypot(highlight, own, FIT_SD, FIT_SHARE * step_of_fit)


def _lab(light: NDArray[np.float64]) -> NDArray[np.float64]:
    return linear_to_lab(light.mean(axis=0))


def _segment(
    shown: tuple[ShownLight, ShownLight], index: int, *, same_photo: bool, settings: VisionSettings
) -> SegmentStep:
    each = SLICES // SEGMENTS
    window = slice(index * each, (index + 1) * each)
    step, sd = _step(shown, window, same_photo=same_photo, settings=settings)
    if any(not side.face_seen and side.if_face_differs is None for side in shown):
        sd = hypot(sd, MIRROR_SHARE * step)
    labs = [_lab(side.light[window]) for side in shown]
    return SegmentStep(
        start=index / SEGMENTS,
        end=(index + 1) / SEGMENTS,
        lightness_step=step,
        sd=sd,
        delta_e00=float(delta_e00(labs[0], labs[1])),
    )


def _worst(
    shown: tuple[ShownLight, ShownLight], segments: Sequence[SegmentStep]
) -> tuple[float, float, float]:
    """Return low, middle and high CIEDE2000 of the worst segment."""
    each = SLICES // SEGMENTS
    windows = [slice(index * each, (index + 1) * each) for index in range(len(segments))]
    return worst_difference(
        [(_lab(shown[0].light[window]), _lab(shown[1].light[window])) for window in windows],
        [(segment.lightness_step, segment.sd) for segment in segments],
        hue_is_sure=all(side.face_seen for side in shown),
    )


def _part_tilt_from_face(lights: Sequence[PairAlternation]) -> list[PairAlternation]:
    """Split the two lamps' steps into what changes sign with the lamp and what stays."""
    under_a, under_b = lights
    if under_a.lightness_step is None or under_b.lightness_step is None:
        return list(lights)
    tilt = (under_a.lightness_step - under_b.lightness_step) / 2
    face = (under_a.lightness_step + under_b.lightness_step) / 2
    return [
        replace(under_a, tilt_part=tilt, face_part=face),
        replace(under_b, tilt_part=-tilt, face_part=face),
    ]


def _local_rms(shown: tuple[ShownLight, ShownLight]) -> float | None:
    """Return the RMS L* step along the joint in the band of `JOINT_BAND_MM`."""
    lines = [_joint_line(shown[0], is_left_leaf=True), _joint_line(shown[1], is_left_leaf=False)]
    pitch = shown[0].view.profile.edge_pitch_mm
    if pitch is None or pitch != shown[1].view.profile.edge_pitch_mm:
        return None
    count = min(len(line) for line in lines)
    if count * pitch < 4 * JOINT_BAND_MM[1]:
        return None
    step = lines[1][:count] - lines[0][:count]
    slow = gaussian_filter1d(step, HALF_PASSED * JOINT_BAND_MM[1] / pitch, mode="nearest")
    end = max(1, count // 20)
    return float(np.sqrt(np.mean((step - slow)[end:-end] ** 2)))


def _joint_line(side: ShownLight, *, is_left_leaf: bool) -> NDArray[np.float64]:
    """Return L* along the edge that meets the joint, in the rows of the match."""
    at_right = is_left_leaf != reverses_columns(side.moved)
    line = np.asarray(side.view.profile.edge_right if at_right else side.view.profile.edge_left)
    return line[::-1] if reverses_rows(side.moved) else line
