"""Which two photographs of each leaf of a match let its lamp be moved. Opens no picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from catalog.errors import LampFixed
from catalog.leaf_views import LeafView, Views
from vision.laying import compose, reverses_rows, shows_other_face, slope_sign
from vision.layout import Placement
from vision.leaf_light import LeafLight
from vision.light_profile import LUMINANCE
from vision.readings import LightProfile
from vision.relight import Doubles, Standing, standing_in_match
from vision.shot import Laid, Lamp
from vision.slope_fit import SlopeFit, fit_slopes

LAMP_SIGN = {Lamp.A: 1, Lamp.B: -1}


@dataclass(frozen=True, slots=True)
class LitTwice:
    """One leaf of a match: two photographs of one face, and the fit to all of that face."""

    placement: Placement
    views: tuple[LeafView, LeafView]
    lights: tuple[LightProfile, LightProfile]
    fit: SlopeFit
    face_seen: bool

    @property
    def moved(self) -> tuple[Laid, Laid]:
        """How each photograph's drawing is moved into the match."""
        laid = self.placement.laid
        return compose(laid, self.views[0].shot.laid), compose(laid, self.views[1].shot.laid)

    @property
    def seen(self) -> tuple[Standing, Standing]:
        """Where lamp and eye stood for each, in the rows of the match."""
        first, second = (
            standing_in_match(light.station, light.foot, moved)
            for light, moved in zip(self.lights, self.moved, strict=True)
            if light.station is not None
        )
        return first, second

    @property
    def slope(self) -> Doubles:
        """The fitted slope of the slices from the top of the match, as the leaf lies in it."""
        laid = self.placement.laid
        slope = self.fit.slope[::-1] if reverses_rows(laid) else self.fit.slope
        return slope_sign(laid) * slope

    @property
    def log_light(self) -> Doubles:
        """Log luminance of the slices in each photograph, from the top of the match."""
        found = []
        for light, moved in zip(self.lights, self.moved, strict=True):
            log = np.log(np.asarray(light.slices) @ LUMINANCE.astype(np.float64))
            found.append(log[::-1] if reverses_rows(moved) else log)
        return np.array(found)


def lit_twice(placements: Sequence[Placement], views: Views) -> tuple[LitTwice, ...]:
    """Return two photographs for every leaf, with its slope once toward the lamp and once away.

    The face that the match shows is taken if it was photographed so, else the other one.

    Raises
    ------
    LampFixed
        If a leaf has no such two photographs; the sentence says which to take.
    """
    found = [_lit_twice(one, views.get(one.leaf, ())) for one in placements]
    missing = [one.leaf for one, twice in zip(placements, found, strict=True) if twice is None]
    if missing:
        raise LampFixed(_what_is_missing(list(dict.fromkeys(missing)), views))
    return tuple(one for one in found if one is not None)


def _lit_twice(placement: Placement, views: Sequence[LeafView]) -> LitTwice | None:
    known = [(view, view.light) for view in views if view.light is not None and _shows_slope(view)]
    up = shows_other_face(placement.laid)
    for face in (up, not up):
        same = [(view, light) for view, light in known if _face(view) == face]
        fit = fit_slopes(tuple(LeafLight(view.shot, light) for view, light in same))
        if fit is None:
            continue
        toward, away = (next(one for one in same if _toward(one[0]) == sign) for sign in (1, -1))
        return LitTwice(
            placement, (toward[0], away[0]), (toward[1], away[1]), fit, face_seen=face == up
        )
    return None


def _shows_slope(view: LeafView) -> bool:
    return (
        view.shot.lamp in LAMP_SIGN
        and not view.shot.wet
        and view.light is not None
        and view.light.station is not None
    )


def _face(view: LeafView) -> bool:
    return shows_other_face(view.shot.laid)


def _toward(view: LeafView) -> int:
    return slope_sign(view.shot.laid) * LAMP_SIGN[view.shot.lamp]


def _what_is_missing(leaves: Sequence[str], views: Views) -> str:
    named = ", ".join(leaves[:6]) + (f" and {len(leaves) - 6} more" if len(leaves) > 6 else "")
    they = "leaf" if len(leaves) == 1 else "leaves"
    seen = [view for leaf in leaves for view in views.get(leaf, ())]
    lamps = {view.shot.lamp for view in seen if not view.shot.wet} & set(LAMP_SIGN)
    each = "it" if len(leaves) == 1 else "each"
    remedy = f"Photograph {each} as it lies under lamp A and then, unmoved, under lamp B"
    if len(lamps) == 1:
        lamp = next(iter(lamps)).value
        other = "B" if lamp == "A" else "A"
        found = f"seen under lamp {lamp} from one side of the slope only"
        remedy = (
            f"Photograph {each} under lamp {other} as well, or spun end for end under lamp {lamp}"
        )
    elif not lamps:
        found = "never photographed dry under a lamp past one end, A or B"
    elif all(view.light is None or view.light.station is None for view in seen):
        found = "where the lamps stood is not known from the photographs"
        remedy = "Take the bundle in again; a leaf joined from parts needs two whole photographs"
    else:
        found = "no two photographs show one face from both sides of the slope"
    return f"The lamp cannot be moved: {they} {named}: {found}. {remedy}."
