"""Which photograph of a leaf shows what it will look like laid another way under a given lamp.

Whether a leaf looks light or dark under a lamp at one end depends on whether its fibres rise
toward that lamp or away from it. A half turn that reverses the slope of the fibres therefore
looks the same as carrying the lamp to the other end, and two photographs of one leaf agree in
light and dark wherever

    slope_sign(laid) x sign(lamp)

is the same for both (lamp A +1, lamp B -1). This holds exactly for lamp and eye in the plane of
the grain, and nearly so some degrees off it (derived from the half turns of the leaf; see
`vision.laying`). It says nothing about a face that was never photographed: where the faces
differ the slope is right and the face is a guess, and the stand-in says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from vision.laying import compose, shows_other_face, slope_sign
from vision.shot import Laid, Lamp, Shot

_LAMP_SIGN = {Lamp.A: 1, Lamp.B: -1}
"""Only a lamp past an end tells light from dark; the others show no slope at all."""


@dataclass(frozen=True, slots=True)
class StandIn:
    """A photograph that may stand in for a leaf laid in some way under some lamp."""

    shot: Shot
    moved: Laid
    """How the drawing in the photograph is to be moved (`vision.laying.lay_pixels`)."""
    face_seen: bool
    """False where the photograph shows the leaf's other face: only the slope is right."""


def as_single(shot: Shot, leaf: str) -> Shot:
    """Return what ``shot`` shows of one leaf, as if that leaf had been photographed alone.

    In an opened pair the left leaf lies as it lies and the right one face over; any other shot
    comes back unchanged.

    Raises
    ------
    ValueError
        If the leaf is not in view.

    Examples
    --------
    >>> as_single(Shot("p.jpg", "03+04", Laid.OPENED_PAIR, Lamp.A), "04").laid
    <Laid.FACE_OVER: 'face-over'>
    """
    place = shot.leaves.index(leaf)
    if shot.laid is not Laid.OPENED_PAIR:
        return shot
    return replace(shot, leaf=leaf, laid=Laid.FACE_OVER if place else Laid.AS_LIES)


def stand_in(laid: Laid, lamp: Lamp, have: Sequence[Shot]) -> StandIn | None:
    """Return the photograph that best shows a leaf so laid under that lamp, or None.

    Parameters
    ----------
    laid : Laid
        One of the four layings of a single leaf.
    lamp : Lamp
        A or B; under any other lamp light and dark cannot be told, and the answer is None.
    have : sequence of Shot
        Photographs of this one leaf; see `as_single` for opened pairs. Wet leaves, bare boards,
        pairs and lamps other than A and B never stand in for a dry leaf. Among equals the first
        is taken.

    Returns
    -------
    StandIn or None
        Best of: the very laying and lamp; the same face with the right slope; the other face
        with the right slope. None if no photograph has the right slope.

    Examples
    --------
    >>> one_end = Shot("01a.jpg", "01", Laid.AS_LIES, Lamp.A)
    >>> other_end = Shot("01b.jpg", "01", Laid.AS_LIES, Lamp.B)
    >>> found = stand_in(Laid.FACE_OVER, Lamp.A, [one_end, other_end])
    >>> found.shot.file, str(found.moved), found.face_seen
    ('01b.jpg', 'face-over', False)
    >>> stand_in(Laid.FACE_OVER, Lamp.A, [one_end]) is None
    True
    """
    if lamp not in _LAMP_SIGN:
        return None
    light = slope_sign(laid) * _LAMP_SIGN[lamp]
    usable = [
        shot
        for shot in have
        if shot.lamp in _LAMP_SIGN
        and not (shot.wet or shot.blank or shot.laid is Laid.OPENED_PAIR)
        and slope_sign(shot.laid) * _LAMP_SIGN[shot.lamp] == light
    ]
    if not usable:
        return None
    best = min(usable, key=lambda shot: _distance(shot, laid, lamp))
    face_seen = shows_other_face(best.laid) == shows_other_face(laid)
    return StandIn(best, compose(laid, best.laid), face_seen)


def _distance(shot: Shot, laid: Laid, lamp: Lamp) -> int:
    """Return 0 for the very laying and lamp, 1 for the same face, 2 for the other face."""
    if (shot.laid, shot.lamp) == (laid, lamp):
        return 0
    return 1 if shows_other_face(shot.laid) == shows_other_face(laid) else 2
