"""How the two printed rails are laid out, in millimetres: markers, greys, whites, chart holder.

Nothing here knows a pixel. A rail runs along the table; y is counted from the centre of its first
marker, away from the leaf-end stop. x is counted across, from the centre line of the left rail
(table) or from the rail's own centre line (patches).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt
from typing import Literal

from vision.errors import RailsNotPossible
from vision.shooting_station import RailsByTape

Side = Literal["left", "right"]
SIDES: tuple[Side, Side] = ("left", "right")

MARKER_MM = 40.0
"""Black square of a marker: 6 by 6 cells, dictionary 4X4_250."""
PITCHES_MM = (100.0, 400.0)
LEAST_MARKERS = 2
"""On each rail; fewer have no length."""
MOST_LENGTH_MM = 3500.0
RIGHT_FROM = 100
"""Id of the right rail's first marker; the left rail's is 0."""

END_MM = 40.0
"""Paper before the centre of the first marker and after that of the last. The straight edge of the
leaf-end stop therefore lies at y = -40."""
INNER_MM = 30.0
"""Centre line to the edge on the leaf's side: half a marker and 10 mm of white."""
OUTER_MM = 54.0
"""Centre line to the edge away from the leaf, past the greys."""

GREY_STEPS = (0.80, 0.55, 0.38, 0.26, 0.17, 0.10, 0.05)
"""Reflectances of the grey scale, from the top of each copy down."""
GREY_SIDE_MM = 20.0
"""At 1.1 px/mm, a telephone over a whole table, this still is 22 px."""
GREY_PITCH_MM = 24.0
GREY_OUT_MM = 40.0
"""Centre line of the greys from the centre line of the rail, away from the leaf."""
PIECE_MM = 200.0
"""One printed piece of a rail; a copy of the grey scale keeps to one piece, so no seam cuts it."""
PIECE_FROM_MM = -50.0
"""Where the first piece would begin: seams lie half-way between markers, at 150, 350, 550 ..."""
PIECE_MIDDLE_MM = PIECE_FROM_MM + PIECE_MM / 2
WHITE_WIDE_MM, WHITE_HIGH_MM = 20.0, 24.0
EDGE_MM = 4.0
"""No patch comes nearer than this to the end of a rail."""

HOLDER_IDS = (240, 241, 242, 243)
"""Top left, top right, bottom right, bottom left, the chart's dark skin at the top left."""
LEAST_CHART_MM, MOST_CHART_MM = 8.0, 44.0
"""Patch pitches for which a chart holder can be printed; at 44 its halves fill a sheet."""
CHART_COLUMNS, CHART_ROWS = 6, 4
WINDOW_SLACK_MM = 2.0
"""By which the window is larger than the patches, on each side."""
HOLDER_WHITE_MM = 10.0
"""White between the window and a marker."""


@dataclass(frozen=True, slots=True)
class GreyPatch:
    """A grey or a white of a rail: where it lies and what it was meant to reflect."""

    name: str
    """Such as ``left 2 grey 0.26`` (second copy) or ``right white 250``; unique in a plan."""
    rail: Side
    x_mm: float
    """Its centre from the rail's own centre line; left is negative."""
    y_mm: float
    """Its centre from the first marker's, as designed."""
    width_mm: float
    height_mm: float
    reflectance: float | None
    """0 to 1, as designed; None for bare paper."""


