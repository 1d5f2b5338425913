"""Lights in which a panel will be looked at: what shines, from where, and where the eye is.

Axes are those of the panel: x right across the grain, y along it toward the upper end of the
leaves, z out of the face; millimetres from the middle of the leaf. A panel with upright grain on a
wall is meant; lying on a table or with its grain level the names keep their sense, the end being
the end of the grain.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import product
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from vision.errors import RoomNotPossible

Doubles = NDArray[np.float64]
Triple = tuple[float, float, float]

FAR_MM = 1e7
"""Sun and sky: so far that every place of a panel sees them in one direction."""
STANDING_EYE_MM: Triple = (0.0, 300.0, 2200.0)
"""Someone who stands two steps before a panel, eyes somewhat above its middle."""
WINDOW_MM = (1200.0, 1400.0)
"""Width and height of the windows."""
WINDOW_CELLS = 6
LEAST_ASIDE_MM = 800.0
"""A window at the side stands at least so far past the edge of a wide panel."""
SKY_RINGS, SKY_SPOKES = 9, 24
SUN_UP_DEG, SUN_ASIDE_DEG = 20.0, 35.0
"""The low sun over the face, and to the side of the grain."""


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """One light and one eye.

    Parameters
    ----------
    name, words : str
        As asked for; and as told, to follow "in the light of".
    places_mm : ndarray, shape (sources, 3)
    facing : ndarray, shape (sources, 3)
        Unit vectors of the side that shines; zeros where a source sends light all ways alike.
    power : ndarray, shape (sources,)
        Only their ratios matter.
    eye_mm : tuple of float
    """

    name: str
    words: str
    places_mm: Doubles
    facing: Doubles
    power: Doubles
    eye_mm: Triple


def named_room(name: str, *, length_mm: float, width_mm: float = 0.0) -> Room:
    """Return one of `ROOM_WORDS` about a leaf, or a panel, of that length and width.

    Raises
    ------
    RoomNotPossible
        If the name is not known.

    Examples
    --------
    >>> named_room("low-sun", length_mm=2000.0).words
    'low sun that comes aslant past the upper end'
    """
    if name not in _SHINING:
        raise RoomNotPossible(
            f"No light is called {name!r}; known are {', '.join(ROOM_WORDS)}. Choose one of them, "
            "or place a lamp and an eye."
        )
    places, facing, power = _SHINING[name](width_mm / 2, length_mm / 2)
    eye = (600.0, -200.0, 1500.0) if name == "window-end" else STANDING_EYE_MM
    return Room(name, ROOM_WORDS[name], places, facing, power, eye)


def scaled_room(room: Room, per_mm: float) -> Room:
    """Return the same light told in another unit, ``per_mm`` of which make a millimetre."""
    x, y, z = room.eye_mm
    eye = (x * per_mm, y * per_mm, z * per_mm)
    return replace(room, places_mm=room.places_mm * per_mm, eye_mm=eye)


def free_room(lamp_mm: Triple, eye_mm: Triple = STANDING_EYE_MM, *, name: str = "lamp") -> Room:
    """Return a room with one small lamp at a place.

    Raises
    ------
    RoomNotPossible
        If lamp or eye is not in front of the face.
    """
    for what, place in (("lamp", lamp_mm), ("eye", eye_mm)):
        if not place[2] > 0:
            raise RoomNotPossible(
                f"The {what} is {place[2]:g} mm before the face; more than 0 needed. The third "
                "number is the distance out of the panel."
            )
    x, y, z = lamp_mm
    words = (
        f"a lamp {_aside(x, 'right', 'left')}{_aside(y, 'up', 'down')}{z:.0f} mm before the face"
    )
    places, facing, power = _lamps([lamp_mm])
    return Room(name, words, places, facing, power, eye_mm)


def _aside(value: float, plus: str, minus: str) -> str:
    return f"{abs(value):.0f} mm {plus if value > 0 else minus}, " if round(value) else ""


def _lamps(places: list[Triple]) -> tuple[Doubles, Doubles, Doubles]:
    at = np.array(places, dtype=np.float64)
    return at, np.zeros_like(at), np.ones(len(at))


def _lamp_row(_aside_mm: float, half_mm: float) -> tuple[Doubles, Doubles, Doubles]:
    return _lamps([(float(x), half_mm + 500.0, 900.0) for x in np.arange(-1600.0, 1601.0, 800.0)])


def _picture_light(_aside_mm: float, half_mm: float) -> tuple[Doubles, Doubles, Doubles]:
    return _lamps([(float(x), half_mm + 150.0, 220.0) for x in np.arange(-200.0, 201.0, 100.0)])


def _window(centre: Triple, across: Triple) -> tuple[Doubles, Doubles, Doubles]:
    """Return an upright window: its width along ``across``, its height out of the face."""
    steps = (np.arange(WINDOW_CELLS) + 0.5) / WINDOW_CELLS - 0.5
    width, height = WINDOW_MM
    places = np.array(
        [
            np.array(centre) + a * width * np.array(across) + b * height * np.array([0.0, 0.0, 1.0])
            for a, b in product(steps, steps)
        ]
    )
    inward = -np.array([centre[0], centre[1], 0.0]) / np.hypot(centre[0], centre[1])
    return places, np.tile(inward, (len(places), 1)), np.ones(len(places))


def _window_end(_aside_mm: float, half_mm: float) -> tuple[Doubles, Doubles, Doubles]:
    return _window((0.0, half_mm + 1500.0, 900.0), (1.0, 0.0, 0.0))


def _window_side(aside_mm: float, _half_mm: float) -> tuple[Doubles, Doubles, Doubles]:
    return _window((max(2000.0, aside_mm + LEAST_ASIDE_MM), 0.0, 900.0), (0.0, 1.0, 0.0))


def _low_sun(_aside_mm: float, _half_mm: float) -> tuple[Doubles, Doubles, Doubles]:
    up, aside = np.deg2rad(SUN_UP_DEG), np.deg2rad(SUN_ASIDE_DEG)
    at = np.array([[np.sin(aside) * np.cos(up), np.cos(aside) * np.cos(up), np.sin(up)]])
    return at * FAR_MM, np.zeros((1, 3)), np.ones(1)


def _sky(_aside_mm: float, _half_mm: float) -> tuple[Doubles, Doubles, Doubles]:
    """Return an even sky in rings of equal light on the face."""
    up = np.sqrt((np.arange(SKY_RINGS) + 0.5) / SKY_RINGS)
    turn = (np.arange(SKY_SPOKES) + 0.5) / SKY_SPOKES * 2 * np.pi
    flat = np.sqrt(1 - up**2)
    at = np.stack(
        [
            np.multiply.outer(flat, np.cos(turn)),
            np.multiply.outer(flat, np.sin(turn)),
            np.broadcast_to(up[:, None], (SKY_RINGS, SKY_SPOKES)),
        ],
        axis=-1,
    ).reshape(-1, 3)
    return at * FAR_MM, np.zeros_like(at), 1 / at[:, 2]


ROOM_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "lamp-row": "a row of lamps above the panel",
        "window-end": "a window past the upper end, in line with the grain",
        "window-side": "a window at the side, square to the grain",
        "low-sun": "low sun that comes aslant past the upper end",
        "even-sky": "an even sky, or any light from all sides",
        "picture-light": "a picture light that rakes down the face",
    }
)
"""Names of lights and what they are."""
_SHINING: dict[str, Callable[[float, float], tuple[Doubles, Doubles, Doubles]]] = {
    "lamp-row": _lamp_row,
    "window-end": _window_end,
    "window-side": _window_side,
    "low-sun": _low_sun,
    "even-sky": _sky,
    "picture-light": _picture_light,
}
