"""One photograph as calibration sees it: board and rails' greys, and what comes of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from vision.board import Board, find_board, hold_again
from vision.colour_fit import map_colours
from vision.colour_space import linear_to_lab
from vision.errors import BoardNotFound
from vision.rail_greys import RailGreys, RailPatch, Table, read_rail_greys
from vision.readings import ColourClass, PatchMiss
from vision.shooting_station import ColourMap, StationGrey, ToneCurve
from vision.tone_curve import decode_table, encode


class Rails(Protocol):
    """What is asked of the plan of the rails (`vision.rail_plan.RailPlan`)."""

    def grey_patches(self) -> Sequence[RailPatch]:
        """Return the greys."""
        ...

    def white_patches(self) -> Sequence[RailPatch]:
        """Return the places of bare paper."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class FrameCalibration:
    """What sets the colour of one photograph.

    Parameters
    ----------
    tone : ToneCurve or None
        None stands for sRGB's.
    colour : ColourMap or None
        None: the camera's colours as they are.
    colour_class : ColourClass
    patches : tuple of PatchMiss
        Of the chart and the wood chips.
    greys : tuple of StationGrey
        How the rails' greys read; a station set up from this photograph keeps them.
    words : str
        Why the colour has this class.
    delta_e00_sd : float or None
        How far wood may be off, CIEDE2000.
    board_rgb : tuple of float or None
        Reflectance of the board in the camera's own colours, white at 1; None where this
        photograph's greys do not tell and strip or exposure must.
    board : Board or None
        The photograph held against its board by ``tone``.
    """

    tone: ToneCurve | None
    colour: ColourMap | None
    colour_class: ColourClass
    patches: tuple[PatchMiss, ...] = ()
    greys: tuple[StationGrey, ...] = ()
    words: str = ""
    delta_e00_sd: float | None = None
    board_rgb: tuple[float, float, float] | None = None
    board: Board | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """One photograph and what lies in it.

    Parameters
    ----------
    blank : ndarray or None
        The bare board under the same lamp.
    board : Board or None
        The photograph held against its board by ``tone``.
    tone : ToneCurve or None
    greys, whites : RailGreys or None
        What is printed on the rails; None without a fit of the rails.
    is_linear : bool
        The file holds the sensor's own light, not a camera's rendering of it.
    """

    blank: NDArray[np.uint8] | None
    board: Board | None
    tone: ToneCurve | None
    greys: RailGreys | None
    whites: RailGreys | None
    is_linear: bool = False

    def hold(self, tone: ToneCurve | None) -> Board | None:
        """Return the photograph held against its board by a tone curve."""
        if self.board is None or tone == self.tone:
            return self.board
        return hold_again(self.board, blank=self.blank, decode=decode_table(tone))

    def levels_beside(self, places_px: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """Return the encoded levels of the bare board at places, shape (n, 3); None without."""
        if self.board is None:
            return None
        return encode(self.board.field.at(*places_px.T), decode_table(self.tone))


def look(
    rgb: NDArray[np.uint8],
    *,
    table: Table | None,
    plan: Rails | None,
    blank: NDArray[np.uint8] | None,
    held: tuple[Board | None, ToneCurve | None],
) -> Frame:
    """Return board and rails' greys of a photograph.

    Parameters
    ----------
    held : tuple of Board and ToneCurve, either or both None
        The photograph as already held against its board, and the curve by which it was, or is to
        be, held.
    """
    board, tone = held
    if board is None:
        try:
            board = find_board(rgb, blank=blank, decode=decode_table(tone))
        except BoardNotFound:
            board = None
    if table is None or plan is None:
        return Frame(blank, board, tone, None, None)
    greys, whites = (
        read_rail_greys(rgb, table, list(patches))
        for patches in (plan.grey_patches(), plan.white_patches())
    )
    return Frame(blank, board, tone, greys, whites)


def held_greys(greys: RailGreys, board: Board, tone: ToneCurve | None) -> NDArray[np.float64]:
    """Return the greys' light over the board's at their places, shape (n, 3)."""
    light = greys.light(decode_table(tone))
    return np.asarray(light / board.field.at(*greys.centres_px.T))


def station_greys(
    frame: Frame,
    board: Board | None,
    board_rgb: NDArray[np.float64] | None,
    *,
    tone: ToneCurve | None,
    colour_map: ColourMap | None,
) -> tuple[StationGrey, ...]:
    """Return how the rails' greys read; none where board or level are unknown."""
    if frame.greys is None or board is None or board_rgb is None or not frame.greys.names:
        return ()
    light = frame.greys.light(decode_table(tone))
    camera = held_greys(frame.greys, board, tone) * board_rgb
    lab = linear_to_lab(map_colours(camera, colour_map))
    return tuple(
        StationGrey(name, triple(one), triple(fell), triple(held))
        for name, one, fell, held in zip(frame.greys.names, lab, light, camera, strict=True)
    )


def triple(values: NDArray[np.floating]) -> tuple[float, float, float]:
    """Return three plain numbers."""
    one, two, three = (float(value) for value in values)
    return one, two, three
