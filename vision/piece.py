"""The geometry of one piece of veneer: points, half-planes, and moves that keep size and shape.

Lengths are in mm. On a leaf x runs across from its left edge and y along the grain from its top
end, as the leaf lies in the stack; on a panel x runs right and y down from the top left corner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vision.laying import reverses_columns, reverses_rows
from vision.shot import Laid

Point = tuple[float, float]
"""x, y in mm."""

NEAR_MM = 1e-6
"""Two points nearer than this are one point."""


@dataclass(frozen=True, slots=True)
class Move:
    """A rigid move of a flat leaf, turned over or not: a turn, perhaps a mirror, and a shift.

    ``x' = xx x + xy y + x_mm`` and ``y' = yx x + yy y + y_mm``.
    """

    xx: float
    xy: float
    yx: float
    yy: float
    x_mm: float
    y_mm: float

    def __call__(self, point: Point) -> Point:
        """Return where a point goes."""
        x, y = point
        return (
            self.xx * x + self.xy * y + self.x_mm,
            self.yx * x + self.yy * y + self.y_mm,
        )

    def back(self) -> Move:
        """Return the move that undoes this one.

        Examples
        --------
        >>> move = turn_about((3.0, 4.0), 30.0, mirrored=True)
        >>> x, y = move.back()(move((10.0, 20.0)))
        >>> round(x, 9), round(y, 9)
        (10.0, 20.0)
        """
        return Move(
            self.xx,
            self.yx,
            self.xy,
            self.yy,
            -(self.xx * self.x_mm + self.yx * self.y_mm),
            -(self.xy * self.x_mm + self.yy * self.y_mm),
        )

    def after(self, first: Move) -> Move:
        """Return the single move that equals ``first`` followed by this one."""
        corner = self((first.x_mm, first.y_mm))
        return Move(
            self.xx * first.xx + self.xy * first.yx,
            self.xx * first.xy + self.xy * first.yy,
            self.yx * first.xx + self.yy * first.yx,
            self.yx * first.xy + self.yy * first.yy,
            *corner,
        )

    @property
    def turns_over(self) -> bool:
        """Whether the face that was down comes up."""
        return self.xx * self.yy - self.xy * self.yx < 0

    def laying(self) -> tuple[Laid, float]:
        """Return the laying and the turn that is left over it.

        Returns
        -------
        laid : Laid
            One of the four layings of a leaf.
        turned_deg : float
            By how much the leaf so laid is then turned in the plane of the panel, clockwise as
            seen, above -90 up to and with 90. At 0 the grain runs up and down the panel.

        Examples
        --------
        >>> laid, turned = turn_about((0.0, 0.0), 210.0, mirrored=False).laying()
        >>> str(laid), turned
        ('end-turned', 30.0)
        """
        # where the leaf's foot end points: straight down the panel is no turn
        turn = math.degrees(math.atan2(-self.xy, self.yy))
        turned = round(turn, 9)
        ends_changed = not -90.0 < turned <= 90.0
        if ends_changed:
            turned -= math.copysign(180.0, turned)
        if self.turns_over:
            return (Laid.END_OVER if ends_changed else Laid.FACE_OVER), turned + 0.0
        return (Laid.END_TURNED if ends_changed else Laid.AS_LIES), turned + 0.0


def shift(x_mm: float, y_mm: float) -> Move:
    """Return a move without a turn."""
    return Move(1.0, 0.0, 0.0, 1.0, x_mm, y_mm)


def turn_about(centre: Point, angle_deg: float, *, mirrored: bool) -> Move:
    """Return a clockwise turn of what is drawn about (0, 0), set down at ``centre``.

    ``mirrored`` turns it over its y axis first, as a leaf is turned over its long edge. Quarter
    turns are exact.
    """
    cos, sin = cos_sin(angle_deg)
    side = -1.0 if mirrored else 1.0
    return Move(side * cos, -sin, side * sin, cos, *centre)


def lay(laid: Laid, width_mm: float, length_mm: float) -> Move:
    """Return the move of a leaf laid some way within its own upright frame.

    Examples
    --------
    >>> lay(Laid.END_OVER, 200.0, 2000.0)((10.0, 0.0))
    (10.0, 2000.0)
    """
    columns, rows = reverses_columns(laid), reverses_rows(laid)
    return Move(
        -1.0 if columns else 1.0,
        0.0,
        0.0,
        -1.0 if rows else 1.0,
        width_mm if columns else 0.0,
        length_mm if rows else 0.0,
    )


def cos_sin(angle_deg: float) -> tuple[float, float]:
    """Return cosine and sine of an angle in degrees; of quarter turns exactly."""
    quarter = angle_deg / 90.0
    if quarter == round(quarter):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
    angle = math.radians(angle_deg)
    return math.cos(angle), math.sin(angle)


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Size across, mm."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Size down, mm."""
        return self.bottom - self.top

    @property
    def corners(self) -> tuple[Point, Point, Point, Point]:
        """Clockwise as seen, from the top left."""
        return (
            (self.left, self.top),
            (self.right, self.top),
            (self.right, self.bottom),
            (self.left, self.bottom),
        )


