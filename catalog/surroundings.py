"""What a match is looked at with: a door, a table or a wall round it, a person beside it.

Outlines only, in millimetres from the top left of the match, drawn round it on screen and, where
asked, round the picture that is written. Sizes of doors, rooms, tables and people are common ones,
from memory; the match in the middle is to scale with them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.match_preview import MatchPreview
from vision.errors import MatchNotPossible
from vision.layout import Layout
from vision.match_render import PAPER
from vision.picture_file import PictureKind, encode_picture
from vision.piece import Box, Point, box_of

DOOR_MM = (826.0, 2040.0)
"""Width and height of a common inner door."""
HANDLE_MM = 1000.0
"""Above the floor."""
FRAME_MM = 65.0
ROOM_MM = 2500.0
"""Height of a room."""
EYE_MM = 1500.0
"""Above the floor; the middle of a face that hangs on a wall."""
SKIRTING_MM = 90.0
PERSON_MM = 1750.0
CHAIR_MM = 450.0
RIM_MM = 30.0
"""Of a table beside the face."""
GAP_MM = 180.0
MARGIN_MM = 400.0
PAPER_MM = 50.0
"""Round everything drawn."""
_HEAD = (0.0, 1640.0, 80.0, 110.0)
"""Middle of the head and its half axes, from between the feet up."""
_BODY: tuple[Point, ...] = (
    (0, 1570), (62, 1570), (60, 1500), (84, 1478), (150, 1458), (205, 1425), (236, 1340),
    (250, 1150), (268, 960), (262, 800), (240, 735), (215, 770), (214, 930), (200, 1090),
    (176, 1270), (150, 1120), (160, 980), (174, 860), (164, 660), (132, 480), (128, 340),
    (84, 110), (112, 30), (104, 0), (24, 0), (30, 110), (34, 330), (28, 480), (8, 820), (0, 830),
)  # fmt: skip
"""Right half of the outline of a standing person, from the neck round to the crotch."""


class Around(StrEnum):
    """What is drawn round a match."""

    NOTHING = "nothing"
    DOOR = "door"
    TABLE = "table"
    WALL = "wall"


@dataclass(frozen=True, slots=True)
class Shape:
    """One closed or open outline."""

    points: tuple[Point, ...]
    kind: str
    """``line``, ``fine`` or ``solid``."""
    is_closed: bool = True

    @property
    def path(self) -> str:
        """The same as the path of an SVG drawing."""
        corners = "L".join(f"{x:.1f},{y:.1f}" for x, y in self.points)
        return f"M{corners}{'Z' if self.is_closed else ''}"


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything drawn round a match."""

    shapes: tuple[Shape, ...]
    box: tuple[float, float, float, float]
    """Left, top, right and bottom of it all, the match included."""

    def long_px(self, layout: Layout, long_px: int) -> int:
        """Return the long side of the match for all of it to take ``long_px``."""
        left, top, right, bottom = self.box
        share = max(layout.width_mm, layout.length_mm) / max(right - left, bottom - top)
        return max(1, int(long_px * share))


def surround(layout: Layout, around: Around, *, person: bool = False) -> Scene:
    """Return what is drawn round a match.

    A face that does not fit on the door has the door standing beside it. A table is seen from
    above, with chairs for the scale and no person.

    Parameters
    ----------
    layout : Layout
    around : Around
    person : bool
        Whether a person of 1.75 m stands beside it.

    Raises
    ------
    MatchNotPossible
        If the leaves have no scale.
    """
    wide, high = layout.width_mm, layout.length_mm
    face = Box(0.0, 0.0, wide, high)
    if around is Around.NOTHING and not person:
        return _scene((), face)
    if layout.unit != "mm":
        raise MatchNotPossible(
            "Nothing can be drawn to scale round the match, for not every leaf has a scale. Type "
            "the length of the leaves in the list of photographs."
        )
    if around is Around.TABLE:
        return _scene(_table(face), face)
    floor, shapes = high, []
    if around is Around.DOOR:
        door = _door_box(face)
        floor = door.bottom
        shapes += _door(door, face)
    elif around is Around.WALL:
        floor = high / 2 + EYE_MM if high < ROOM_MM - SKIRTING_MM else high
        floor = max(floor, high + SKIRTING_MM)
        shapes += _wall(face, floor)
    if person:
        left = min([0.0, *(x for one in shapes if one.kind == "line" for x, _ in one.points)])
        if around is Around.WALL:
            left = 0.0
        shapes += _person(left - GAP_MM - 270.0, floor)
    return _scene((*_floor_line(shapes, face, floor), *shapes), face)


def draw_around(rgb: NDArray[np.uint8], scene: Scene, *, px_per_mm: float) -> NDArray[np.uint8]:
    """Return a painted match on paper with its surroundings round it.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        The match; its top left corner is 0, 0 of the scene.
    scene : Scene
    px_per_mm : float
    """
    left, top, right, bottom = scene.box
    rows, columns = (round(side * px_per_mm) for side in (bottom - top, right - left))
    x, y = round(-left * px_per_mm), round(-top * px_per_mm)
    rows, columns = max(rows, y + rgb.shape[0]), max(columns, x + rgb.shape[1])
    page = np.empty((rows, columns, 3), np.uint8)
    page[:] = PAPER
    thick = max(1, round(2.5 * max(rows, columns) / 2000))
    for shape in scene.shapes:
        corners = (np.array(shape.points) * px_per_mm + (x, y)) * 16
        line = np.rint(corners).astype(np.int32)[:, np.newaxis]
        if shape.kind == "solid":
            cv2.fillPoly(page, [line], (201, 191, 175), cv2.LINE_AA, shift=4)
        else:
            ink = (107, 96, 85) if shape.kind == "line" else (178, 168, 152)
            cv2.polylines(page, [line], shape.is_closed, ink, thick, cv2.LINE_AA, shift=4)
    page[y : y + rgb.shape[0], x : x + rgb.shape[1]] = rgb
    page.setflags(write=False)
    return page


