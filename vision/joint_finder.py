"""The best joint of two leaves: where to cut each so that lines and tone meet across it.

Both pictures are as the leaves lie in the match, the joint edges towards each other. A cut is a
straight line near that edge: so deep at the middle of the leaf, at a small angle; and the right
leaf may slip along the grain. What is compared is the lightness of strips beside the two lines,
place by place along them: in a mirrored match also strips deeper in, for there the figure itself
is mirrored. A coarse search over all pairs of lines is followed by a fine one from the best.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.optimize import minimize

from vision.errors import MatchNotPossible
from vision.joint_cut import JointCut, JointLimits

Doubles = NDArray[np.float64]

ACROSS_MM = 0.5
ALONG_MM = 2.0
"""Grid on which the edges are compared."""
DEPTHS_MM = (1.0, 3.0, 6.0, 10.0, 15.0, 21.0)
"""How far inside the line the compared strips lie in a mirrored match; else the first alone."""
HALF_WEIGHT_MM = 2.0
"""A strip so deep weighs half of what it would at the line itself."""
STRIP_MM = 2.0
COARSE_MM = 1.0
COARSE_DEG = 0.1
LOSS_COST = 0.0002
"""What a millimetre of wood lost must gain in score: of two alike joints the shallower is taken."""
ANGLE_COST = 0.002
"""The same for a degree."""
SLIP_COST = 0.0002
"""The same for a millimetre along the grain, which shortens the face."""
LEAST_LENGTH_MM = 100.0


@dataclass(frozen=True, slots=True, eq=False)
class _Edge:
    """The wood beside a joint edge, mean 0 and deviation 1: rows along, columns inward."""

    grid: Doubles

    @property
    def rows(self) -> int:
        return int(self.grid.shape[0])

    def strip(self, line: tuple[float, float], inside_mm: float, rows: Doubles) -> Doubles:
        """Return lightness along a line (depth, slope), so far inside it, at some rows."""
        depth_mm, slope = line
        middle = (self.rows - 1) / 2
        across = depth_mm + inside_mm + slope * (rows - middle) * ALONG_MM
        places = np.vstack([rows, across / ACROSS_MM - 0.5])
        return np.asarray(map_coordinates(self.grid, places, order=1, mode="nearest"))


def find_joint(
    left: NDArray[np.floating],
    right: NDArray[np.floating],
    *,
    px_per_mm: float,
    mirrored: bool,
    limits: JointLimits | None = None,
) -> JointCut:
    """Return where to cut two leaves so that their figure meets best.

    Parameters
    ----------
    left, right : ndarray of float, shape (rows, columns)
        Lightness of each leaf as it lies in the match, cropped to its straightened edges, the top
        ends in line. The joint is at the right edge of ``left`` and the left edge of ``right``.
    px_per_mm : float
        Of both.
    mirrored : bool
        Whether one of the two is turned over (book), so that the figure mirrors at the joint.
    limits : JointLimits or None

    Raises
    ------
    MatchNotPossible
        If the leaves are too short or too narrow to compare, or nothing may be cut.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> wood = np.cumsum(rng.normal(size=(1, 240)), axis=1) + np.zeros((400, 1))
    >>> joint = find_joint(wood, wood[:, ::-1], px_per_mm=1.0, mirrored=True)
    >>> abs(joint.left_mm - joint.right_mm) < 0.3, joint.score > 0.95
    (True, True)
    """
    limits = limits or JointLimits()
    edges = _edges(left, right, px_per_mm, limits)
    depths = DEPTHS_MM if mirrored else DEPTHS_MM[:1]
    fine = _finest(edges, _coarsest(edges, depths, limits), depths, limits)
    middle = max(limits.least_cut_mm, limits.most_loss_mm / 4)
    straight = np.array([middle, 0.0, middle, 0.0, 0.0])
    best = min((fine, straight), key=lambda cut: _badness(cut, edges, depths, limits))
    score, usual = (1.0 - _apart(cut, edges, depths, limits) for cut in (best, straight))
    degrees = [math.degrees(math.atan(float(best[i]))) for i in (1, 3)]
    return JointCut(
        float(best[0]),
        degrees[0],
        float(best[2]),
        degrees[1],
        float(best[4]),
        score=max(0.0, score),
        straight_score=max(0.0, usual),
    )


def joint_picture(
    left: NDArray[np.uint8],
    right: NDArray[np.uint8],
    cut: JointCut,
    *,
    px_per_mm: float,
    wide_mm: float = 60.0,
) -> NDArray[np.uint8]:
    """Return the joint as it will look: so much of each leaf beside the line, butted.

    Parameters
    ----------
    left, right : ndarray of uint8, shape (rows, columns, 3)
        As for `find_joint`, in colour.
    cut : JointCut
    px_per_mm : float
    wide_mm : float
        Shown of each leaf.
    """
    rows = min(left.shape[0], right.shape[0])
    columns = round(wide_mm * px_per_mm)
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    halves = []
    for picture, depth, angle, slip in (
        (left, cut.left_mm, cut.left_deg, 0.0),
        (right, cut.right_mm, cut.right_deg, cut.slip_mm),
    ):
        from_edge = x + depth * px_per_mm
        place = y + slip * px_per_mm
        from_edge = from_edge + math.tan(math.radians(angle)) * (place - rows / 2)
        across = from_edge if picture is right else picture.shape[1] - 1 - from_edge
        half = cv2.remap(
            picture,
            across.astype(np.float32),
            place.astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        halves.append(half if picture is right else half[:, ::-1])
    return np.asarray(np.hstack(halves), dtype=np.uint8)


def _edges(
    left: NDArray[np.floating],
    right: NDArray[np.floating],
    px_per_mm: float,
    limits: JointLimits,
) -> tuple[_Edge, _Edge]:
    """Return the wood beside the joint edge of both, to the length of the shorter."""
    rows = min(left.shape[0], right.shape[0])
    length = rows / px_per_mm
    wide = limits.most_loss_mm + DEPTHS_MM[-1] + STRIP_MM
    narrowest = min(left.shape[1], right.shape[1]) / px_per_mm
    if length < LEAST_LENGTH_MM or narrowest < wide:
        raise MatchNotPossible(
            f"The leaves share {length:.0f} mm of length and are {narrowest:.0f} mm wide; a joint "
            f"needs {LEAST_LENGTH_MM:.0f} and {wide:.0f} mm. Allow less loss, or take other leaves."
        )
    if limits.most_loss_mm < 2 * limits.least_cut_mm:
        raise MatchNotPossible(
            f"{limits.most_loss_mm:g} mm may be lost at the joint, but each edge needs "
            f"{limits.least_cut_mm:g} mm to be shot. Allow more loss or a smaller cut."
        )
    columns = math.ceil(wide * px_per_mm)
    bands = (left[:rows, ::-1][:, :columns], right[:rows, :columns])
    size = (round(wide / ACROSS_MM), round(length / ALONG_MM))
    made = []
    for band in bands:
        picture = np.ascontiguousarray(band, dtype=np.float64)
        grid = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        grid = cv2.blur(grid, (max(1, round(STRIP_MM / ACROSS_MM)), 1))
        made.append(_Edge((grid - grid.mean()) / max(float(grid.std()), 1e-6)))
    return made[0], made[1]


def _apart(
    cut: Doubles, edges: tuple[_Edge, _Edge], depths: tuple[float, ...], limits: JointLimits
) -> float:
    """Return how far the strips beside two lines are apart: 0 alike, 1 as strangers."""
    slack = math.ceil(limits.most_slip_mm / ALONG_MM) + 1
    rows = np.arange(slack, edges[0].rows - slack, dtype=np.float64)
    slipped = rows + cut[4] / ALONG_MM
    left, right = (float(cut[0]), float(cut[1])), (float(cut[2]), float(cut[3]))
    apart = [
        weight
        * float(
            np.mean(
                (edges[0].strip(left, inside, rows) - edges[1].strip(right, inside, slipped)) ** 2
            )
        )
        for inside, weight in zip(depths, _weights(depths), strict=True)
    ]
    return float(sum(apart)) / 2.0


def _weights(depths: tuple[float, ...]) -> Doubles:
    """Return how much each strip counts, 1 together: most beside the line, where one looks."""
    raw = 1.0 / (1.0 + np.array(depths) / HALF_WEIGHT_MM)
    return np.asarray(raw / raw.sum())


def _badness(
    cut: Doubles, edges: tuple[_Edge, _Edge], depths: tuple[float, ...], limits: JointLimits
) -> float:
    """Return what the search makes small: strips apart, wood lost, angles; steep past a limit."""
    depth, slope = cut[[0, 2]], cut[[1, 3]]
    half = edges[0].rows * ALONG_MM / 2
    most = math.tan(math.radians(limits.most_angle_deg))
    ends = max(float(np.sum(depth + sign * half * slope)) for sign in (-1.0, 1.0))
    past = float(np.maximum(0.0, limits.least_cut_mm + half * np.abs(slope) - depth).sum())
    past += max(0.0, ends - limits.most_loss_mm)
    past += max(0.0, abs(float(cut[4])) - limits.most_slip_mm)
    past += 100.0 * float(np.maximum(0.0, np.abs(slope) - most).sum())
    own = LOSS_COST * float(depth.sum()) + ANGLE_COST * math.degrees(float(np.abs(slope).sum()))
    own += SLIP_COST * abs(float(cut[4]))
    return _apart(cut, edges, depths, limits) + own + past


def _coarsest(
    edges: tuple[_Edge, _Edge], depths: tuple[float, ...], limits: JointLimits
) -> Doubles:
    """Return the best pair of lines of a coarse grid over depths, angles and slips."""
    half = edges[0].rows * ALONG_MM / 2
    lines = _lines(half, limits)
    slack = math.ceil(limits.most_slip_mm / ALONG_MM) + 1
    step = max(1, round(edges[0].rows / 400))
    rows = np.arange(slack, edges[0].rows - slack, step, dtype=np.float64)
    left = _features(edges[0], lines, depths, rows)
    ends = np.stack([lines[:, 0] + sign * lines[:, 1] * half for sign in (-1, 1)])
    worst = np.maximum(*(end[:, None] + end[None, :] for end in ends))
    own = LOSS_COST * lines[:, 0] + ANGLE_COST * np.degrees(np.abs(lines[:, 1]))
    cost = own[:, None] + own[None, :] + np.where(worst > limits.most_loss_mm, 1e3, 0.0)
    best, found = math.inf, np.zeros(5)
    shifts = range(-int(limits.most_slip_mm // ALONG_MM), int(limits.most_slip_mm // ALONG_MM) + 1)
    squares = np.sum(left**2, axis=1)[:, None]
    for shift in shifts:
        right = _features(edges[1], lines, depths, rows + shift)
        apart = squares + np.sum(right**2, axis=1)[None, :] - 2.0 * (left @ right.T)
        bad = apart / (2.0 * rows.size) + cost + SLIP_COST * ALONG_MM * abs(shift)
        place = int(np.argmin(bad))
        if bad.flat[place] < best:
            best = float(bad.flat[place])
            i, j = divmod(place, len(lines))
            found = np.array([*lines[i], *lines[j], shift * ALONG_MM])
    return found


def _lines(half_mm: float, limits: JointLimits) -> Doubles:
    """Return (depth, slope) of every line of the coarse grid that keeps within the limits."""
    deepest = limits.most_loss_mm - limits.least_cut_mm
    depths = np.arange(limits.least_cut_mm, deepest + 1e-9, COARSE_MM)
    count = int(limits.most_angle_deg / COARSE_DEG + 1e-9)
    slopes = np.tan(np.radians(COARSE_DEG * np.arange(-count, count + 1)))
    grid = np.array([(depth, slope) for depth in depths for slope in slopes])
    lean = np.abs(grid[:, 1]) * half_mm
    inside = (grid[:, 0] - lean >= limits.least_cut_mm - 1e-9) & (grid[:, 0] + lean <= deepest)
    return np.asarray(grid[inside | ((grid[:, 1] == 0.0) & (lean == 0.0))])


def _features(
    edge: _Edge, lines: Doubles, depths: tuple[float, ...], rows: Doubles
) -> NDArray[np.float32]:
    """Return the strips beside every line, one row a line."""
    middle = (edge.rows - 1) / 2
    along = (rows - middle) * ALONG_MM
    across = lines[:, :1, None] + np.array(depths)[None, :, None]
    across = across + lines[:, 1:, None] * along[None, None, :]
    down = np.broadcast_to(rows, across.shape)
    places = np.stack([down.ravel(), (across / ACROSS_MM - 0.5).ravel()])
    read = map_coordinates(edge.grid, places, order=1, mode="nearest")
    weighed = read.reshape(across.shape) * np.sqrt(_weights(depths))[None, :, None]
    return np.asarray(weighed.reshape(len(lines), -1), dtype=np.float32)


def _finest(
    edges: tuple[_Edge, _Edge],
    start: Doubles,
    depths: tuple[float, ...],
    limits: JointLimits,
) -> Doubles:
    """Return the best pair of lines near a coarse one."""
    half = edges[0].rows * ALONG_MM / 2
    scale = np.array([1.0, 1.0 / half, 1.0, 1.0 / half, 1.0])
    corners = np.vstack([np.zeros(5), np.diag([1.0, 1.0, -1.0, -1.0, 1.0])])
    found = minimize(
        lambda x: _badness(x * scale, edges, depths, limits),
        start / scale,
        method="Nelder-Mead",
        options={
            "initial_simplex": start / scale + corners,
            "xatol": 0.02,
            "fatol": 1e-5,
            "maxfev": 500,
        },
    )
    return np.asarray(found.x * scale)
