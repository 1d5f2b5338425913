"""The four ways to lay a leaf: what each does to the picture, to the fibre slope, to the face.

With x along the grain, y across and z out of the face, the four layings are the identity and
the half turns about z, x and y: the Klein four-group. Two layings one after the other give a
third, each undoes itself, and so a picture of a leaf laid one way tells what it looks like laid
another, as far as the fibre slope and the face allow.
"""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray

from vision.shot import Laid

_FLIPS: dict[Laid, tuple[bool, bool]] = {
    Laid.AS_LIES: (False, False),
    Laid.FACE_OVER: (False, True),
    Laid.END_OVER: (True, False),
    Laid.END_TURNED: (True, True),
}
"""Laying -> (rows reversed, columns reversed); rows run along the leaf."""
_OF_FLIPS = {flips: laid for laid, flips in _FLIPS.items()}


def compose(first: Laid, second: Laid) -> Laid:
    """Return the single laying that equals ``first`` followed by ``second``.

    Examples
    --------
    >>> str(compose(Laid.FACE_OVER, Laid.FACE_OVER)), str(compose(Laid.END_OVER, Laid.FACE_OVER))
    ('as-lies', 'end-turned')
    """
    rows = _FLIPS[first][0] != _FLIPS[second][0]
    columns = _FLIPS[first][1] != _FLIPS[second][1]
    return _OF_FLIPS[rows, columns]


def lay_pixels(picture: NDArray[Any], laid: Laid) -> NDArray[Any]:
    """Return a view of ``picture`` (rows, columns[, channels]) as the leaf looks when so laid.

    Only the drawing moves; light and dark do not. See `vision.alternation` for those.
    """
    rows, columns = _FLIPS[laid]
    return picture[:: -1 if rows else 1, :: -1 if columns else 1]


def reverses_rows(laid: Laid) -> bool:
    """Tell whether the leaf's two ends change places."""
    return _FLIPS[laid][0]


def reverses_columns(laid: Laid) -> bool:
    """Tell whether the leaf's two long edges change places."""
    return _FLIPS[laid][1]


def shows_other_face(laid: Laid) -> bool:
    """Tell whether the face that was down is now up (face over, end over)."""
    rows, columns = _FLIPS[laid]
    return rows != columns


def slope_sign(laid: Laid) -> int:
    """Return +1 where fibres still rise toward the same end of the board, else -1.

    A half turn about the long axis (face over) or about the upright axis (end turned) reverses
    the slope of the fibres against the board; a half turn about the short axis (end over) keeps
    it, as does leaving the leaf alone.

    Examples
    --------
    >>> [slope_sign(laid) for laid in (Laid.AS_LIES, Laid.FACE_OVER, Laid.END_OVER)]
    [1, -1, 1]
    """
    return -1 if _FLIPS[laid][1] else 1
