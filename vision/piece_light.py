"""Light and dark of pieces that lie anywhere in a panel and are turned any way in its plane.

A piece turned in the plane meets a lamp with its fibres at another angle: what falls along the
grain of one comes aslant or square across its neighbour's. Lamp and eye are carried into the axes
of each piece's own leaf, place by place along a joint, and the fit of that leaf
(`vision.slope_fit`) gives what it sends. Both pieces are looked at in one and the same place, so a
step is theirs and not the light's.

For pieces that are not turned, or end for end, this is what `vision.room_alternation` says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from vision.layout import Joint, Layout, Placement
from vision.piece import Point, box_of
from vision.readings import SLICES, LampAndEye, PairAlternation
from vision.room_lights import Room
from vision.room_sides import RoomSide, Sides, judge_sides, light_at, show_places, sloped_back
from vision.settings import VisionSettings
from vision.shot import Lamp
from vision.slope_fit import SlopeFit

Doubles = NDArray[np.float64]


def room_under(lamp: Lamp, stood: Sequence[tuple[LampAndEye, float]]) -> Room:
    """Return the light of a lamp over a panel, as it stood over the leaves photographed.

    Parameters
    ----------
    lamp : Lamp
        For the name.
    stood : sequence of (LampAndEye, float)
        Where lamp and eye stood over each leaf, and how long that is, mm. The foot of the eye
        comes to the middle of the panel; their mean is taken.

    Examples
    --------
    >>> room = room_under(Lamp.A, [(LampAndEye(-0.7, 0.0, 0.9, 1.1), 2000.0)])
    >>> room.places_mm.round(6).tolist(), [round(one, 6) for one in room.eye_mm]
    ([[0.0, 1400.0, 1800.0]], [0.0, 0.0, 2200.0])
    """
    along, across, height, eye = (
        float(np.mean([getattr(one, name) * length for one, length in stood]))
        for name in ("lamp_along", "lamp_across", "lamp_height", "eye_height")
    )
    return Room(
        name=f"lamp {lamp.value}",
        words=f"lamp {lamp.value} as photographed",
        places_mm=np.array([[across, -along, height]]),
        facing=np.zeros((1, 3)),
        power=np.ones(1),
        eye_mm=(0.0, 0.0, eye),
    )


def judge_pieces(
    layout: Layout,
    joint: Joint,
    fits: Mapping[str, SlopeFit],
    lengths_mm: Mapping[str, float],
    room: Room,
    *,
    settings: VisionSettings,
) -> PairAlternation:
    """Return light and dark at one joint of a layout, from its upper end, or its left one.

    Parameters
    ----------
    layout : Layout
    joint : Joint
        One of its joints.
    fits, lengths_mm : mapping of str to SlopeFit, and to float
        Of the leaves, by their labels.
    room : Room
        About the middle of the panel.
    settings : VisionSettings
        For the limits of the flags.
    """
    share = ((np.arange(SLICES) + 0.5) / SLICES)[:, None]
    along = (1 - share) * np.array(joint.start_mm) + share * np.array(joint.end_mm)
    pieces = [layout.placements[at] for at in (joint.left_at, joint.right_at)]

    def both(*, back: bool) -> Sides:
        shown = [
            show_piece(
                layout,
                piece,
                sloped_back(fits[piece.leaf]) if back else fits[piece.leaf],
                along,
                room,
                length_mm=lengths_mm[piece.leaf],
            )
            for piece in pieces
        ]
        return shown[0], shown[1]

    return judge_sides(
        (joint.left, joint.right),
        both(back=False),
        both(back=True),
        match=layout.match.value,
        light=room.name,
        settings=settings,
    )


def show_piece(
    layout: Layout,
    piece: Placement,
    fit: SlopeFit,
    panel_mm: Doubles,
    room: Room,
    *,
    length_mm: float,
) -> RoomSide:
    """Return what a piece sends at some places of its panel.

    Parameters
    ----------
    layout : Layout
    piece : Placement
    fit : SlopeFit
        Of its leaf.
    panel_mm : ndarray, shape (places, 2)
        x right and y down, in the layout.
    room : Room
    length_mm : float
        Of its leaf.
    """
    back = piece.to_panel.back()
    down = back.yx * panel_mm[:, 0] + back.yy * panel_mm[:, 1] + back.y_mm
    return _shown(layout, piece, fit, panel_mm, room, _shares(down / length_mm))


def show_slices(
    layout: Layout, piece: Placement, fit: SlopeFit, room: Room, *, length_mm: float
) -> RoomSide:
    """Return what each slice of a piece's leaf sends where it lies in the panel.

    In the rows of the leaf as it lies; a slice that the piece does not show as at its nearest end.
    """
    centres = (np.arange(SLICES) + 0.5) / SLICES
    places = [piece.to_panel(_middle_at(piece.on_leaf_mm, y)) for y in centres * length_mm]
    return _shown(layout, piece, fit, np.array(places), room, np.eye(SLICES))


def _shown(
    layout: Layout,
    piece: Placement,
    fit: SlopeFit,
    panel_mm: Doubles,
    room: Room,
    shares: Doubles,
) -> RoomSide:
    box = layout.panels[piece.panel].box
    middle = np.array([(box.left + box.right) / 2, (box.top + box.bottom) / 2])
    off = panel_mm - middle
    at = np.stack([off[:, 0], -off[:, 1], np.zeros(len(off))], axis=-1)
    lit = light_at(at, piece.laid, room, turned_deg=piece.turned_deg)
    return show_places(fit, piece.laid, lit, shares, turned_deg=piece.turned_deg)


def _shares(along: Doubles) -> Doubles:
    """Return how much of each slice is at places along a leaf, 0 to 1 from its top."""
    at = np.clip(along * SLICES - 0.5, 0.0, SLICES - 1.0)
    low = np.minimum(np.floor(at).astype(int), SLICES - 2)
    each = np.arange(len(at))
    shares = np.zeros((len(at), SLICES))
    shares[each, low], shares[each, low + 1] = 1 - (at - low), at - low
    return shares


def _middle_at(outline: Sequence[Point], y_mm: float) -> Point:
    """Return the middle of a convex outline at a height, or of its nearest end."""
    box = box_of(outline)
    y = min(max(y_mm, box.top), box.bottom)
    xs = []
    for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if min(y0, y1) <= y <= max(y0, y1):
            xs += [x0, x1] if y0 == y1 else [x0 + (x1 - x0) * (y - y0) / (y1 - y0)]
    return (min(xs) + max(xs)) / 2, y