def box_of(points: Sequence[Point]) -> Box:
    """Return the smallest upright rectangle round some points."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return Box(min(xs), min(ys), max(xs), max(ys))


def area_mm2(outline: Sequence[Point]) -> float:
    """Return the area of a polygon, positive where it runs clockwise as seen (y down).

    Examples
    --------
    >>> area_mm2(Box(0.0, 0.0, 20.0, 30.0).corners)
    600.0
    """
    ahead = zip(outline, (*outline[1:], outline[0]), strict=True)
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in ahead) / 2


def middle_of(outline: Sequence[Point]) -> Point:
    """Return the centre of gravity of a polygon.

    Examples
    --------
    >>> middle_of(((0.0, 0.0), (30.0, 0.0), (0.0, 30.0)))
    (10.0, 10.0)
    """
    x = y = 0.0
    for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        part = x0 * y1 - x1 * y0
        x, y = x + (x0 + x1) * part, y + (y0 + y1) * part
    whole = 6 * area_mm2(outline)
    return x / whole, y / whole


def edge_of(outline: Sequence[Point], index: int) -> tuple[Point, Point]:
    """Return the ends of the edge that sets out from a corner."""
    return outline[index], outline[(index + 1) % len(outline)]


def grown(outline: Sequence[Point], by_mm: Sequence[float]) -> tuple[Point, ...]:
    """Return a polygon with each edge moved outwards by its own distance.

    Parameters
    ----------
    outline : sequence of Point
        Convex.
    by_mm : sequence of float
        One a corner: for the edge from it to the next.

    Examples
    --------
    >>> grown(Box(0.0, 0.0, 10.0, 10.0).corners, (0.0, 0.0, 5.0, 0.0))[2]
    (10.0, 15.0)
    """
    side = 1.0 if area_mm2(outline) > 0 else -1.0
    lines = []
    for index, by in enumerate(by_mm):
        (x0, y0), (x1, y1) = edge_of(outline, index)
        long = math.hypot(x1 - x0, y1 - y0)
        normal = (side * (y1 - y0) / long, -side * (x1 - x0) / long)
        lines.append((*normal, normal[0] * x0 + normal[1] * y0 + by))
    return tuple(_crossing(lines[index - 1], lines[index]) for index in range(len(lines)))


def _crossing(one: tuple[float, float, float], other: tuple[float, float, float]) -> Point:
    (a, b, c), (d, e, f) = one, other
    det = a * e - b * d
    return (c * e - b * f) / det + 0.0, (a * f - c * d) / det + 0.0


def shared_part(one: tuple[Point, Point], other: tuple[Point, Point]) -> tuple[Point, Point] | None:
    """Return the stretch along which two straight edges lie on each other, None if they do not.

    Examples
    --------
    >>> shared_part(((0.0, 0.0), (0.0, 10.0)), ((0.0, 15.0), (0.0, 4.0)))
    ((0.0, 4.0), (0.0, 10.0))
    """
    (x0, y0), (x1, y1) = one
    long = math.hypot(x1 - x0, y1 - y0)
    if long < NEAR_MM:
        return None
    ux, uy = (x1 - x0) / long, (y1 - y0) / long
    ends = []
    for x, y in other:
        if abs((x - x0) * uy - (y - y0) * ux) > 1e3 * NEAR_MM:
            return None
        ends.append((x - x0) * ux + (y - y0) * uy)
    low, high = max(0.0, min(ends)), min(long, max(ends))
    if high - low < 1e3 * NEAR_MM:
        return None
    return (x0 + low * ux, y0 + low * uy), (x0 + high * ux, y0 + high * uy)
