"""How much light a leaf sends along its length, laid some way under some lamp.

Taken from the photograph that stands in for it (`vision.stand_in`), moved to where the eye would
meet it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.laying import reverses_rows, shows_other_face
from vision.leaf_light import LeafLight
from vision.readings import LampAndEye
from vision.shot import Laid, Lamp
from vision.slope_fit import fit_slopes
from vision.stand_in import stand_in


@dataclass(frozen=True, slots=True, eq=False)
class ShownLight:
    """What a leaf will send, slice by slice, laid as the match lays it."""

    light: NDArray[np.float64]
    """Linear R, G, B of the slices, from the top of the match."""
    level_sd: float
    face_seen: bool
    is_exact: bool
    """False where the photograph saw the leaf from the other side of the point below the camera."""
    view: LeafLight
    moved: Laid
    if_face_differs: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None
    """The same light were the unseen face's highlight narrower, or wider, by one standard
    deviation; None where the face was seen, or no fit tells how strong the highlight is."""

    @property
    def gain(self) -> NDArray[np.float64]:
        """By what to multiply the photograph's light, slice by slice, from the top of the match."""
        return self.light / _in_match_rows(np.asarray(self.view.profile.slices), self.moved)


def as_photographed(view: LeafLight) -> ShownLight:
    """Return the light of a leaf that lies in the match as it lay in the photograph."""
    return ShownLight(
        light=np.asarray(view.profile.slices),
        level_sd=view.profile.level_sd,
        face_seen=True,
        is_exact=True,
        view=view,
        moved=Laid.AS_LIES,
    )


def show_light(views: Sequence[LeafLight], laid: Laid, lamp: Lamp) -> ShownLight | None:
    """Return what a leaf so laid will send under that lamp, from the best photograph of it."""
    found = stand_in(laid, lamp, [view.shot for view in views])
    if found is None:
        return None
    view = next(view for view in views if view.shot == found.shot)
    light = _in_match_rows(np.asarray(view.profile.slices), found.moved)
    if_face_differs = None
    if not found.face_seen:
        gains = _gains_by_fit(views, view, laid, lamp)
        if gains is not None:
            as_fitted, narrower, wider = (
                light * _in_match_rows(gain, laid)[:, None] for gain in gains
            )
            light, if_face_differs = as_fitted, (narrower, wider)
        else:
            foot = 1 - view.profile.foot if reverses_rows(found.moved) else view.profile.foot
            light = _seen_from_other_side(light, foot)
    return ShownLight(
        light=light,
        level_sd=view.profile.level_sd,
        face_seen=found.face_seen,
        is_exact=found.face_seen,
        view=view,
        moved=found.moved,
        if_face_differs=if_face_differs,
    )


FACE_WIDTH_SD = 0.28
"""Standard deviation of the log of one face's highlight width over the other's: a fifth for each
face, assumed, for no measured values of tight and loose faces are known."""


def _gains_by_fit(
    views: Sequence[LeafLight], view: LeafLight, laid: Laid, lamp: Lamp
) -> tuple[NDArray[np.float64], ...] | None:
    """Return by what to multiply a stand-in's light, in the rows of the leaf as it lies.

    The face in view is fitted; the other one is taken to be like it, then to have a narrower and
    a wider highlight.
    """
    face = shows_other_face(view.shot.laid)
    same_face = tuple(
        one
        for one in views
        if shows_other_face(one.shot.laid) == face
        and one.shot.lamp in (Lamp.A, Lamp.B)
        and not one.shot.wet
    )
    fit = fit_slopes(same_face)
    stood = where_lamp_stands(same_face, lamp)
    if fit is None or stood is None or view.profile.station is None:
        return None
    foot = view.profile.foot
    foot_wanted = 1 - foot if reverses_rows(view.shot.laid) != reverses_rows(laid) else foot
    there = fit.log_light(view.shot.laid, view.profile.station, foot)
    gains = []
    for off in (0.0, -FACE_WIDTH_SD, FACE_WIDTH_SD):
        wanted = fit.log_light(laid, stood, foot_wanted, width_times=float(np.exp(off)))
        gains.append(np.asarray(np.exp(wanted - there)))
    return tuple(gains)


def where_lamp_stands(views: Sequence[LeafLight], lamp: Lamp) -> LampAndEye | None:
    """Return where that lamp stood by the mean of its photographs, else the other one mirrored."""
    for asked, sign in ((lamp, 1), (Lamp.B if lamp is Lamp.A else Lamp.A, -1)):
        stood = [v.profile.station for v in views if v.shot.lamp is asked and v.profile.station]
        if stood:
            return LampAndEye(
                lamp_along=sign * float(np.mean([one.lamp_along for one in stood])),
                lamp_across=float(np.mean([one.lamp_across for one in stood])),
                lamp_height=float(np.mean([one.lamp_height for one in stood])),
                eye_height=float(np.mean([one.eye_height for one in stood])),
            )
    return None


def _in_match_rows(slices: NDArray[np.float64], moved: Laid) -> NDArray[np.float64]:
    return slices[::-1] if reverses_rows(moved) else slices


def _seen_from_other_side(light: NDArray[np.float64], foot: float) -> NDArray[np.float64]:
    """Return a profile as the eye on the far side of the foot would see it.

    A leaf turned over its long edge under lamp A stands to lamp and eye as the unturned leaf does
    under lamp B at the place mirrored about the foot of the camera; light is read there. For
    photographs too few for a fit.
    """
    centres = (np.arange(len(light)) + 0.5) / len(light)
    mirrored = np.clip(2 * foot - centres, centres[0], centres[-1])
    columns = [np.interp(mirrored, centres, column) for column in np.log(light).T]
    return np.asarray(np.exp(np.stack(columns, axis=1)))
