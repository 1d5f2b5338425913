"""A light drawn small: wall, panel, lamp or window, and eye, from the side and from above."""

from __future__ import annotations

import base64
from html import escape

import numpy as np
from numpy.typing import NDArray

from vision.room_lights import FAR_MM, Room

WIDE, TALL = 300, 190
WALL_X, MIDDLE_Y = 18, 100
"""Of the view from the side, pixels: the wall, and the middle of the panel."""
ABOVE_X, ABOVE_Y = 226, 36
"""Of the view from above: the middle of the panel on its wall."""
REACH_MM = 2700.0
"""Shown to either side of the middle, at least."""
INK, RULE, WOOD, LIGHT, EYE = "#2b2520", "#8d857b", "#b98a54", "#c98f2b", "#2f5d57"
FEW = 12
"""From more sources than this a light comes from an area: a window, or a sky."""

Doubles = NDArray[np.float64]
Point = tuple[float, float]


def room_sketch(room: Room, *, length_mm: float) -> str:
    """Return a light as SVG; ``length_mm`` is that of the leaves."""
    reach = max(REACH_MM, length_mm / 2 + 1700.0)
    scale = 84 / reach
    half = length_mm / 2 * scale
    side = np.array([[WALL_X, MIDDLE_Y]]) + _flat(room.places_mm, (2, 1), (1, -1)) * scale
    above = np.array([[ABOVE_X, ABOVE_Y]]) + _flat(room.places_mm, (0, 2), (1, 1)) * scale
    eye = np.array([room.eye_mm])
    eyes = (
        np.array([WALL_X, MIDDLE_Y]) + _flat(eye, (2, 1), (1, -1))[0] * scale,
        np.array([ABOVE_X, ABOVE_Y]) + _flat(eye, (0, 2), (1, 1))[0] * scale,
    )
    is_far = bool(np.linalg.norm(room.places_mm, axis=1).min() > FAR_MM / 2)
    what = "window" if (room.facing != 0).any() else "lamp"
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {TALL}" '
            f'font-family="sans-serif" font-size="11" fill="{INK}">'
        ),
        f'<rect width="{WIDE}" height="{TALL}" fill="#fdfaf3"/>',
        f'<path d="M{WALL_X} 14V{TALL - 8}" stroke="{RULE}" stroke-width="3"/>',
        (
            f'<rect x="{WALL_X}" y="{MIDDLE_Y - half:.1f}" width="5" height="{2 * half:.1f}" '
            f'fill="{WOOD}"/>'
        ),
        f'<path d="M158 {ABOVE_Y}H{WIDE - 8}" stroke="{RULE}" stroke-width="3"/>',
        f'<rect x="{ABOVE_X - 18}" y="{ABOVE_Y}" width="36" height="5" fill="{WOOD}"/>',
        '<text x="26" y="11">from the side</text><text x="196" y="11">from above</text>',
        f'<text x="158" y="{ABOVE_Y - 6}" fill="{RULE}">wall</text>',
    ]
    for middle, places, at in (
        ((WALL_X, MIDDLE_Y), side, eyes[0]),
        ((ABOVE_X, ABOVE_Y), above, eyes[1]),
    ):
        if is_far:
            parts.append(_far_light(places - np.array([middle]), middle))
        elif len(places) > FEW:
            parts.append(_window(places))
        else:
            parts.append(_lamps(places, middle))
        parts.append(_eye(at))
    key = "sun or sky" if is_far else what
    parts.append(
        f'<circle cx="166" cy="{TALL - 32}" r="4" fill="{LIGHT}" stroke="{INK}"/>'
        f'<text x="176" y="{TALL - 28}">{key}</text>'
        f'{_eye(np.array([166.0, TALL - 14.0]))}<text x="178" y="{TALL - 10}">eye</text>'
    )
    return "".join([*parts, "</svg>"])


def sketch_img(room: Room, *, length_mm: float) -> str:
    """Return the drawing as an element of a page."""
    code = base64.b64encode(room_sketch(room, length_mm=length_mm).encode()).decode()
    return f'<img src="data:image/svg+xml;base64,{code}" alt="{escape(_alt(room))}">'


def _alt(room: Room) -> str:
    return f"Drawing: wall, panel and eye, with {room.words}"


def _flat(places: Doubles, axes: tuple[int, int], signs: tuple[int, int]) -> Doubles:
    return np.asarray(places[:, list(axes)] * np.array([signs]))


def _lamps(places: Doubles, middle: Point) -> str:
    """Return small lamps, each with a ray to the middle of the panel."""
    seen: list[Point] = []
    parts = []
    for x, y in places:
        if any(np.hypot(x - a, y - b) < 2.0 for a, b in seen):
            continue
        seen.append((float(x), float(y)))
        parts.append(
            f'<path d="M{x:.1f} {y:.1f}L{middle[0]} {middle[1]}" stroke="{LIGHT}" '
            'stroke-dasharray="3 3" stroke-width="0.8" fill="none"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{LIGHT}" stroke="{INK}"/>'
        )
    return "".join(parts)


def _window(places: Doubles) -> str:
    low, high = places.min(axis=0) - 2, places.max(axis=0) + 2
    width, height = high - low
    return (
        f'<rect x="{low[0]:.1f}" y="{low[1]:.1f}" width="{width:.1f}" height="{height:.1f}" '
        f'fill="#f2dcae" stroke="{LIGHT}" stroke-width="1.5"/>'
    )


def _far_light(toward: Doubles, middle: Point) -> str:
    """Return arrows that come from where sun or sky stands; one for each of a few directions."""
    turns = np.arctan2(toward[:, 1], toward[:, 0])
    steps = np.unique(np.round(turns / (np.pi / 8))) if len(turns) > 1 else turns / (np.pi / 8)
    parts = []
    for turn in steps * np.pi / 8:
        along = np.array([np.cos(turn), np.sin(turn)])
        (x0, y0), (x1, y1) = middle + 66 * along, middle + 34 * along
        parts.append(
            f'<path d="M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}" stroke="{LIGHT}" stroke-width="2"/>'
            f'<circle cx="{x0:.1f}" cy="{y0:.1f}" r="4" fill="{LIGHT}" stroke="{INK}"/>'
        )
    return "".join(parts)


def _eye(at: Doubles) -> str:
    x, y = at
    return (
        f'<path d="M{x - 7:.1f} {y:.1f}Q{x:.1f} {y - 7:.1f} {x + 7:.1f} {y:.1f}'
        f'Q{x:.1f} {y + 7:.1f} {x - 7:.1f} {y:.1f}Z" fill="#fff" stroke="{EYE}" '
        f'stroke-width="1.4"/><circle cx="{x:.1f}" cy="{y:.1f}" r="2.2" fill="{EYE}"/>'
    )
