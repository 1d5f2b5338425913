"""Fibre slope along one leaf, fitted to its photographs under two lamps or two layings.

Two photographs of one leaf, with the slope once toward and once away from the lamp, hold more
than a difference: how light changes along the leaf, as lamp and eye pass over it, tells how wide
and how strong the fibres' highlight is. With that known, what the leaf will send laid another way,
or in another light, can be worked out at every place along it, with how sure that is.

A photograph under a lamp at the side tells how the fibres lean in the face; without one, the lean
stays at its prior, and lights across the grain are that much less sure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from vision.flitch_hue import settle_hues
from vision.laying import reverses_rows, shows_other_face, slope_sign
from vision.leaf_light import LeafLight
from vision.leaf_lighting import Lighting, Response, lighting_on_board, respond
from vision.light_profile import LUMINANCE
from vision.readings import SLICES, LampAndEye
from vision.shot import Laid, Lamp
from vision.slope_priors import (
    NOTHING_TOLD,
    SLICE_SD,
    SMALLEST_LEVEL_SD,
    ToldByOthers,
    hold_swing,
    pool_lobes,
    prior_mean,
    prior_precision,
)
from vision.slope_solver import (
    FACE_LIGHT,
    FACE_WIDTH,
    LAMP_STEP,
    LEAN,
    OF_LEAF,
    SLOPE,
    STRENGTH,
    SWING,
    WIDTH,
    WOOD,
    Problem,
    solve,
)
from vision.slope_swing import what_varies

Doubles = NDArray[np.float64]

START_WIDTHS = (np.log(np.deg2rad(8.0)), np.log(np.deg2rad(16.0)))
STRAIGHT, FIGURED = np.deg2rad(1.2), np.deg2rad(2.4)
"""Swings of the slope within slices up to which a leaf is straight, from which it is figured."""
START = np.deg2rad(2.0)
"""Slope from which the fit sets out, with the sign that the middle of the leaf shows."""
MOST_AT_ONCE = 16
"""Leaves solved together: the arrays stay small enough to be quick."""


@dataclass(frozen=True, slots=True, eq=False)
class SlopeFit:
    """What the photographs of one leaf say of its fibres.

    Parameters
    ----------
    slope : ndarray, shape (SLICES,)
        Slope out of the face, radians, positive where fibres rise toward the lower end of the
        leaf as it lies.
    strength, width : float
        Of the fibres' highlight on the face that was photographed most: over diffuse light;
        radians.
    log_wood : ndarray, shape (SLICES,)
        Log light of the wood itself, lamp and eye taken out.
    lean : float
        Of the fibres in the face, radians, positive where they run to the right going down.
    face_width, face_light : float
        Log of the other face's highlight width, and of its light, over this one's.
    wood : ndarray, shape (SLICES, 3)
        Linear R, G, B of the wood, lamp and eye taken out.
    spread : ndarray, shape (OF_LEAF, OF_LEAF)
        Covariance of all of these, in the order of `vision.slope_solver`.
    is_over : bool
        Whether the face photographed most is the one that shows when the leaf lies face over.
    both_faces : bool
        Whether both faces were photographed.
    swing : ndarray, shape (SLICES,)
        Standard deviation of the slope within each slice, radians (`vision.slope_swing`).
    side_seen : bool
        Whether a photograph under a lamp at the side is among them.
    """

    slope: Doubles
    strength: float
    width: float
    log_wood: Doubles
    lean: float
    face_width: float
    face_light: float
    wood: Doubles
    spread: Doubles
    is_over: bool
    both_faces: bool
    swing: Doubles
    side_seen: bool = False

    def shows_other(self, laid: Laid) -> bool:
        """Tell whether a leaf so laid shows the face that was photographed less, or not at all."""
        return shows_other_face(laid) != self.is_over

    def lobe_of_slices(self) -> tuple[float, float]:
        """Return strength and width of the highlight as slices show it: wider and lower than that
        of straight fibres, by as much as the slope swings within them."""
        width = float(np.sqrt(self.width**2 + 4 * np.square(self.swing).mean()))
        return self.strength * self.width / width, width

    def respond(self, laid: Laid, lit: Lighting) -> Response:
        """Return log light over the wood's own for a leaf so laid."""
        other = self.face_width if self.shows_other(laid) else 0.0
        return self._respond(lit, self.width * float(np.exp(other)))

    def log_light(
        self, laid: Laid, seen_from: LampAndEye, foot: float, *, width_times: float = 1.0
    ) -> Doubles:
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
        lit = lighting_on_board(laid, seen_from, foot)
        return self.log_wood + self._respond(lit, self.width * width_times).log_light

    def _respond(self, lit: Lighting, width: float) -> Response:
        ratio, beta, lean = (np.asarray(v) for v in (self.strength, width, self.lean))
        return respond(lit, self.slope, strength=ratio, width=beta, lean=lean, swing=self.swing)


