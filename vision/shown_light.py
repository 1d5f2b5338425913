"""How much light a leaf sends along its length, laid some way under some lamp.

Taken from the photograph that stands in for it (`vision.stand_in`), moved to where the eye would
meet it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.laying import reverses_rows
from vision.readings import LightProfile
from vision.shot import Laid, Lamp, Shot
from vision.stand_in import StandIn, stand_in


@dataclass(frozen=True, slots=True)
class LeafLight:
    """One leaf's light in one photograph; an opened pair gives two."""

    shot: Shot
    profile: LightProfile


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
    foot = 1 - view.profile.foot if reverses_rows(found.moved) else view.profile.foot
    if not found.face_seen:
        light = _seen_from_other_side(light, foot, evenness=_evenness(views, found, laid, lamp))
    return ShownLight(
        light=light,
        level_sd=view.profile.level_sd,
        face_seen=found.face_seen,
        is_exact=found.face_seen,
        view=view,
        moved=found.moved,
    )


def _in_match_rows(slices: NDArray[np.float64], moved: Laid) -> NDArray[np.float64]:
    return slices[::-1] if reverses_rows(moved) else slices


def _evenness(
    views: Sequence[LeafLight], found: StandIn, laid: Laid, lamp: Lamp
) -> NDArray[np.float64] | None:
    """Return the leaf's own lightness along its length, lamp taken out: the mean of both lamps."""
    other = stand_in(laid, Lamp.B if lamp is Lamp.A else Lamp.A, [view.shot for view in views])
    if other is None or other.face_seen != found.face_seen:
        return None
    logs = [
        np.log(
            _in_match_rows(
                np.asarray(next(v for v in views if v.shot == one.shot).profile.slices), one.moved
            )
        )
        for one in (found, other)
    ]
    return np.asarray((logs[0] + logs[1]) / 2)


def _seen_from_other_side(
    light: NDArray[np.float64], foot: float, *, evenness: NDArray[np.float64] | None
) -> NDArray[np.float64]:
    """Return a profile as the eye on the far side of the foot would see it.

    A leaf turned over its long edge under lamp A stands to lamp and eye as the unturned leaf does
    under lamp B at the place mirrored about the foot of the camera. Light is therefore read there;
    the leaf's own light and dark (``evenness``, log light) stays where it is.
    """
    centres = (np.arange(len(light)) + 0.5) / len(light)
    mirrored = np.clip(2 * foot - centres, centres[0], centres[-1])

    def there(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.stack([np.interp(mirrored, centres, column) for column in values.T], axis=1)

    moved = there(np.log(light))
    if evenness is not None:
        moved = moved + evenness - there(evenness)
    return np.asarray(np.exp(moved))
