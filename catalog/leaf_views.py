"""Which photograph of which leaf goes into a preview. Decides only; opens no picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog.records import LeafCard, PhotoRecord, PictureKeys
from vision.laying import compose
from vision.leaf_light import LeafLight
from vision.readings import LeafSize, LightProfile
from vision.shot import Laid, Lamp, Shot
from vision.shown_light import show_light
from vision.stand_in import as_single

Views = Mapping[str, tuple["LeafView", ...]]
"""Leaf label -> what its photographs show of it."""


@dataclass(frozen=True, slots=True)
class LeafView:
    """One leaf in one photograph; an opened pair gives two."""

    shot: Shot
    """How this leaf lay and was lit."""
    size: LeafSize
    pictures: PictureKeys
    light: LightProfile | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """The view taken for one place of a match, and how its drawing is moved into it."""

    view: LeafView
    moved: Laid
    face_seen: bool
    gain: NDArray[np.float64] | None = None
    """By what to multiply its light along the match (`vision.shown_light`); None if by one."""


def leaf_views(photos: Sequence[PhotoRecord]) -> Views:
    """Return what the photographs of a bundle show, leaf by leaf, in the order taken in."""
    views: dict[str, tuple[LeafView, ...]] = {}
    for photo in photos:
        for reading, pictures in zip(photo.reading.leaves, photo.pictures, strict=True):
            shot = as_single(photo.shot, reading.leaf)
            view = LeafView(shot, reading.size, pictures, reading.light)
            views[reading.leaf] = (*views.get(reading.leaf, ()), view)
    return views


def shown_under(
    wanted: Sequence[tuple[str, Laid]], lamp: Lamp, views: Views
) -> tuple[Shown, ...] | None:
    """Return a true view for every leaf so laid under one lamp; None if any leaf has none."""
    shown = []
    for leaf, laid in wanted:
        one = _true_view(laid, lamp, views.get(leaf, ()))
        if one is None:
            return None
        shown.append(one)
    return tuple(shown)


def plain_views(
    wanted: Sequence[tuple[str, Laid]], lamp: Lamp, views: Views, cards: Mapping[str, LeafCard]
) -> tuple[Shown, ...]:
    """Return one view a leaf with the drawing right and light and dark left aside.

    All as they lie under one and the same lamp if there are such photographs, the asked lamp
    before any other; else each leaf's plain picture.
    """
    for one_lamp in (lamp, Lamp.BOTH, Lamp.A, Lamp.B, Lamp.SIDE, Lamp.UNKNOWN):
        found = [_as_it_lies(views.get(leaf, ()), one_lamp) for leaf, _ in wanted]
        if all(found):
            break
    return tuple(
        _moved(view or _plain(cards[leaf]), laid)
        for view, (leaf, laid) in zip(found, wanted, strict=True)
    )


def plain_view(card: LeafCard) -> Shown:
    """Return a leaf's plain picture, turned to how the leaf lies in the stack."""
    return _moved(_plain(card), Laid.AS_LIES)


def _true_view(laid: Laid, lamp: Lamp, views: Sequence[LeafView]) -> Shown | None:
    lights = [LeafLight(view.shot, view.light) for view in views if view.light is not None]
    found = show_light(lights, laid, lamp)
    if found is None:
        return None
    view = next(view for view in views if view.shot == found.view.shot)
    gain = None if found.is_exact else found.gain
    return Shown(view, found.moved, found.face_seen, gain)


def _as_it_lies(views: Sequence[LeafView], lamp: Lamp) -> LeafView | None:
    for view in views:
        if view.shot.laid is Laid.AS_LIES and view.shot.lamp is lamp and not view.shot.wet:
            return view
    return None


def _plain(card: LeafCard) -> LeafView:
    return LeafView(as_single(card.shot, card.label), card.size, card.pictures)


def _moved(view: LeafView, laid: Laid) -> Shown:
    moved = compose(laid, view.shot.laid)
    return Shown(view, moved, face_seen=moved in (Laid.AS_LIES, Laid.END_TURNED))