@lru_cache(maxsize=512)
def fit_slopes(views: tuple[LeafLight, ...]) -> SlopeFit | None:
    """Return the slopes of one leaf, or None where its photographs cannot tell.

    Parameters
    ----------
    views : tuple of LeafLight
        Photographs of one dry leaf. Needed: both signs of slope against lamp A or B, and where
        lamp and eye stood; a lamp at the side is used besides.
    """
    return _fit([views], None)[0][0]


@lru_cache(maxsize=16)
def fit_flitch(leaves: tuple[tuple[LeafLight, ...], ...]) -> tuple[SlopeFit | None, ...]:
    """Return the slopes of each leaf of one flitch, fitted together.

    Leaves of one flitch are one wood: strength and width of the highlight that the others show
    stand in for the prior of each, which steadies leaves whose own photographs tell little.

    Parameters
    ----------
    leaves : tuple of tuples of LeafLight
        The photographs of each leaf, as in `fit_slopes`.
    """
    alone, found = _fit(leaves, None)
    told = pool_lobes([None if one is None else _lobe_of(one) for one in alone])
    together, _ = _fit(leaves, told, found)
    hues = settle_hues(leaves)
    return tuple(
        None if fit is None else replace(fit, wood=_of_luminance(fit.wood * hue, fit.log_wood))
        for fit, hue in zip(together, hues, strict=True)
    )


def _lobe_of(fit: SlopeFit) -> tuple[Doubles, Doubles]:
    at = [STRENGTH, WIDTH]
    return np.log([fit.strength, fit.width]), fit.spread[np.ix_(at, at)]


def _fit(
    leaves: Sequence[tuple[LeafLight, ...]],
    told: Sequence[ToldByOthers] | None,
    first_found: Mapping[int, Doubles] | None = None,
) -> tuple[list[SlopeFit | None], dict[int, Doubles]]:
    """Return the fits, and all unknowns of each leaf that was fitted, by its place.

    Where unknowns were found before, under other priors, the fit sets out from them.
    """
    fitted: list[SlopeFit | None] = [None] * len(leaves)
    found: dict[int, Doubles] = {}
    known = [(index, usable_views(views)) for index, views in enumerate(leaves)]
    known = [(index, views) for index, views in known if views]
    for count in sorted({len(views) for _, views in known}):
        alike = [(index, views) for index, views in known if len(views) == count]
        for first in range(0, len(alike), MOST_AT_ONCE):
            part = alike[first : first + MOST_AT_ONCE]
            chosen = [NOTHING_TOLD if told is None else told[index] for index, _ in part]
            before = None
            if first_found is not None:
                before = np.array([first_found[index] for index, _ in part])
            fits, unknowns = _fit_alike([views for _, views in part], chosen, before)
            for (index, _), fit, row in zip(part, fits, unknowns, strict=True):
                fitted[index], found[index] = fit, row
    return fitted, found


def usable_views(views: Sequence[LeafLight]) -> tuple[LeafLight, ...]:
    """Return the photographs that can be fitted; none unless the slope shows both ways."""
    known = tuple(
        view
        for view in views
        if view.profile.station is not None
        and view.shot.lamp in (Lamp.A, Lamp.B, Lamp.SIDE)
        and not view.shot.wet
        and view.shot.laid is not Laid.OPENED_PAIR
    )
    signs = {_toward(view) for view in known if view.shot.lamp is not Lamp.SIDE}
    return known if len(signs) == 2 else ()


def _fit_alike(
    leaves: Sequence[tuple[LeafLight, ...]],
    told: Sequence[ToldByOthers],
    found: Doubles | None,
) -> tuple[list[SlopeFit], Doubles]:
    """Return the fits of leaves with equally many photographs each, and their unknowns."""
    over = [_is_mostly_over(views) for views in leaves]
    observed = np.array([[_log_observed(view) for view in views] for views in leaves])
    levels = [
        max(max(view.profile.level_sd for view in views), SMALLEST_LEVEL_SD) for views in leaves
    ]
    problem = Problem(
        lit=_lit(leaves, 0.0),
        lamp_off=(_lit(leaves, -LAMP_STEP), _lit(leaves, LAMP_STEP)),
        observed=observed,
        other_face=np.array(
            [[float(shows_other_face(v.shot.laid) != mostly) for v in views]
             for views, mostly in zip(leaves, over, strict=True)]
        ),
        weight=np.full(observed.shape[:2], 1 / SLICE_SD),
        prior=np.array([prior_mean(*each) for each in zip(observed, told, strict=True)]),
        precision=np.array(
            [prior_precision(level, observed.shape[1], one)
             for level, one in zip(levels, told, strict=True)]
        ),
        varied=None,
        figured=np.zeros(len(leaves)),
    )  # fmt: skip
    if found is None:
        tried = [solve(problem, _start(problem, leaves, width)) for width in START_WIDTHS]
        best = np.argmin([one.cost for one in tried], axis=0)
        found = np.array([tried[k].unknowns[i] for i, k in enumerate(best)])
    varied = what_varies(leaves)
    untold = np.asarray(~varied.weight.any(axis=(1, 2)))
    problem = replace(problem, varied=varied, precision=hold_swing(problem.precision, untold))
    done = solve(problem, found)
    figured = _figured(done.unknowns)
    if figured.any():
        done = solve(replace(problem, figured=figured), done.unknowns)
    fits = [
        _read(problem, i, done.unknowns[i], done.information[i], leaves[i], over[i])
        for i in range(len(leaves))
    ]
    return fits, done.unknowns


