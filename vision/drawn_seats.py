"""Seats of drawn faces: four-way, sunburst, boxes, diamonds, herringbone, parquet.

A piece is drawn where it goes in the panel and turned so that its grain runs as the match wants;
where on the leaf it is cut follows from that. Booked pieces are mirrored, so each pair is cut from
one and the same place of two consecutive leaves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from vision.errors import MatchNotPossible
from vision.face_wish import FaceWish
from vision.layout import LeafExtent, Panel
from vision.piece import Box, Point
from vision.run_seats import Seating, net_width, one_face, shortest, trimmed_length
from vision.seat import Seat, upright
from vision.shot import Laid

LEAST_WEDGES = 6
"""A sunburst takes at least six leaves (Architectural Woodwork Standards, 2009, p. 76)."""
ARC_STEP_DEG = 1.0
"""A round rim in straight steps: 0.04 mm off on a metre."""
GRAIN_DEG = (10.0, 80.0)
MOST_SQUARES = 8
"""Along the side of a parquet unless more are asked for."""


def wedge_angle_deg(pieces: int) -> float:
    """Return the angle at the tip of each of ``pieces`` equal wedges around a point, in degrees.

    Raises
    ------
    MatchNotPossible
        If there are fewer than `LEAST_WEDGES` pieces.

    Examples
    --------
    >>> wedge_angle_deg(12)
    30.0
    """
    if pieces < LEAST_WEDGES:
        raise MatchNotPossible(
            f"A sunburst of {pieces} pieces was asked for; it takes at least {LEAST_WEDGES}. "
            "Choose more pieces."
        )
    return 360.0 / pieces


def wedge_sizes_mm(pieces: int, diameter_mm: float) -> tuple[float, float, float]:
    """Return what a wedge of a disc measures.

    Returns
    -------
    chord, tangent, length : float
        Across the rim from corner to corner of the finished wedge; across the blank, which is
        trimmed round only after pressing; along the grain. mm, without overhang.

    Examples
    --------
    >>> [round(size, 1) for size in wedge_sizes_mm(12, 914.4)]
    [236.7, 245.0, 457.2]
    """
    half = math.radians(wedge_angle_deg(pieces) / 2)
    return diameter_mm * math.sin(half), diameter_mm * math.tan(half), diameter_mm / 2


def four_way(run: Sequence[LeafExtent], wish: FaceWish) -> Seating:
    """Return four leaves mirrored both ways, in their order round the middle."""
    _needs(run, 4, "A four-way match")
    wide = _left_over(net_width(run[:4], wish) - wish.allowances.overhang_mm)
    long = trimmed_length(run[:4], wish, rims=1)
    if wish.width_mm is not None:
        wide = wish.width_mm / 2
    if wish.length_mm is not None:
        long = wish.length_mm / 2
    corners = ((0, 0), (1, 0), (1, 1), (0, 1))
    layings = (Laid.AS_LIES, Laid.FACE_OVER, Laid.END_TURNED, Laid.END_OVER)
    if wish.is_slipped:
        layings = (Laid.AS_LIES, Laid.AS_LIES, Laid.END_TURNED, Laid.END_TURNED)
    seats = []
    for at, ((column, row), laid) in enumerate(zip(corners, layings, strict=True)):
        left, top = column * wide, row * long
        seats.append((at, upright(Box(left, top, left + wide, top + long), laid)))
    return one_face(seats, 2 * wide, 2 * long)


def sunburst(run: Sequence[LeafExtent], wish: FaceWish) -> Seating:
    """Return wedges round a point, a joint straight up, as a disc or as a rectangle."""
    pieces = wish.pieces or (len(run) if wish.is_slipped else len(run) - len(run) % 2)
    angle = wedge_angle_deg(pieces)
    if pieces % 2 and not wish.is_slipped:
        raise MatchNotPossible(
            f"A booked sunburst of {pieces} wedges would not close: two wedges that meet would be "
            f"the same way up. Take {pieces - 1} or {pieces + 1}, or slip the wedges."
        )
    _needs(run, pieces, f"A sunburst of {pieces} wedges")
    is_round = wish.length_mm is None
    width = wish.width_mm or _largest_disc(run[:pieces], wish, angle)
    length = wish.length_mm or width
    seats = []
    for at in range(pieces):
        first, last = at * angle, (at + 1) * angle
        blank: tuple[Point, ...] = ()
        if is_round:
            outline = wedge_outline(width / 2, first, last)
            blank = wedge_blank(width / 2, first, last)
        else:
            outline = _wedge_in_box(width, length, first, last)
        turn = (first + last) / 2 + 180.0
        is_mirrored = bool(at % 2) and not wish.is_slipped
        seats.append((at, Seat(outline, turn, is_mirrored, blank)))
    panel = Panel("Face", Box(0.0, 0.0, width, length), is_round)
    return Seating(tuple(seats), (panel,))


def _largest_disc(run: Sequence[LeafExtent], wish: FaceWish, angle: float) -> float:
    reach = net_width(run, wish) / 2 / math.tan(math.radians(angle / 2))
    return _left_over(2 * (min(reach, shortest(run)) - wish.allowances.end_overhang_mm))


def _out(radius: float, angle_deg: float, centre: Point) -> Point:
    """Return a point at a distance from the centre, the angle clockwise from straight up."""
    angle = math.radians(angle_deg)
    return centre[0] + radius * math.sin(angle), centre[1] - radius * math.cos(angle)


def wedge_outline(radius: float, first: float, last: float) -> tuple[Point, ...]:
    """Return a finished wedge of a disc, clockwise from its tip.

    Parameters
    ----------
    radius : float
        Of the disc, mm; its middle is at (radius, radius).
    first, last : float
        Degrees clockwise from straight up.
    """
    centre = (radius, radius)
    steps = max(2, math.ceil((last - first) / ARC_STEP_DEG))
    arc = [_out(radius, first + (last - first) * step / steps, centre) for step in range(steps + 1)]
    return (centre, *arc)


def wedge_blank(radius: float, first: float, last: float) -> tuple[Point, ...]:
    """Return what is cut for such a wedge: a triangle round it, made round after pressing."""
    centre = (radius, radius)
    reach = radius / math.cos(math.radians((last - first) / 2))
    return (centre, _out(reach, first, centre), _out(reach, last, centre))


def _wedge_in_box(width: float, length: float, first: float, last: float) -> tuple[Point, ...]:
    centre = (width / 2, length / 2)
    corner = math.degrees(math.atan2(width, length))
    corners = (corner, 180.0 - corner, 180.0 + corner, 360.0 - corner)
    within = [angle for angle in corners if first + 1e-9 < angle < last - 1e-9]
    rim = [_to_rim(angle, width, length) for angle in (first, *within, last)]
    return (centre, *rim)


def _to_rim(angle_deg: float, width: float, length: float) -> Point:
    sin, cos = math.sin(math.radians(angle_deg)), -math.cos(math.radians(angle_deg))
    reach = min(
        width / 2 / abs(sin) if abs(sin) > 1e-12 else math.inf,
        length / 2 / abs(cos) if abs(cos) > 1e-12 else math.inf,
    )
    return width / 2 + reach * sin, length / 2 + reach * cos


def box(run: Sequence[LeafExtent], wish: FaceWish, *, is_reverse: bool) -> Seating:
    """Return four triangles, the grain along the edges of the panel or, reversed, across them."""
    _needs(run, 4, "A box match")
    width, length = _sides(wish, _largest_box(run[:4], wish, is_reverse=is_reverse))
    middle = (width / 2, length / 2)
    corners = Box(0.0, 0.0, width, length).corners
    seats = []
    for at in range(4):
        outline = (corners[at], corners[(at + 1) % 4], middle)
        is_mirrored = bool(at % 2) and not wish.is_slipped
        turn = 180.0 + 90.0 * at
        if not is_reverse:
            turn = -90.0 - 90.0 * at if is_mirrored or not wish.is_slipped else -90.0 + 90.0 * at
        seats.append((at, Seat(outline, turn % 360.0, is_mirrored)))
    return one_face(seats, width, length)


def _largest_box(run: Sequence[LeafExtent], wish: FaceWish, *, is_reverse: bool) -> float:
    net, long = net_width(run, wish), shortest(run)
    if is_reverse:
        return min(net, 2 * long) - 2 * wish.allowances.end_overhang_mm
    return min(2 * net, long) - 2 * wish.allowances.overhang_mm


def diamond(run: Sequence[LeafExtent], wish: FaceWish, *, is_reverse: bool) -> Seating:
    """Return four pieces whose grain draws a diamond round the middle or, reversed, a cross."""
    _needs(run, 4, "A diamond match")
    slant = _grain(wish)
    sin, cos = math.sin(math.radians(slant)), math.cos(math.radians(slant))
    reach = min(net_width(run[:4], wish), shortest(run[:4])) / (sin + cos)
    width, length = _sides(wish, 2 * (reach - wish.allowances.end_overhang_mm))
    half = (width / 2, length / 2)
    turn = 180.0 + slant if is_reverse else -slant
    quarters = (
        (Box(half[0], 0.0, width, half[1]), turn),
        (Box(half[0], half[1], width, length), 180.0 - turn),
        (Box(0.0, half[1], half[0], length), 180.0 + turn),
        (Box(0.0, 0.0, half[0], half[1]), -turn),
    )
    seats = [
        (at, Seat(quarter.corners, turned % 360.0, bool(at % 2) and not wish.is_slipped))
        for at, (quarter, turned) in enumerate(quarters)
    ]
    return one_face(seats, width, length)


def herringbone(run: Sequence[LeafExtent], wish: FaceWish) -> Seating:
    """Return strips side by side, the grain falling toward every second joint from both sides."""
    strips = wish.pieces or 2
    if strips < 2 or strips % 2:
        raise MatchNotPossible(
            f"A herringbone of {strips} strips was asked for; its strips come in pairs. Ask for "
            "2, 4, 6 and so on."
        )
    _needs(run, strips, f"A herringbone of {strips} strips")
    slant = _grain(wish)
    width, length = _sides(wish, _largest_herringbone(run[:strips], wish, strips))
    wide = width / strips
    seats = []
    for at in range(strips):
        turn = slant if at % 2 else -slant
        strip = Box(at * wide, 0.0, (at + 1) * wide, length)
        seats.append((at, Seat(strip.corners, turn % 360.0, bool(at % 2) and not wish.is_slipped)))
    return one_face(seats, width, length)


def _largest_herringbone(run: Sequence[LeafExtent], wish: FaceWish, strips: int) -> float:
    sin, cos = (part(math.radians(_grain(wish))) for part in (math.sin, math.cos))
    over = wish.allowances.end_overhang_mm
    across = (net_width(run, wish) - over * (cos + 2 * sin)) / (cos / strips + sin)
    along = (shortest(run) - over * (sin + 2 * cos)) / (sin / strips + cos)
    return min(across, along)


def parquet(run: Sequence[LeafExtent], wish: FaceWish) -> Seating:
    """Return squares like a chess board, cut one after the other from each leaf."""
    over = 2 * max(wish.allowances.overhang_mm, wish.allowances.end_overhang_mm)
    side = net_width(run, wish) - over
    columns = wish.pieces or MOST_SQUARES
    if wish.width_mm is not None:
        columns = wish.pieces or math.ceil(wish.width_mm / max(side, 1e-9) - 1e-6)
        side = wish.width_mm / columns
    _left_over(side)
    each = max(int(shortest(run) / (side + over)), 1)
    if wish.pieces is None and wish.width_mm is None:
        columns = min(MOST_SQUARES, math.isqrt(each * len(run)))
    rows = columns if wish.length_mm is None else max(1, round(wish.length_mm / side))
    if rows * columns > each * len(run):
        raise MatchNotPossible(
            f"{rows * columns} squares of {side:.0f} mm are needed; {len(run)} leaves give "
            f"{each * len(run)}, {each} each. Choose more leaves, or fewer squares."
        )
    seats = []
    for number in range(rows * columns):
        row, column = divmod(number, columns)
        square = Box(column * side, row * side, (column + 1) * side, (row + 1) * side)
        turn = 90.0 * ((row + column) % 2)
        start = over / 2 + (number % each) * (side + over)
        seats.append((number // each, Seat(square.corners, turn, along_mm=start)))
    return one_face(seats, columns * side, rows * side)


def _needs(run: Sequence[LeafExtent], count: int, what: str) -> None:
    if len(run) < count:
        raise MatchNotPossible(
            f"{what} takes {count} leaves; {len(run)} were chosen. Choose {count - len(run)} more."
        )


def _grain(wish: FaceWish) -> float:
    low, high = GRAIN_DEG
    if not low <= wish.grain_deg <= high:
        raise MatchNotPossible(
            f"The grain was to run at {wish.grain_deg:g} degrees to the joint; {low:g} to "
            f"{high:g} are possible. Choose an angle between them."
        )
    return wish.grain_deg


def _sides(wish: FaceWish, largest: float) -> tuple[float, float]:
    """Return width and length as wished; what is not wished is square, as large as there is."""
    if wish.width_mm is None and wish.length_mm is None:
        side = _left_over(largest)
        return side, side
    width = wish.width_mm or wish.length_mm or largest
    return width, wish.length_mm or width


def _left_over(size: float) -> float:
    if size <= 0:
        raise MatchNotPossible(
            "The leaves are too small: shooting their edges and the overhang for pressing leave "
            "nothing. Choose larger leaves, or smaller allowances."
        )
    return size