def file_in_place(preview: MatchPreview, scene: Scene, kind: PictureKind) -> bytes:
    """Return a match with its surroundings as a file; the bare one if nothing is round it."""
    if not scene.shapes:
        return preview.file(kind)
    drawn = draw_around(preview.rgb, scene, px_per_mm=preview.px_per_mm)
    return encode_picture(drawn, kind, px_per_mm=preview.px_per_mm)


def _scene(shapes: Sequence[Shape], face: Box) -> Scene:
    points = [*face.corners, *(point for shape in shapes for point in shape.points)]
    box, rim = box_of(points), PAPER_MM if shapes else 0.0
    whole = (box.left - rim, box.top - rim, box.right + rim, box.bottom + rim)
    return Scene(tuple(shapes), whole)


def _door_box(face: Box) -> Box:
    """Return the door round the middle of the face, or beside it where the face is larger."""
    wide, high = DOOR_MM
    if face.width <= wide and face.height <= high:
        left, top = (face.width - wide) / 2, (face.height - high) / 2
        return Box(left, top, left + wide, top + high)
    right = -GAP_MM - FRAME_MM
    return Box(right - wide, face.height - high, right, face.height)


def _door(door: Box, face: Box) -> list[Shape]:
    frame = (
        (door.left - FRAME_MM, door.bottom),
        (door.left - FRAME_MM, door.top - FRAME_MM),
        (door.right + FRAME_MM, door.top - FRAME_MM),
        (door.right + FRAME_MM, door.bottom),
    )
    shapes = [Shape(door.corners, "line"), Shape(frame, "line", is_closed=False)]
    x, y = door.right - 50.0, door.bottom - HANDLE_MM
    handle = Box(x - 110.0, y - 12.0, x, y + 12.0)
    if handle.left >= face.right or handle.right <= face.left:  # a face never hides its handle
        shapes += [Shape(handle.corners, "solid"), Shape(handle.corners, "line")]
    return shapes


def _wall(face: Box, floor: float) -> list[Shape]:
    top = min(floor - ROOM_MM, -MARGIN_MM / 2)
    left, right = -1100.0, face.width + MARGIN_MM
    wall = Box(left, top, right, floor)
    skirting = ((left, floor - SKIRTING_MM), (right, floor - SKIRTING_MM))
    return [Shape(wall.corners, "line"), Shape(skirting, "fine", is_closed=False)]


def _table(face: Box) -> list[Shape]:
    """Return a table seen from above, and chairs along its sides."""
    rim = Box(-RIM_MM, -RIM_MM, face.width + RIM_MM, face.height + RIM_MM)
    chairs = []
    seats = max(1, int(rim.height // 650.0))
    for seat in range(seats):
        middle = rim.top + (seat + 0.5) * rim.height / seats
        for near, far in ((rim.left - 60.0, -1.0), (rim.right + 60.0, 1.0)):
            back = near + far * CHAIR_MM
            sides = (min(near, back), middle - CHAIR_MM / 2, max(near, back), middle + CHAIR_MM / 2)
            chairs.append(Shape(Box(*sides).corners, "line"))
            rest = (back - far * 45.0, middle - CHAIR_MM / 2 + 40.0, middle + CHAIR_MM / 2 - 40.0)
            chairs.append(Shape(((rest[0], rest[1]), (rest[0], rest[2])), "fine", is_closed=False))
    return [Shape(rim.corners, "line"), *chairs]


def _person(x: float, floor: float) -> list[Shape]:
    middle, up, across, along = _HEAD
    turns = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    head = tuple(
        (x + middle + across * float(np.cos(turn)), floor - up - along * float(np.sin(turn)))
        for turn in turns
    )
    half = [(float(px), float(py)) for px, py in _BODY]
    whole = [*half, *((-px, py) for px, py in reversed(half[1:-1]))]
    body = tuple((x + px, floor - py) for px, py in _rounded(whole))
    return [Shape(head, "solid"), Shape(body, "solid")]


def _rounded(points: Sequence[Point], times: int = 2) -> tuple[Point, ...]:
    """Return a closed outline with its corners cut off, and those again (Chaikin's rule)."""
    line = list(points)
    for _ in range(times):
        ahead = [*line[1:], line[0]]
        line = [
            (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
            for a, b in zip(line, ahead, strict=True)
            for share in (0.25, 0.75)
        ]
    return tuple(line)


def _floor_line(shapes: Sequence[Shape], face: Box, floor: float) -> list[Shape]:
    xs = [0.0, face.width, *(x for shape in shapes for x, _ in shape.points)]
    ends = ((min(xs) - 120.0, floor), (max(xs) + 120.0, floor))
    return [Shape(ends, "line", is_closed=False)]
