"""The arithmetic under `rail_fit`: plane, lens and the right rail's lie in one least-squares fit.

What can be told, and by what. Two rails give the places of points along two lines. A projectivity
fits them equally well for every gap and every shift of the right rail along the table: stretching
the table across, or shearing it along, moves no point of the left rail, and the right one as a
whole. (Rails out of parallel are seen: the place where their pictures meet is known along both.)
Stretch and shear are therefore told by other things, each with its own weight:

- the gaps by tape;
- the squareness of the printed markers, each seen 40 mm across and along;
- the camera: with square pixels two directions at right angles on the table are so before the
  lens too, and a millimetre is as long either way (two equations, sharp where the camera looks
  nearly straight down, blunter with the focal length when it is tilted);
- the leaf-end stop, which keeps the shift to a few millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

PLANE, RADIAL, AXIS, FOCAL, GAPS, SHIFT = (
    slice(0, 8),
    slice(8, 10),
    slice(10, 12),
    12,
    slice(13, 15),
    15,
)
COUNT = 16
"""Unknowns: projectivity, k1 k2, the lens's axis, log focal length, gaps and shift of the right
rail. Lengths in half rails, pixels in half diagonals."""

CENTRE_PX = 0.05
"""One standard deviation of a marker's centre in the picture."""
CENTRE_MM = 0.10
"""The same of its place on the rail: glue, paper, and what two radial terms leave of a lens."""
TAPE_MM = 0.3
"""One standard deviation of a gap by tape."""
STOP_MM = 6.0
"""By how much the rails' first markers may differ along the table, one standard deviation."""
AXIS_SHARE = 0.010
"""One standard deviation of the lens's axis from the picture's middle, in half diagonals."""
PIXEL_SQUARE = 1e-4
"""One standard deviation of a pixel's sides and angles."""
PRINT_ASPECT, PRINT_SHEAR = 1.5e-3, 5e-4
"""One standard deviation of a printed square's sides and angle, the printer's own."""
CORNER_PX = 0.10
"""One standard deviation of a side of a marker in the picture."""
RADIAL_SD = (0.3, 0.3)
STEP = 1e-6
ROUNDS = 25
SETTLED, NEARLY = 1e-7, 1e-3
"""Share of the squared misses by which the last round made them less: in a fit that counts, and in
one from which another sets out."""
HUBER = 1.5
"""Misses beyond this many standard deviations count only by their length."""


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What was seen and what is known beforehand, in the units of the fit.

    Lengths are in ``half_mm`` from the middle of what is seen of the rails, places in the picture
    in ``unit_px`` from its middle.
    """

    along: NDArray[np.float64]
    """Of every marker, mm from its rail's first."""
    is_right: NDArray[np.bool_]
    seen: NDArray[np.float64]
    corners: NDArray[np.float64]
    """(n, 4, 2): top left, top right, bottom right, bottom left on the table."""
    lengths_mm: tuple[float, float]
    half_mm: float
    unit_px: float
    middle_px: tuple[float, float]
    middle_mm: float
    """Along the table, of the markers seen."""
    px_per_mm: float
    gaps_mm: tuple[float | None, float | None]
    log_focal: float
    focal_sd: float
    camera_height_mm: float | None
    shift_mm: float = 0.0
    lie_sd_mm: tuple[float, float] = (TAPE_MM, STOP_MM)
    """One standard deviation of the gaps and of the shift."""
    bows_mm: tuple[float, float] = (0.0, 0.0)
    """How far the middles of the left and the right rail are taken to lie to the right."""
    marker_mm: float = 40.0


