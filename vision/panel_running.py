"""A running face: leaves at their full clear width, one after the other, until it is full."""

from __future__ import annotations

from dataclasses import dataclass

from vision.laying import reverses_columns
from vision.match_layout import LAYINGS
from vision.panel_faces import Slot
from vision.panel_job import Allowances, Job, Panel
from vision.panel_window import HAIR_MM, Cut, Extra, Strips, shows
from vision.shot import Laid


@dataclass(frozen=True, slots=True)
class Left:
    """What a running face leaves of its last leaf: a strip that may start the next panel."""

    leaf: int
    laid: Laid
    left: float
    right: float
    """Where across the pack it lies."""
    top: float
    length: float
    turn: int
    """Place of the leaf in the repeat of the match."""


@dataclass(frozen=True, slots=True)
class RunningPiece:
    """One piece of a running face."""

    leaf: int
    laid: Laid
    cut: Cut
    extra: Extra


Laying = tuple[tuple[RunningPiece, ...], int, Left | None]
"""Pieces of a running face, the leaf after its last, and what is left of the last."""


def lay_running(
    job: Job,
    panel: Panel,
    strips: Strips,
    leaves: range,
    *,
    top: float,
    carried: Left | None,
) -> Laying | None:
    """Return the pieces of a running face, the leaf after its last, and what is left of the last.

    Parameters
    ----------
    job : Job
    panel : Panel
    strips : Strips
        Of the whole flitch.
    leaves : range
        The fresh leaves that may be used, in order.
    top : float
        Where along the pack the face begins, mm.
    carried : Left or None
        What the last panel left; it comes first.

    Returns
    -------
    Laying or None
        None if the leaves do not reach, one is too narrow, or a place would not show as it must.
    """
    found = _strips(job, panel, strips, leaves, top=top, carried=carried)
    if found is None:
        return None
    widths, last_raw = found
    allowances = job.allowances
    inner = [width for width, *_ in widths[1:-1]]
    outer = [widths[0][0], widths[-1][0]] if len(widths) > 1 else []
    if any(width < allowances.least_piece_mm - HAIR_MM for width in inner) or any(
        width < allowances.least_edge_mm - HAIR_MM for width in outer
    ):
        return None
    pieces = []
    for place, (width, raw) in enumerate(widths):
        piece = _piece(job, panel, raw, width, place, len(widths), top)
        slot = Slot(place, 0, raw.laid)
        within = allowances.at_within_mm
        is_split = carried is not None and place == 0
        if not is_split and not shows(
            strips.woods[raw.leaf], slot, piece.cut, rows=1, within=within
        ):
            return None
        pieces.append(piece)
    fresh = [raw.leaf for _, raw in widths if carried is None or raw.leaf != carried.leaf]
    end = max(fresh, default=leaves.start - 1) + 1
    return tuple(pieces), end, _left_over(pieces[-1], last_raw, job)


def _strips(
    job: Job,
    panel: Panel,
    strips: Strips,
    leaves: range,
    *,
    top: float,
    carried: Left | None,
) -> tuple[list[tuple[float, Left]], Left] | None:
    """Return (width in the face, strip) of each piece, and the last one's whole strip.

    Where the last piece would be a sliver, the one before it gives it what it lacks.
    """
    allowances, layings = job.allowances, LAYINGS[job.match]
    side, joint = allowances.overhang_side_mm, allowances.joint_cut_mm
    laid: list[tuple[float, Left]] = []
    missing, leaf = panel.width_mm, leaves.start
    turn = 0 if carried is None else carried.turn
    raw = carried
    while True:
        if raw is None:
            if leaf >= leaves.stop:
                return None
            strip = strips.at(leaf, top, panel.length_mm)
            if strip is None:
                return None
            way = layings[turn % len(layings)]
            raw = Left(leaf, way, *strip, top, panel.length_mm, turn)
            leaf += 1
        first_cut = joint if laid else side
        room = raw.right - raw.left - first_cut
        if room - side >= missing - HAIR_MM:
            _widen_last(laid, missing, allowances, room - side)
            width = panel.width_mm - sum(width for width, _ in laid)
            return [*laid, (width, raw)], raw
        width = min(room - joint, missing)
        if width <= 0:
            return None
        laid.append((width, raw))
        missing -= width
        turn, raw = turn + 1, None


def _widen_last(
    laid: list[tuple[float, Left]], missing: float, allowances: Allowances, most: float
) -> None:
    """Take from the pieces before it what the last piece lacks to be no sliver."""
    lacking = allowances.least_edge_mm - missing
    if lacking <= 0 or allowances.least_edge_mm > most + HAIR_MM:
        return
    for place in range(len(laid) - 1, -1, -1):
        width, raw = laid[place]
        floor = allowances.least_piece_mm if place else allowances.least_edge_mm
        given = max(0.0, min(width - floor, lacking))
        laid[place] = (width - given, raw)
        lacking -= given


def _piece(
    job: Job, panel: Panel, raw: Left, width: float, place: int, count: int, top: float
) -> RunningPiece:
    side, joint = job.allowances.overhang_side_mm, job.allowances.joint_cut_mm
    over = job.allowances.overhang_end_mm
    begins, ends = (side if place == 0 else joint), (side if place == count - 1 else joint)
    if reverses_columns(raw.laid):
        cut = Cut(raw.right - begins - width, top, width, panel.length_mm)
        return RunningPiece(raw.leaf, raw.laid, cut, Extra(ends, over, begins, over))
    cut = Cut(raw.left + begins, top, width, panel.length_mm)
    return RunningPiece(raw.leaf, raw.laid, cut, Extra(begins, over, ends, over))


def _left_over(piece: RunningPiece, raw: Left, job: Job) -> Left | None:
    """Return the strip beyond the last piece, None where it could not even be a first piece."""
    if reverses_columns(raw.laid):
        left, right = raw.left, piece.cut.left - piece.extra.left
    else:
        left, right = piece.cut.left + piece.cut.width + piece.extra.right, raw.right
    allowances = job.allowances
    least = allowances.least_edge_mm + allowances.overhang_side_mm + allowances.joint_cut_mm
    if right - left < least - HAIR_MM:
        return None
    return Left(raw.leaf, raw.laid, left, right, raw.top, raw.length, raw.turn)