@dataclass(frozen=True, slots=True)
class RailPlan:
    """Two rails with ``markers`` markers each, ids 0, 1, 2 ... and 100, 101, 102 ... from the top.

    Raises
    ------
    RailsNotPossible
        If the pitch is not one of `PITCHES_MM` or there are fewer than `LEAST_MARKERS` or more
        than fit in `MOST_LENGTH_MM`.
    """

    markers: int
    pitch_mm: float = 100.0

    def __post_init__(self) -> None:
        if self.pitch_mm not in PITCHES_MM:
            raise RailsNotPossible(
                f"Rails with a marker every {self.pitch_mm:g} mm are not made; choose 100 or 400."
            )
        if self.markers < LEAST_MARKERS or self.length_mm > MOST_LENGTH_MM:
            raise RailsNotPossible(
                f"{self.markers} markers {self.pitch_mm:g} mm apart make a rail of "
                f"{max(self.length_mm, 0.0):g} mm; rails are made from {self.pitch_mm:g} to "
                f"{MOST_LENGTH_MM:g} mm."
            )

    @property
    def length_mm(self) -> float:
        """First marker to last, as designed."""
        return (self.markers - 1) * self.pitch_mm

    @property
    def end_mm(self) -> float:
        """The y at which the paper ends."""
        return self.length_mm + END_MM

    def marker_centres(
        self, tape: RailsByTape | None, gap_mm: float | None
    ) -> dict[int, tuple[float, float]]:
        """Return the place of every marker, table mm, by id; see `place` for tape and gap."""
        return {
            first + index: self.place(side, 0.0, index * self.pitch_mm, tape=tape, gap_mm=gap_mm)
            for side, first in zip(SIDES, (0, RIGHT_FROM), strict=True)
            for index in range(self.markers)
        }

    def place(
        self,
        rail: Side,
        x_mm: float,
        y_mm: float,
        *,
        tape: RailsByTape | None,
        gap_mm: float | None,
    ) -> tuple[float, float]:
        """Return where a point of a rail lies on the table.

        Parameters
        ----------
        rail : {"left", "right"}
        x_mm, y_mm : float
            The point from the rail's own centre line and first marker, as designed.
        tape : RailsByTape or None
            The rails by tape: lengths scale each rail evenly, x and y alike; gaps set the right
            rail apart and out of parallel. None: as designed.
        gap_mm : float or None
            Centre line to centre line, where the tape knows no gap. With no gap at all the right
            rail is laid upon the left, at x = 0.

        Returns
        -------
        tuple of float
            x across and y along, table mm.

        Raises
        ------
        RailsNotPossible
            If the tape was laid on other rails than these, or its lengths and gaps are no rails.

        Examples
        --------
        >>> RailPlan(33).place("right", 0.0, 3200.0, tape=None, gap_mm=700.0)
        (700.0, 3200.0)
        """
        scale = self._scale(rail, tape)
        x, y = x_mm * scale, y_mm * scale
        if rail == "left":
            return x, y
        top, bottom = _gaps(tape, gap_mm)
        lean = (bottom - top) / (self.length_mm * scale)
        if abs(lean) >= 1:
            raise RailsNotPossible(
                f"Gaps of {top:g} mm at the top and {bottom:g} mm at the bottom cannot be for "
                f"rails {self.length_mm:g} mm long. Measure both from centre line to centre line."
            )
        straight = sqrt(1 - lean * lean)
        return top + x * straight + y * lean, y * straight - x * lean

    def places(
        self, patches: Iterable[GreyPatch], *, tape: RailsByTape | None, gap_mm: float | None
    ) -> tuple[tuple[float, float], ...]:
        """Return the centres of greys or whites, table mm; see `place`."""
        return tuple(
            self.place(patch.rail, patch.x_mm, patch.y_mm, tape=tape, gap_mm=gap_mm)
            for patch in patches
        )

    def grey_patches(self) -> tuple[GreyPatch, ...]:
        """Return the greys: up to three copies of the scale on each rail, the left rail first.

        The copies lie at the top, in the middle and at the bottom; a rail too short for three
        carries as many as it has pieces for.
        """
        return tuple(
            GreyPatch(
                name=f"{side} {copy} grey {step:.2f}",
                rail=side,
                x_mm=_outwards(side) * GREY_OUT_MM,
                y_mm=middle + (index - (len(GREY_STEPS) - 1) / 2) * GREY_PITCH_MM,
                width_mm=GREY_SIDE_MM,
                height_mm=GREY_SIDE_MM,
                reflectance=step,
            )
            for side in SIDES
            for copy, middle in enumerate(self._grey_middles(), start=1)
            for index, step in enumerate(GREY_STEPS)
        )

    def white_patches(self) -> tuple[GreyPatch, ...]:
        """Return places of bare paper that stay free of print, all along, the left rail first.

        Between markers in the middle of each piece, and in the column of the greys on pieces
        that carry none. No seam of two pieces goes through one.
        """
        whites: list[GreyPatch] = []
        greys = self._grey_middles()
        for side in SIDES:
            out = _outwards(side) * GREY_OUT_MM
            for piece in range(self.pieces):
                middle = PIECE_MIDDLE_MM + piece * PIECE_MM
                places = [(0.0, middle)]
                if middle not in greys:
                    places += [(out, middle - PIECE_MM / 4), (out, middle + PIECE_MM / 4)]
                whites += [
                    _white(side, x, y)
                    for x, y in places
                    if y + WHITE_HIGH_MM / 2 + EDGE_MM <= self.end_mm
                ]
        return tuple(whites)

    @property
    def pieces(self) -> int:
        """How many printed pieces make one rail."""
        return int(-(-(self.end_mm - PIECE_FROM_MM) // PIECE_MM))

    def piece_span(self, piece: int) -> tuple[float, float]:
        """Return the y at which a piece (0 for the first) begins and ends."""
        start = PIECE_FROM_MM + piece * PIECE_MM
        return max(start, -END_MM), min(start + PIECE_MM, self.end_mm)

    def _grey_middles(self) -> tuple[float, ...]:
        half = (len(GREY_STEPS) - 1) / 2 * GREY_PITCH_MM + GREY_SIDE_MM / 2
        last = int((self.end_mm - EDGE_MM - half - PIECE_MIDDLE_MM) // PIECE_MM)
        return tuple(PIECE_MIDDLE_MM + piece * PIECE_MM for piece in sorted({0, last // 2, last}))

    def _scale(self, rail: Side, tape: RailsByTape | None) -> float:
        if tape is None:
            return 1.0
        if (tape.markers, tape.pitch_mm) != (self.markers, self.pitch_mm):
            raise RailsNotPossible(
                f"The tape was laid on rails of {tape.markers} markers every {tape.pitch_mm:g} mm, "
                f"these have {self.markers} every {self.pitch_mm:g} mm. Measure these rails."
            )
        length = tape.left_length_mm if rail == "left" else tape.right_length_mm
        if length <= 0:
            raise RailsNotPossible(
                f"A rail cannot be {length:g} mm long. Measure from the centre of the first marker "
                "to the centre of the last."
            )
        return length / self.length_mm


@dataclass(frozen=True, slots=True)
class Holder:
    """A frame with four markers round a window for a chart of 6 by 4 patches.

    Holder mm: x to the right and y down from the middle of the window, dark skin at the top left.

    Raises
    ------
    RailsNotPossible
        If the patch pitch is outside `LEAST_CHART_MM` to `MOST_CHART_MM`.
    """

    patch_pitch_mm: float
    """Centre to centre of neighbouring patches, mm."""

    def __post_init__(self) -> None:
        if not LEAST_CHART_MM <= self.patch_pitch_mm <= MOST_CHART_MM:
            raise RailsNotPossible(
                f"A chart with patches {self.patch_pitch_mm:g} mm apart has no holder; "
                f"{LEAST_CHART_MM:g} to {MOST_CHART_MM:g} mm, centre to centre, can be printed."
            )

    @property
    def window_mm(self) -> tuple[float, float]:
        """Width and height of the window."""
        return (
            CHART_COLUMNS * self.patch_pitch_mm + 2 * WINDOW_SLACK_MM,
            CHART_ROWS * self.patch_pitch_mm + 2 * WINDOW_SLACK_MM,
        )

    def marker_centres(self) -> dict[int, tuple[float, float]]:
        """Return the centres of the holder's markers, holder mm, by id."""
        width, height = self.window_mm
        x = width / 2 + HOLDER_WHITE_MM + MARKER_MM / 2
        y = max(height / 2 - MARKER_MM / 2, MARKER_MM / 2 + HOLDER_WHITE_MM)
        corners = ((-x, -y), (x, -y), (x, y), (-x, y))
        return dict(zip(HOLDER_IDS, corners, strict=True))

    def patch_centres(self) -> tuple[tuple[float, float], ...]:
        """Return the 24 centres of the patches, holder mm, row by row, dark skin first."""
        return tuple(
            (
                (column - (CHART_COLUMNS - 1) / 2) * self.patch_pitch_mm,
                (row - (CHART_ROWS - 1) / 2) * self.patch_pitch_mm,
            )
            for row in range(CHART_ROWS)
            for column in range(CHART_COLUMNS)
        )


def plan_for_length(length_mm: float, pitch_mm: float = 100.0) -> RailPlan:
    """Return the longest rails that are no longer, first marker to last, than ``length_mm``.

    Raises
    ------
    RailsNotPossible
        If that is shorter than two markers or longer than `MOST_LENGTH_MM`.

    Examples
    --------
    >>> plan_for_length(3250.0)
    RailPlan(markers=33, pitch_mm=100.0)
    """
    if pitch_mm not in PITCHES_MM or not pitch_mm <= length_mm <= MOST_LENGTH_MM:
        raise RailsNotPossible(
            f"Rails of {length_mm:g} mm with a marker every {pitch_mm:g} mm cannot be made. "
            "Markers stand every 100 or 400 mm, and a rail is from one such step to "
            f"{MOST_LENGTH_MM:g} mm long, first marker to last."
        )
    return RailPlan(int(length_mm // pitch_mm) + 1, pitch_mm)


def _gaps(tape: RailsByTape | None, gap_mm: float | None) -> tuple[float, float]:
    """Return the gap at the top and at the bottom, mm."""
    known = [] if tape is None else [tape.gap_top_mm, tape.gap_bottom_mm]
    fallback = next((gap for gap in [*known, gap_mm] if gap is not None), 0.0)
    top, bottom = (fallback if gap is None else gap for gap in known or [None, None])
    return top, bottom


def _outwards(side: Side) -> int:
    return -1 if side == "left" else 1


def _white(side: Side, x_mm: float, y_mm: float) -> GreyPatch:
    column = "outer " if x_mm else ""
    name = f"{side} {column}white {y_mm:g}"
    return GreyPatch(name, side, x_mm, y_mm, WHITE_WIDE_MM, WHITE_HIGH_MM, None)
