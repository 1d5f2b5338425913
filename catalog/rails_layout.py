"""Where everything of the printed rails goes: which piece on which page, which item where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from math import ceil

from catalog.errors import EntryFaulty
from catalog.rails_pieces import Piece, RailItem, holder_items, rail_items
from vision.rail_plan import (
    INNER_MM,
    MARKER_MM,
    OUTER_MM,
    SIDES,
    Holder,
    RailPlan,
    Side,
)

MARGIN_MM = 8.0
"""Most printers leave less than this blank."""
FLAP_MM = 12.0
"""A piece goes on by this much under the next one."""
PIECE_TOP_MM = 27.0
"""Room above a piece of rail for the page's heading."""
BETWEEN_MM = 8.0
"""Between two pieces on a page."""
CHECK_MM, SHORT_CHECK_MM = 200.0, 150.0
CHECK_ROOM_MM = 8.0
"""An upright check line and its words need this beside a piece, else they go into the window."""
STOP_HIGH_MM = 34.0
STOPS_A_SHEET = 4
STOP_PIECE_MM = 240.0
STOP_PAST_MM = 10.0
"""By which the stop goes on past the outer edge of each rail."""
HOLDER_BORDER_MM = 6.0
HOLDER_RAIL_MM = 13.0
"""Paper above and below the window."""
HOLDER_FLAP_MM = 8.0
LEAST_GAP_MM, MOST_GAP_MM = 100.0, 2000.0


