"""An outline drawn by hand in place of the found one: checked, and made ready for measuring."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.errors import OutlineFaulty
from vision.leaf_seeds import LEAST_AREA
from vision.outline import Outline
from vision.photo import Photo

Points = tuple[tuple[float, float], ...]
"""x, y in full-size photo pixels."""

MOST_POINTS = 4000
"""Found outlines have some hundred points; more than this is a slip, and slow to check."""
LEAST_SHARE = LEAST_AREA / 4
"""Share of the picture below which an outline is a slip of the hand, not a leaf."""
SLACK_PX = 1.0
"""Full pixels by which a point may lie past the rim of the picture; it is then put on the rim."""
MOST_CORNERS = 14
"""Corner points offered for dragging: as many as a finger can keep apart."""
FIRST_LOSS = 0.002
"""Share of the outline's length by which corners alone may first depart from it."""


def checked_outline(
    points: Sequence[Sequence[float]], *, width_px: int, height_px: int, name: str = ""
) -> Points:
    """Return an outline put in order: clockwise as seen, from the top left, without doubles.

    Parameters
    ----------
    points : sequence of (x, y)
        Full-size photo pixels, in either direction.
    width_px, height_px : int
        Of the photograph.
    name : str
        What the outline is of, for the sentence of a refusal: ``left leaf 01``.

    Raises
    ------
    OutlineFaulty
        If there are fewer than three points, a point outside the picture or no number at all, if
        the outline crosses itself, or encloses next to nothing.

    Examples
    --------
    >>> checked_outline([(10, 90), (50, 90), (50, 10), (10, 10)], width_px=60, height_px=100)
    ((10.0, 10.0), (50.0, 10.0), (50.0, 90.0), (10.0, 90.0))
    """
    whose = f"The outline of {name}" if name else "The outline"
    drawn = _as_numbers(points, whose)
    drawn = drawn[np.any(np.abs(drawn - np.roll(drawn, 1, axis=0)) > 1e-6, axis=1)]
    if len(drawn) < 3:
        raise OutlineFaulty(
            f"{whose} has {len(drawn)} different point{'' if len(drawn) == 1 else 's'}; three are "
            "needed at least, one at each corner of the leaf as a rule."
        )
    rim = np.array([width_px - 0.5, height_px - 0.5])
    past = np.maximum(-0.5 - drawn, drawn - rim).max(axis=1)
    if past.max() > SLACK_PX:
        x, y = drawn[int(past.argmax())]
        raise OutlineFaulty(
            f"{whose} has a point at {x:.0f}, {y:.0f}, outside the picture of {width_px} × "
            f"{height_px} pixels. Put every point on the edge of the leaf, inside the picture."
        )
    drawn = np.clip(drawn, -0.5, rim)
    if _crosses_itself(drawn):
        raise OutlineFaulty(
            f"{whose} crosses itself. Follow the edge of the leaf once round, from each point to "
            "its neighbour."
        )
    area = _signed_area(drawn)
    if abs(area) < LEAST_SHARE * width_px * height_px:
        share = 100 * abs(area) / (width_px * height_px)
        raise OutlineFaulty(
            f"{whose} encloses {share:.2f} % of the picture; a leaf takes up "
            f"{100 * LEAST_SHARE:.1f} % at least. Draw it round the whole leaf."
        )
    if area < 0:
        drawn = drawn[::-1]
    drawn = np.roll(drawn, -int(drawn.sum(axis=1).argmin()), axis=0)
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in drawn)


def outline_by_hand(points: Points, photo: Photo, board: Board) -> Outline:
    """Return the outline for measuring, with points as close together as a found one has."""
    at = (np.array(points) + 0.5) / photo.reduction - 0.5
    after = np.roll(at, -1, axis=0)
    counts = np.ceil(np.linalg.norm(after - at, axis=1) / board.fine_step).astype(int)
    sides = [
        start + (end - start) * (np.arange(max(1, count)) / max(1, count))[:, None]
        for start, end, count in zip(at, after, counts, strict=True)
    ]
    return Outline(np.vstack(sides), abs(_signed_area(at)), touches_frame=False)


def corner_points(points: Points, *, most: int = MOST_CORNERS) -> tuple[int, ...]:
    """Return which points of an outline are its corners, in order; all of them if they are few.

    Examples
    --------
    >>> corner_points(((0, 0), (50, 0.1), (100, 0), (100, 40), (50, 40), (0, 40)), most=4)
    (0, 2, 3, 5)
    """
    if len(points) <= most:
        return tuple(range(len(points)))
    line = np.array(points, dtype=np.float32)[:, None, :]
    loss = FIRST_LOSS * cv2.arcLength(line, closed=True)
    corners = cv2.approxPolyDP(line, loss, closed=True)
    while len(corners) > most:
        loss *= 1.3
        corners = cv2.approxPolyDP(line, loss, closed=True)
    apart = np.abs(line - corners[:, 0][None]).sum(axis=2)
    return tuple(sorted({int(index) for index in apart.argmin(axis=0)}))


def _as_numbers(points: Sequence[Sequence[float]], whose: str) -> NDArray[np.float64]:
    try:
        drawn = np.array([[float(x), float(y)] for x, y in points]).reshape(-1, 2)
    except (TypeError, ValueError) as error:
        raise OutlineFaulty(
            f"{whose} is no list of points. Each point is two numbers, x and y, in pixels of the "
            "full-size photograph: [[120, 80], [940, 84], ...]"
        ) from error
    if not np.isfinite(drawn).all():
        raise OutlineFaulty(f"{whose} has a point that is no number. Give x and y in pixels.")
    if len(drawn) > MOST_POINTS:
        raise OutlineFaulty(
            f"{whose} has {len(drawn)} points; {MOST_POINTS} at most are taken. Leave out those "
            "on straight stretches."
        )
    return drawn


def _signed_area(points: NDArray[np.float64]) -> float:
    """Return the area inside, positive if the points run clockwise as seen (y downwards)."""
    x, y = points.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2)


def _crosses_itself(points: NDArray[np.float64]) -> bool:
    """Tell whether two sides that are no neighbours meet; sides along one line do not."""
    count = len(points)
    after = np.roll(points, -1, axis=0)
    step = after - points
    for index in range(count - 2):
        last = count - 1 if index == 0 else count
        others = slice(index + 2, last)
        if others.start >= last:
            continue
        from_here = _side(step[index], points[others] - points[index])
        to_here = _side(step[index], after[others] - points[index])
        from_there = _side(step[others], points[index] - points[others])
        to_there = _side(step[others], after[index] - points[others])
        here, there = from_here * to_here, from_there * to_there
        meets = ((here < 0) & (there <= 0)) | ((here <= 0) & (there < 0))
        if bool(meets.any()):
            return True
    return False


def _side(along: NDArray[np.float64], to: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return on which side of a direction a point lies: the cross product."""
    return np.asarray(along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0])