def _figured(unknowns: Doubles) -> Doubles:
    """Return how far each leaf is figured, by the swing of its slope."""
    swing = np.sqrt(np.exp(2 * unknowns[:, SWING]).mean(axis=1))
    return np.asarray(np.clip((swing - STRAIGHT) / (FIGURED - STRAIGHT), 0, 1))


def _lit(leaves: Sequence[tuple[LeafLight, ...]], lamp_off: float) -> Lighting:
    """Return the lighting of all photographs of all leaves, their lamps carried along the board."""
    lit = [
        [
            lighting_on_board(v.shot.laid, v.profile.station, v.profile.foot, lamp_off=lamp_off)
            for v in views
            if v.profile.station
        ]
        for views in leaves
    ]
    return Lighting(
        *(
            np.array([[getattr(one, name) for one in each] for each in lit])
            for name in ("lamp", "eye", "share")
        )
    )


def _start(problem: Problem, leaves: Sequence[tuple[LeafLight, ...]], log_width: float) -> Doubles:
    first = problem.prior.copy()
    first[:, WIDTH] = (first[:, WIDTH] + log_width) / 2
    for i, views in enumerate(leaves):
        toward = np.array([0 if v.shot.lamp is Lamp.SIDE else _toward(v) for v in views])
        middle = problem.observed[i][:, SLICES // 4 : -SLICES // 4].mean(axis=1)
        lighter_under_a = float(middle[toward == 1].mean() - middle[toward == -1].mean())
        first[i, SLOPE] = np.copysign(START, lighter_under_a)
    return first


def _read(
    problem: Problem,
    index: int,
    unknowns: Doubles,
    information: Doubles,
    views: tuple[LeafLight, ...],
    over: bool,
) -> SlopeFit:
    spread = np.asarray(np.linalg.inv(information))
    return SlopeFit(
        slope=unknowns[SLOPE],
        strength=float(np.exp(unknowns[STRENGTH])),
        width=float(np.exp(unknowns[WIDTH])),
        log_wood=unknowns[WOOD],
        lean=float(unknowns[LEAN]),
        face_width=float(unknowns[FACE_WIDTH]),
        face_light=float(unknowns[FACE_LIGHT]),
        wood=_wood_colour(views, unknowns[WOOD]),
        spread=spread[:OF_LEAF, :OF_LEAF],
        is_over=over,
        both_faces=bool(problem.other_face[index].any()),
        swing=np.exp(unknowns[SWING]),
        side_seen=any(view.shot.lamp is Lamp.SIDE for view in views),
    )


def _wood_colour(views: Sequence[LeafLight], log_wood: Doubles) -> Doubles:
    """Return R, G, B of the wood: its light, with the hue that the photographs show."""
    light = np.array([view.profile.slices for view in views])
    for view, one in zip(views, light, strict=True):
        one[:] = one[::-1].copy() if reverses_rows(view.shot.laid) else one
    luminance = (light @ LUMINANCE.astype(np.float64))[..., None]
    return _of_luminance((light / luminance).mean(axis=0), log_wood)


def _of_luminance(light: Doubles, log_luminance: Doubles) -> Doubles:
    """Return R, G, B of the same hue and of that luminance."""
    luminance = light @ LUMINANCE.astype(np.float64)
    return np.asarray(light * (np.exp(log_luminance) / luminance)[:, None])


def _is_mostly_over(views: Sequence[LeafLight]) -> bool:
    return 2 * sum(shows_other_face(view.shot.laid) for view in views) > len(views)


def _toward(view: LeafLight) -> int:
    return slope_sign(view.shot.laid) * (1 if view.shot.lamp is Lamp.A else -1)


def _log_observed(view: LeafLight) -> Doubles:
    """Return the log light of the slices in the rows of the leaf as it lies."""
    light = np.log(np.asarray(view.profile.slices) @ LUMINANCE.astype(np.float64))
    return np.asarray(light[::-1] if reverses_rows(view.shot.laid) else light)
