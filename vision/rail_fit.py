"""Millimetres from two printed rails: every marker, plane and lens in one fit, or a refusal."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision import rail_solve
from vision.errors import RailsUnfit
from vision.marker_search import Markers, find_markers
from vision.rail_misses import judge, misses_of, rms_of
from vision.rail_plan import HOLDER_IDS, MARKER_MM, RIGHT_FROM, Holder, RailPlan
from vision.rail_solve import Known
from vision.shooting_station import RailsByTape
from vision.station import FILM_DIAGONAL_MM, USUAL_FOCAL_MM
from vision.table_map import (
    RightRail,
    TableMap,
    TableTrust,
    stand_of_camera,
    undo_radial,
)

__all__ = ["Markers", "find_markers", "fit_table"]

LEAST_MARKERS = 8
LEAST_EACH = 3
"""On each rail: two points lie on every line."""
LEAST_IN_ROW = 8
"""Markers of a rail from which one that stands out of its row can be told."""
ASTRAY = 0.4
"""Share of the pitch by which a marker may leave the smooth row of its rail; beyond, it is no
marker of this rail but something that looks like one."""
ROW_SETTLED_PX = 0.02
"""Pixels by which no marker may move any more against its row: far below `ASTRAY`."""
EXIF_SD, USUAL_SD = 0.04, 0.3
"""One standard deviation of the focal length, as a fraction, from the file and without it."""
PRINTER_SD = 0.003
"""The same of a printed rail's length that nobody measured."""
TAPE_READING_MM = 0.3


def fit_table(
    markers: Markers,
    plan: RailPlan,
    *,
    tape: RailsByTape | None,
    size_px: tuple[int, int],
    focal_35mm: float | None,
    camera_height_mm: float | None,
    holder: Holder | None = None,
    right_rail: RightRail | None = None,
) -> TableMap:
    """Return where the table lies in a photograph, fitted to every marker of both rails.

    A projectivity, two radial terms and the lie of the right rail are fitted together: first by
    plain least squares, then with misses beyond the usual counting less (Huber 1964). What two
    rails can tell and what they cannot is said in `vision.rail_solve`.

    Parameters
    ----------
    markers : Markers
        `find_markers` of the photograph.
    plan : RailPlan
    tape : RailsByTape or None
        Without it the rails are taken as designed, and nothing is called measured.
    size_px : tuple of int
        Width and height of the photograph.
    focal_35mm : float or None
        From the file, mm as on 24 x 36 mm film.
    camera_height_mm : float or None
        Lens above the table, by tape, mm.
    holder : Holder or None
        The chart holder, where `TableMap.holder_to_px` is wanted.
    right_rail : RightRail or None
        How the right rail lies, if other photographs of the same rails have told it.

    Raises
    ------
    RailsUnfit
        With fewer than `LEAST_MARKERS` markers or less than `LEAST_EACH` on one rail, a bent rail,
        or misses above `vision.rail_misses.MOST_RMS_MM`.
    """
    ids, along, lengths = _on_rails(markers, plan, tape)
    keep = _in_row(ids, along, markers, plan)
    ids, along, seen = ids[keep], along[keep], _only(markers, keep)
    _refuse_too_few(ids)
    known = _known(ids, along, seen, lengths, size_px)
    gaps = (None, None) if tape is None else (tape.gap_top_mm, tape.gap_bottom_mm)
    known = replace(
        known,
        gaps_mm=gaps,
        log_focal=float(np.log((focal_35mm or USUAL_FOCAL_MM) / FILM_DIAGONAL_MM * 2)),
        focal_sd=EXIF_SD if focal_35mm else USUAL_SD,
        camera_height_mm=camera_height_mm,
    )
    if right_rail is not None:
        known = replace(
            known,
            gaps_mm=(right_rail.gap_top_mm, right_rail.gap_bottom_mm),
            shift_mm=right_rail.shift_mm,
            lie_sd_mm=(KNOWN_LIE_MM, KNOWN_LIE_MM),
        )
    start = _start(known)
    known = replace(known, corners=_as_on_table(known, start))
    values, _ = rail_solve.solve(known, start, huber=False, settled=rail_solve.NEARLY)
    values, covariance = rail_solve.solve(known, values, huber=True)
    table = _table(known, values, covariance, tape=tape, plan=plan)
    points, _, _ = rail_solve.place_markers(known, values[None])
    places = points[0] * known.half_mm + [0.0, known.middle_mm]
    found = misses_of(table, seen, places)
    judge(found, known, values)
    return replace(
        table,
        misses=found,
        rms_mm=rms_of(found),
        holder=None if holder is None else _holder_plane(table, markers, holder),
    )