def place_markers(
    known: Known, values: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return centres (b, n, 2) on the table, and the directions along the rails (b, n, 2)."""
    half = known.half_mm
    length = known.lengths_mm[1] / half
    top, bottom = values[:, 13, None], values[:, 14, None]
    lean = (bottom - top) / length
    straight = np.sqrt(1 - lean**2)
    t = (known.along / half)[None, :]
    right = known.is_right[None, :]
    x = np.where(right, top + t * lean, 0.0) + _bowed(known) / half
    y = np.where(right, values[:, 15, None] + t * straight, t)
    along = np.stack([np.where(right, lean, 0.0), np.where(right, straight, 1.0)], axis=-1)
    return np.stack([x, y - known.middle_mm / half], axis=-1), along, lean


def _bowed(known: Known) -> NDArray[np.float64]:
    """Return by how much each marker lies to the right if the rails are bowed, mm."""
    length = np.where(known.is_right, known.lengths_mm[1], known.lengths_mm[0])
    t = 2 * known.along / length - 1
    return np.asarray(np.where(known.is_right, known.bows_mm[1], known.bows_mm[0]) * (1 - t**2))


def see(values: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return places in the picture (b, n, 2) of table points (b, n, 2), for b sets of values."""
    h = [values[:, index, None] for index in range(COUNT)]
    x, y = points[..., 0], points[..., 1]
    depth = h[6] * x + h[7] * y + 1.0
    u, v = (h[0] * x + h[1] * y + h[2]) / depth, (h[3] * x + h[4] * y + h[5]) / depth
    square = u**2 + v**2
    bend = 1 + square * (h[8] + square * h[9])
    return np.stack([u * bend + h[10], v * bend + h[11]], axis=-1)


def misses(known: Known, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return seen less fitted centres (b, n, 2), standard deviations of a marker."""
    points, _, _ = place_markers(known, values)
    sd_px = np.hypot(CENTRE_PX, CENTRE_MM * known.px_per_mm)
    return np.asarray((known.seen - see(values, points)) * known.unit_px / sd_px)


def held(known: Known, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what else is known, as misses in standard deviations (b, m)."""
    half = known.half_mm
    rows = [
        values[:, 8] / RADIAL_SD[0],
        values[:, 9] / RADIAL_SD[1],
        values[:, 10] / AXIS_SHARE,
        values[:, 11] / AXIS_SHARE,
        (values[:, 12] - known.log_focal) / known.focal_sd,
        (values[:, 15] * half - known.shift_mm) / known.lie_sd_mm[1],
    ]
    for index, gap in zip((13, 14), known.gaps_mm, strict=True):
        if gap is not None:
            rows.append((values[:, index] * half - gap) / known.lie_sd_mm[0])
    rows += _camera_rows(known, values)
    rows += _square_rows(known, values)
    return np.stack(rows, axis=1)


def _camera_rows(known: Known, values: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return the two equations of square pixels, and the camera's height if it is known."""
    focal = np.exp(values[:, 12])
    one = np.stack([values[:, 0] / focal, values[:, 3] / focal, values[:, 6]], axis=1)
    two = np.stack([values[:, 1] / focal, values[:, 4] / focal, values[:, 7]], axis=1)
    square = [(v**2).sum(axis=1) for v in (one, two)]
    both = np.sqrt(square[0] * square[1])
    rows = [
        (one * two).sum(axis=1) / both / PIXEL_SQUARE,
        0.5 * np.log(square[0] / square[1]) / PIXEL_SQUARE,
    ]
    if known.camera_height_mm is not None:
        far = np.stack([values[:, 2] / focal, values[:, 5] / focal, np.ones(len(values))], axis=1)
        height = np.abs((np.cross(one, two) * far).sum(axis=1)) / both**1.5
        rows.append(np.log(height * known.half_mm / known.camera_height_mm) / HEIGHT_SD)
    return rows


HEIGHT_SD = 0.01
"""One standard deviation of the camera's height by tape: nobody sees where the lens's eye is."""


def _square_rows(known: Known, values: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return how far the markers are from square, by the mean over all of them."""
    points, along, _ = place_markers(known, values)
    across = np.stack([along[..., 1], -along[..., 0]], axis=-1)
    step = known.marker_mm / 2 / known.half_mm
    ways = np.concatenate([across, -across, along, -along], axis=1)
    seen = see(values, np.concatenate([points] * 4, axis=1) + step * ways)
    sides = np.split(seen, 4, axis=1)
    right, down = sides[0] - sides[1], sides[2] - sides[3]
    c = known.corners
    seen_right = (c[:, 1] + c[:, 2] - c[:, 0] - c[:, 3])[None] / 2
    seen_down = (c[:, 2] + c[:, 3] - c[:, 0] - c[:, 1])[None] / 2
    area = _turn(right, down)
    aspect = np.log(_turn(seen_right, down) / _turn(right, seen_down))
    shear = (_turn(right, seen_right) + _turn(seen_down, down)) / area
    side_px = known.marker_mm * known.px_per_mm
    sd = CORNER_PX / side_px / np.sqrt(len(known.along))
    middle = [_middle(aspect[0]), _middle(shear[0])]
    rows = []
    for value, centre, own in zip(
        (aspect, shear), middle, (PRINT_ASPECT, PRINT_SHEAR), strict=True
    ):
        clear = np.abs(value[0] - centre) < 4 * CORNER_PX / side_px
        rows.append(
            value[:, clear].mean(axis=1) / np.hypot(sd, own)
            if clear.any()
            else np.zeros(len(value))
        )
    return rows


def _turn(one: NDArray[np.float64], two: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0])


def solve(
    known: Known, start: NDArray[np.float64], *, huber: bool, settled: float = SETTLED
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the values that fit best, and their covariance (Levenberg and Marquardt).

    The fit ends once a round gains less than the share ``settled`` of the squared misses.

    With ``huber``, misses beyond `HUBER` times their usual size count by their length only. That
    must not come first: from a rough start most markers look far off, and the fit settles where
    a few happen to agree.
    """
    values, damping = start.copy(), 1e-4
    seen = _look(known, values)
    weight = _weight(seen, huber=huber)
    rows, slope = _rows(seen, weight)
    cost = float(rows @ rows)
    for _ in range(ROUNDS):
        normal, down = slope.T @ slope, slope.T @ rows
        for _ in range(6):
            damped = normal + damping * np.diag(np.diag(normal) + 1e-9)
            tried = values - np.linalg.solve(damped, down)
            seen = _look(known, tried)
            rows, slope = _rows(seen, weight)
            new_cost = float(rows @ rows)
            if new_cost <= cost:
                break
            damping *= 10
        else:
            seen = _look(known, values)
            rows, slope = _rows(seen, weight)
            break
        gained = cost - new_cost
        values, damping = tried, max(damping / 10, 1e-12)
        weight = _weight(seen, huber=huber)
        rows, slope = _rows(seen, weight)
        cost = float(rows @ rows)
        if gained < settled * (1 + cost):
            break
    return values, np.asarray(np.linalg.pinv(slope.T @ slope), dtype=np.float64)


def cost_of(known: Known, values: NDArray[np.float64]) -> float:
    """Return the sum of all squared misses of a fit, in standard deviations."""
    off, others = misses(known, values[None]), held(known, values[None])
    return float((off**2).sum() + (others**2).sum())


_MOVED = STEP * np.vstack([np.zeros(COUNT), np.eye(COUNT)])
"""Values as they are, then each in turn moved a little."""


def _look(
    known: Known, values: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the misses of the markers (1 + `COUNT`, n, 2), and of what else is known.

    First with the values as they are, then with each of them moved by `STEP`: all at once, which
    takes no longer than two by two.
    """
    moved = values + _MOVED
    return misses(known, moved), held(known, moved)


def _weight(
    seen: tuple[NDArray[np.float64], NDArray[np.float64]], *, huber: bool
) -> NDArray[np.float64]:
    """Return the root of the weight of each marker."""
    off = seen[0][0]
    if not huber:
        return np.ones(len(off))
    distance = np.linalg.norm(off, axis=1)
    usual = max(1.0, 0.85 * _middle(distance))
    return np.asarray(np.sqrt(np.minimum(1.0, HUBER * usual / np.maximum(distance, 1e-9))))


def _rows(
    seen: tuple[NDArray[np.float64], NDArray[np.float64]], weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return all misses in a row, those of the markers weighed, and their slopes (m, `COUNT`)."""
    off, others = seen
    weighed = (off * weight[:, None]).reshape(len(off), -1)
    every = np.concatenate([weighed, others], axis=1)
    return every[0], np.asarray((every[1:] - every[0]).T / STEP)


def _middle(values: NDArray[np.float64]) -> float:
    """Return the median of a few values, sooner than numpy does."""
    ordered = np.sort(values)
    return float(ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2