class RailsPaper(StrEnum):
    """A paper to print on."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height, upright."""
        return (210.0, 297.0) if self is RailsPaper.A4 else (215.9, 279.4)


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A line to lay a steel rule on, from (x, y) to the right, or down if upright."""

    page: int
    x_mm: float
    y_mm: float
    length_mm: float
    upright: bool


@dataclass(frozen=True, slots=True)
class RailsLayout:
    """All pages: the first holds the words, then rails, stop and chart holder."""

    paper: RailsPaper
    plan: RailPlan
    holder: Holder
    gap_mm: float
    pieces: tuple[Piece, ...]
    check_lines: tuple[CheckLine, ...]
    items: tuple[RailItem, ...]
    lying_pages: frozenset[int]
    """Pages that are printed across."""

    @property
    def page_count(self) -> int:
        """With the page of words."""
        return max(piece.page for piece in self.pieces)

    @property
    def holder_size_mm(self) -> tuple[float, float]:
        """Width and height of the whole chart holder."""
        return holder_size_mm(self.holder)

    def page_size_mm(self, page: int) -> tuple[float, float]:
        """Return width and height of a page."""
        wide, high = self.paper.size_mm
        return (high, wide) if page in self.lying_pages else (wide, high)


def lay_out_rails(
    plan: RailPlan, *, paper: RailsPaper, gap_mm: float, holder: Holder
) -> RailsLayout:
    """Return where everything goes.

    Rails run along the long side of upright pages, a piece of the left beside one of the right:
    400 mm of rail a page. Across the short side only 300 mm would fit.

    Parameters
    ----------
    plan : RailPlan
    paper : RailsPaper
    gap_mm : float
        Between the centre lines of the rails, as wished; only the stop's length depends on it.
    holder : Holder

    Raises
    ------
    EntryFaulty
        If the gap leaves no room for a leaf or is wider than any leaf.
    """
    if not LEAST_GAP_MM <= gap_mm <= MOST_GAP_MM:
        raise EntryFaulty(
            f"Rails {gap_mm:g} mm apart cannot be laid; {LEAST_GAP_MM:g} to {MOST_GAP_MM:g} mm "
            "from centre line to centre line is possible."
        )
    rails = tuple(_rail_pieces(plan, paper))
    stop = tuple(_stop_pieces(gap_mm, paper, first_page=plan.pieces + 2))
    frame = tuple(_holder_pieces(holder, paper, first_page=stop[-1].page + 1))
    lying = {piece.page for piece in stop}
    if len(frame) == 1:
        lying.add(frame[0].page)
    pieces = rails + stop + frame
    return RailsLayout(
        paper=paper,
        plan=plan,
        holder=holder,
        gap_mm=gap_mm,
        pieces=pieces,
        check_lines=tuple(_check_lines(pieces, paper, frozenset(lying))),
        items=(*rail_items(plan, rails), *holder_items(holder, frame)),
        lying_pages=frozenset(lying),
    )


def holder_size_mm(holder: Holder) -> tuple[float, float]:
    """Return width and height of a whole chart holder."""
    x, y = max(holder.marker_centres().values())
    high = max(2 * y + MARKER_MM + 2 * HOLDER_BORDER_MM, holder.window_mm[1] + 2 * HOLDER_RAIL_MM)
    return 2 * x + MARKER_MM + 2 * HOLDER_BORDER_MM, high


def edges_mm(side: Side) -> tuple[float, float]:
    """Return the left and right edge of a rail, from its centre line."""
    return (-OUTER_MM, INNER_MM) if side == "left" else (-INNER_MM, OUTER_MM)


def _rail_pieces(plan: RailPlan, paper: RailsPaper) -> Iterator[Piece]:
    wide = 2 * (OUTER_MM + INNER_MM) + BETWEEN_MM
    left = (paper.size_mm[0] - wide) / 2
    centre_lines = (left + OUTER_MM, left + wide - OUTER_MM)
    for index in range(plan.pieces):
        start, end = plan.piece_span(index)
        for side, x0 in zip(SIDES, centre_lines, strict=True):
            y0 = PIECE_TOP_MM - start
            yield Piece(side, index + 1, plan.pieces, start, end, index + 2, x0, y0)


def _stop_pieces(gap_mm: float, paper: RailsPaper, *, first_page: int) -> Iterator[Piece]:
    start = -OUTER_MM - STOP_PAST_MM
    length = gap_mm - 2 * start
    count = ceil(length / STOP_PIECE_MM)
    each = length / count
    left = (paper.size_mm[1] - each - FLAP_MM) / 2
    for index in range(count):
        begin = start + index * each
        y0 = 22.0 + index % STOPS_A_SHEET * (STOP_HIGH_MM + 6.0)
        page = first_page + index // STOPS_A_SHEET
        yield Piece("stop", index + 1, count, begin, begin + each, page, left - begin, y0)


def _holder_pieces(holder: Holder, paper: RailsPaper, *, first_page: int) -> Iterator[Piece]:
    wide, high = holder_size_mm(holder)
    short, long = paper.size_mm
    if wide <= long - 2 * MARGIN_MM and high <= short - 2 * MARGIN_MM - 40:
        y0 = PIECE_TOP_MM + high / 2
        yield Piece("holder", 1, 1, -wide / 2, wide / 2, first_page, long / 2, y0)
        return
    seam = -HOLDER_FLAP_MM / 2  # both halves, the left with its flap, are equally wide
    y0 = PIECE_TOP_MM + high / 2
    left = (short - wide / 2 - HOLDER_FLAP_MM / 2) / 2
    yield Piece("holder", 1, 2, -wide / 2, seam, first_page, left + wide / 2, y0)
    yield Piece("holder", 2, 2, seam, wide / 2, first_page + 1, left - seam, y0)


def _check_lines(
    pieces: tuple[Piece, ...], paper: RailsPaper, lying: frozenset[int]
) -> Iterator[CheckLine]:
    short, long = paper.size_mm
    yield CheckLine(1, (short - SHORT_CHECK_MM) / 2, long - 22.0, SHORT_CHECK_MM, upright=False)
    firsts = {piece.page: piece for piece in reversed(pieces)}
    for page, piece in sorted(firsts.items()):
        if page in lying:
            yield CheckLine(page, (long - CHECK_MM) / 2, short - 22.0, CHECK_MM, upright=False)
            continue
        x = (short - SHORT_CHECK_MM) / 2
        yield CheckLine(page, x, long - 22.0, SHORT_CHECK_MM, upright=False)
        if piece.part == "holder" and piece.x0_mm + piece.start_mm < MARGIN_MM + CHECK_ROOM_MM:
            middle = piece.x0_mm + (-1 if piece.number == 1 else 1) * SHORT_CHECK_MM / 4
            yield CheckLine(page, middle, piece.y0_mm - SHORT_CHECK_MM / 2, SHORT_CHECK_MM, True)
        else:
            yield CheckLine(page, MARGIN_MM + 3.0, PIECE_TOP_MM, CHECK_MM, upright=True)