KNOWN_LIE_MM = 0.02
"""One standard deviation of a right rail's lie that other photographs have told."""


def _on_rails(
    markers: Markers, plan: RailPlan, tape: RailsByTape | None
) -> tuple[NDArray[np.int_], NDArray[np.float64], tuple[float, float]]:
    """Return every marker's id (-1: not of these rails), its mm along its rail, rails' lengths."""
    lengths_only = None if tape is None else replace(tape, gap_top_mm=None, gap_bottom_mm=None)
    places = plan.marker_centres(lengths_only, None)
    ids = np.array([number if number in places else -1 for number in markers.ids], dtype=int)
    along = np.array([places[number][1] if number >= 0 else np.nan for number in ids])
    last = plan.markers - 1
    return ids, along, (places[last][1], places[RIGHT_FROM + last][1])


def _in_row(
    ids: NDArray[np.int_], along: NDArray[np.float64], markers: Markers, plan: RailPlan
) -> NDArray[np.bool_]:
    """Tell which markers stand in the smooth row of their rail."""
    keep = np.zeros(len(ids), dtype=bool)
    for on_rail in ((ids >= 0) & (ids < RIGHT_FROM), ids >= RIGHT_FROM):
        if on_rail.sum() < LEAST_IN_ROW:
            keep |= on_rail
            continue
        t = along[on_rail] / plan.length_mm * 2 - 1
        rows = np.vander(t, 4)
        centres, weight = markers.centres_px[on_rail], np.ones(len(t))
        off = np.full(len(t), np.inf)
        for _ in range(30):
            weighed, before = rows.T * weight, off
            terms = np.linalg.solve(weighed @ rows, weighed @ centres)
            off = np.linalg.norm(centres - rows @ terms, axis=1)
            weight = 1.0 / np.maximum(off, 1e-3)
            if float(np.abs(off - before).max()) < ROW_SETTLED_PX:
                break
        step_px = float(np.linalg.norm(terms[-2])) * 2 * plan.pitch_mm / plan.length_mm
        keep[on_rail] = off < ASTRAY * step_px
    return keep


def _only(markers: Markers, keep: NDArray[np.bool_]) -> Markers:
    return Markers(markers.ids[keep], markers.centres_px[keep], markers.corners_px[keep])


def _refuse_too_few(ids: NDArray[np.int_]) -> None:
    right = int((ids >= RIGHT_FROM).sum())
    left = len(ids) - right
    if min(left, right) < LEAST_EACH and max(left, right) >= LEAST_EACH:
        side, count = ("left", left) if left < right else ("right", right)
        raise RailsUnfit(
            f"{count} markers of the {side} rail were found; at least {LEAST_EACH} on each rail "
            "are needed, for one straight rail says nothing of the width. Keep both rails in view."
        )
    if len(ids) < LEAST_MARKERS:
        raise RailsUnfit(
            f"{len(ids)} markers of the rails were found; {LEAST_MARKERS} are needed. Keep both "
            "rails in view, uncovered and without glare, or go nearer."
        )


def _known(
    ids: NDArray[np.int_],
    along: NDArray[np.float64],
    markers: Markers,
    lengths: tuple[float, float],
    size_px: tuple[int, int],
) -> Known:
    middle = (np.array(size_px) - 1) / 2
    unit = float(np.hypot(*size_px)) / 2
    left = ids < RIGHT_FROM
    spread = np.ptp(markers.centres_px[left], axis=0) / np.ptp(along[left])
    return Known(
        along=along,
        is_right=~left,
        seen=(markers.centres_px - middle) / unit,
        corners=(markers.corners_px - middle) / unit,
        lengths_mm=lengths,
        half_mm=float(np.ptp(along)) / 2,
        middle_mm=float(along.max() + along.min()) / 2,
        unit_px=unit,
        middle_px=(float(middle[0]), float(middle[1])),
        px_per_mm=float(np.hypot(*spread)),
        gaps_mm=(None, None),
        log_focal=0.0,
        focal_sd=1.0,
        camera_height_mm=None,
        marker_mm=MARKER_MM,
    )


def _start(known: Known) -> NDArray[np.float64]:
    """Return rough values: a projectivity alone, the right rail parallel."""
    rails = [known.seen[known.is_right == right] for right in (False, True)]
    way = np.polyfit(known.along[~known.is_right], rails[0], 1)[0]
    across = rails[1].mean(axis=0) - rails[0].mean(axis=0)
    apart = abs(across[0] * way[1] - across[1] * way[0]) / float(way @ way)
    gaps = [apart if gap is None else gap for gap in known.gaps_mm]
    values = np.zeros(rail_solve.COUNT)
    values[rail_solve.FOCAL] = known.log_focal
    values[rail_solve.GAPS] = np.array(gaps) / known.half_mm
    values[rail_solve.SHIFT] = known.shift_mm / known.half_mm
    points, _, _ = rail_solve.place_markers(known, values[None])
    plane, _ = cv2.findHomography(points[0], known.seen, 0)
    if plane is None or not np.isfinite(plane).all():
        raise RailsUnfit(
            "The markers found do not lie like two rails seen from above. Lay the rails straight "
            "along both sides of the leaf and look straight down."
        )
    values[rail_solve.PLANE] = (plane / plane[2, 2]).ravel()[:8]
    return values


