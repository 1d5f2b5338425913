"""A wedge of a leaf, and the rosette that two mirrors standing along its edges would show.

Two hinged mirrors set on a leaf show at once what wedges cut there and laid round a point would
look like; it is how the place of a sunburst is chosen at the bench (common practice). Here the
mirrors are numbers: no pixels.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from vision.drawn_seats import LEAST_WEDGES, wedge_angle_deg, wedge_sizes_mm
from vision.errors import MatchNotPossible

MOST_WEDGES = 48
"""Beyond this a wedge is a splinter at the centre."""
LEAST_RADIUS_MM = 10.0


@dataclass(frozen=True, slots=True)
class Wedge:
    """Where the two mirrors stand on a leaf.

    Raises
    ------
    MatchNotPossible
        With fewer than six wedges (Architectural Woodwork Standards, 1st ed. 2009, p. 76), an odd
        number of mirrored ones, or no radius.

    Examples
    --------
    >>> Wedge(120.0, 900.0, turn_deg=-90.0, radius_mm=200.0, pieces=12).angle_deg
    30.0
    """

    x_mm: float
    """The tip, across the leaf from its left edge."""
    y_mm: float
    """The tip, along the leaf from its top end."""
    turn_deg: float
    """Where the middle line points from the tip: 0 across to the right, 90 down the leaf."""
    radius_mm: float
    """From the tip to the rim of the rosette, along either edge."""
    pieces: int
    is_booked: bool = True
    """Every other wedge turned over, so that like edges meet; else all lie alike."""
    starts_turned: bool = False
    """Whether the first wedge is a turned one: the other hand of the same rosette."""

    def __post_init__(self) -> None:
        if self.pieces < LEAST_WEDGES or self.pieces > MOST_WEDGES:
            raise MatchNotPossible(
                f"{self.pieces} wedges were asked for; a rosette takes {LEAST_WEDGES} to "
                f"{MOST_WEDGES}. Choose a number between."
            )
        if self.is_booked and self.pieces % 2:
            raise MatchNotPossible(
                f"{self.pieces} wedges cannot be booked: the last would meet the first with unlike "
                "edges. Choose an even number, or lay them all alike."
            )
        if not self.radius_mm >= LEAST_RADIUS_MM:
            raise MatchNotPossible(
                f"The rosette would be {2 * self.radius_mm:.0f} mm across; at least "
                f"{2 * LEAST_RADIUS_MM:.0f} mm are needed. Make it larger."
            )

    @property
    def angle_deg(self) -> float:
        """The angle at the tip."""
        return wedge_angle_deg(self.pieces)

    def is_turned(self, piece: int) -> bool:
        """Whether a piece, counted clockwise from 0, is cut from a leaf lying face over."""
        return self.is_booked and (piece % 2 == 1) != self.starts_turned

    def corners_mm(self, *, overhang_mm: float = 0.0) -> NDArray[np.float64]:
        """Return tip and the outer ends of both edges, the edge that turns back first.

        Parameters
        ----------
        overhang_mm : float
            By how much both edges run on beyond the rim, for trimming the panel round.

        Returns
        -------
        ndarray, shape (3, 2)
            Millimetres on the leaf.
        """
        long = self.radius_mm + overhang_mm
        turns = [radians(self.turn_deg + side * self.angle_deg / 2) for side in (-1, 1)]
        ends = [(self.x_mm + long * cos(turn), self.y_mm + long * sin(turn)) for turn in turns]
        return np.array([(self.x_mm, self.y_mm), *ends])

    @property
    def chord_mm(self) -> float:
        """From rim to rim across the wide end of the wedge."""
        return wedge_sizes_mm(self.pieces, 2 * self.radius_mm)[0]


def rosette_to_leaf(
    wedge: Wedge, points_mm: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return which place of the leaf is seen at places of the rosette, and in which piece.

    Parameters
    ----------
    wedge : Wedge
    points_mm : ndarray, shape (..., 2)
        From the middle of the rosette, x to the right and y down. Piece 0 points up; pieces are
        counted clockwise.

    Returns
    -------
    places : ndarray, shape (..., 2)
        Millimetres on the leaf.
    pieces : ndarray of int, shape (...)

    Examples
    --------
    >>> wedge = Wedge(100.0, 500.0, turn_deg=90.0, radius_mm=150.0, pieces=8)
    >>> places, pieces = rosette_to_leaf(wedge, np.array([[0.0, -60.0], [0.0, 60.0]]))
    >>> places.round(6).tolist(), pieces.tolist()
    ([[100.0, 560.0], [100.0, 560.0]], [0, 4])
    """
    x, y = points_mm[..., 0], points_mm[..., 1]
    away = np.hypot(x, y)
    step = 2 * np.pi / wedge.pieces
    clockwise = np.arctan2(x, -y)
    pieces = np.floor(clockwise / step + 0.5).astype(np.intp) % wedge.pieces
    within = (clockwise - pieces * step + np.pi) % (2 * np.pi) - np.pi
    turned = np.array([wedge.is_turned(piece) for piece in range(wedge.pieces)])[pieces]
    turn = radians(wedge.turn_deg) + np.where(turned, -within, within)
    places = np.stack([wedge.x_mm + away * np.cos(turn), wedge.y_mm + away * np.sin(turn)], axis=-1)
    return places, pieces