def _as_on_table(known: Known, start: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the corners in the table's order, however the markers were glued on."""
    points, along, _ = rail_solve.place_markers(known, start[None])
    across = np.stack([along[..., 1], -along[..., 0]], axis=-1)
    step = known.marker_mm / 2 / known.half_mm
    expected = np.stack(
        [
            rail_solve.see(start[None], points + step * (x * across + y * along))[0]
            for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ],
        axis=1,
    )
    turned = np.stack([np.roll(known.corners, turn, axis=1) for turn in range(4)])
    off = np.linalg.norm(turned - expected, axis=-1).sum(axis=-1)
    return np.asarray(turned[off.argmin(axis=0), np.arange(len(known.corners))])


def _table(
    known: Known,
    values: NDArray[np.float64],
    covariance: NDArray[np.float64],
    *,
    tape: RailsByTape | None,
    plan: RailPlan,
) -> TableMap:
    half = known.half_mm
    to_fit = np.array([[1 / half, 0, 0], [0, 1 / half, -known.middle_mm / half], [0, 0, 1]])
    plane = np.append(values[rail_solve.PLANE], 1.0).reshape(3, 3) @ to_fit
    upright, eye = stand_of_camera(plane, float(np.exp(values[rail_solve.FOCAL])))
    top, bottom, shift = (float(values[i]) * half for i in (13, 14, 15))
    return TableMap(
        plane=plane,
        upright=upright,
        radial=(float(values[8]), float(values[9])),
        axis_px=np.array(known.middle_px) + values[rail_solve.AXIS] * known.unit_px,
        unit_px=known.unit_px,
        eye_mm=eye,
        right_rail=RightRail(
            top, bottom, shift, known.lengths_mm[1], _rows_of(covariance[13:16, 13:16] * half**2)
        ),
        scales=(known.lengths_mm[0] / plan.length_mm, known.lengths_mm[1] / plan.length_mm),
        span_mm=_span(known, shift),
        trust=_trust(known, values, covariance, is_by_tape=tape is not None),
        misses=(),
        rms_mm=0.0,
        is_by_tape=tape is not None,
    )


def _rows_of(lie: NDArray[np.float64]) -> tuple[tuple[float, float, float], ...]:
    return tuple((float(row[0]), float(row[1]), float(row[2])) for row in lie)


def _span(known: Known, shift_mm: float) -> tuple[float, float]:
    left = known.along[~known.is_right]
    right = known.along[known.is_right] + shift_mm
    return float(max(left.min(), right.min())), float(min(left.max(), right.max()))


def _trust(
    known: Known,
    values: NDArray[np.float64],
    covariance: NDArray[np.float64],
    *,
    is_by_tape: bool,
) -> TableTrust:
    length = float(np.ptp(known.along))
    along = TAPE_READING_MM / max(known.lengths_mm) if is_by_tape else PRINTER_SD
    fitted = np.sqrt(2.0 / len(known.along)) * rail_solve.CENTRE_MM / length
    gap = covariance[rail_solve.GAPS, rail_solve.GAPS].sum() / 4
    across = float(np.sqrt(gap)) / float(values[rail_solve.GAPS].mean())
    focal = float(np.sqrt(covariance[rail_solve.FOCAL, rail_solve.FOCAL]))
    return TableTrust(float(np.hypot(along, fitted)), float(np.hypot(across, along)), focal)


def _holder_plane(table: TableMap, markers: Markers, holder: Holder) -> NDArray[np.float64] | None:
    """Return holder mm to places in the picture, lens undone; None if a marker is missing."""
    at = dict(zip(markers.ids.tolist(), markers.centres_px, strict=True))
    if not all(number in at for number in HOLDER_IDS):
        return None
    centres = holder.marker_centres()
    seen = (np.array([at[number] for number in HOLDER_IDS]) - table.axis_px) / table.unit_px
    known = np.array([centres[number] for number in HOLDER_IDS])
    plane, _ = cv2.findHomography(known, undo_radial(seen, table.radial), 0)
    return None if plane is None else np.asarray(plane, dtype=np.float64)
