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

from vision.joint_cut import JointCut, JointLimits
from vision.joint_edges import ACROSS_MM, ALONG_MM, Doubles, Edge, Meeting, meeting_of

COARSE_MM = 1.0
COARSE_DEG = 0.1
LOSS_COST = 0.0002
"""What a millimetre of wood lost must gain in score: of two alike joints the shallower is taken."""
ANGLE_COST = 0.002
"""The same for a degree."""
SLIP_COST = 0.0002
"""The same for a millimetre along the grain, which shortens the face."""


@dataclass(frozen=True, slots=True, eq=False)
class CoarseCuts:
    """The best pairs of coarse lines at one slip; all but the first at the price of a run."""

    badness: float
    """Of the first; what the search for a joint by itself makes small."""
    alone: Doubles
    free: Doubles
    unturned: Doubles
    """The slopes of the two lines cancel out: the right leaf is not turned against the left."""
    square: Doubles


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
    meeting = meeting_of(
        left, right, px_per_mm=px_per_mm, mirrored=mirrored, limits=limits or JointLimits()
    )
    return told(meeting, best_cut(meeting, coarse_cuts(meeting)))


def best_cut(meeting: Meeting, coarse: list[CoarseCuts]) -> Doubles:
    """Return the best cut: the fine search from the best coarse one, or straight in the middle."""
    start = min(coarse, key=lambda cuts: cuts.badness).alone
    fine = _finest(meeting, start)
    return min((fine, _straight(meeting.limits)), key=lambda cut: _badness(meeting, cut))


def told(meeting: Meeting, cut: Doubles) -> JointCut:
    """Return a cut with its score and that of straight cuts."""
    score, usual = (1.0 - meeting.apart(one) for one in (cut, _straight(meeting.limits)))
    degrees = [math.degrees(math.atan(float(cut[i]))) for i in (1, 3)]
    return JointCut(
        float(cut[0]),
        degrees[0],
        float(cut[2]),
        degrees[1],
        float(cut[4]),
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


def coarse_cuts(meeting: Meeting) -> list[CoarseCuts]:
    """Return the best pairs of lines of a coarse grid over depths and angles, slip by slip."""
    limits, half = meeting.limits, meeting.half_mm
    lines = _lines(half, limits)
    rows = meeting.rows(max(1, round(meeting.left.rows / 400)))
    left = _features(meeting, meeting.left, lines, rows)
    ends = np.stack([lines[:, 0] + sign * lines[:, 1] * half for sign in (-1, 1)])
    worst = np.maximum(*(end[:, None] + end[None, :] for end in ends))
    own = LOSS_COST * lines[:, 0] + ANGLE_COST * np.degrees(np.abs(lines[:, 1]))
    cost = own[:, None] + own[None, :] + np.where(worst > limits.most_loss_mm, 1e3, 0.0)
    slope, deep = lines[:, 1], (limits.costs.width_per_mm - LOSS_COST) * lines[:, 0]
    dear = deep[:, None] + deep[None, :]
    turned = np.abs(slope[:, None] + slope[None, :]) > 1e-9
    leaned = (slope[:, None] != 0.0) | (slope[None, :] != 0.0)
    barred = [np.zeros((1, 1)), dear, dear + 1e6 * turned, dear + 1e6 * leaned]
    found = []
    most = int(limits.most_slip_mm // ALONG_MM)
    squares = np.sum(left**2, axis=1)[:, None]
    for shift in range(-most, most + 1):
        right = _features(meeting, meeting.right, lines, rows + shift)
        apart = squares + np.sum(right**2, axis=1)[None, :] - 2.0 * (left @ right.T)
        bad = apart / (2.0 * rows.size) + cost + SLIP_COST * ALONG_MM * abs(shift)
        places = [divmod(int(np.argmin(bad + bar)), len(lines)) for bar in barred]
        cuts = [np.array([*lines[i], *lines[j], shift * ALONG_MM]) for i, j in places]
        found.append(CoarseCuts(float(bad[places[0]]), *cuts))
    return found


def _straight(limits: JointLimits) -> Doubles:
    middle = max(limits.least_cut_mm, limits.most_loss_mm / 4)
    return np.array([middle, 0.0, middle, 0.0, 0.0])


def _badness(meeting: Meeting, cut: Doubles) -> float:
    """Return what the search makes small: strips apart, wood lost, angles; steep past a limit."""
    limits, half = meeting.limits, meeting.half_mm
    depth, slope = cut[[0, 2]], cut[[1, 3]]
    most = math.tan(math.radians(limits.most_angle_deg))
    ends = max(float(np.sum(depth + sign * half * slope)) for sign in (-1.0, 1.0))
    past = float(np.maximum(0.0, limits.least_cut_mm + half * np.abs(slope) - depth).sum())
    past += max(0.0, ends - limits.most_loss_mm)
    past += max(0.0, abs(float(cut[4])) - limits.most_slip_mm)
    past += 100.0 * float(np.maximum(0.0, np.abs(slope) - most).sum())
    own = LOSS_COST * float(depth.sum()) + ANGLE_COST * math.degrees(float(np.abs(slope).sum()))
    own += SLIP_COST * abs(float(cut[4]))
    return meeting.apart(cut) + own + past


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


def _features(meeting: Meeting, edge: Edge, lines: Doubles, rows: Doubles) -> NDArray[np.float32]:
    """Return the strips beside every line, one row a line."""
    depths = np.array(meeting.depths_mm)
    along = (rows - (edge.rows - 1) / 2) * ALONG_MM
    across = lines[:, :1, None] + depths[None, :, None]
    across = across + lines[:, 1:, None] * along[None, None, :]
    down = np.broadcast_to(rows, across.shape)
    places = np.stack([down.ravel(), (across / ACROSS_MM - 0.5).ravel()])
    read = map_coordinates(edge.grid, places, order=1, mode="nearest")
    weighed = read.reshape(across.shape) * np.sqrt(meeting.weights)[None, :, None]
    return np.asarray(weighed.reshape(len(lines), -1), dtype=np.float32)


def _finest(meeting: Meeting, start: Doubles) -> Doubles:
    """Return the best pair of lines near a coarse one."""
    half = meeting.half_mm
    scale = np.array([1.0, 1.0 / half, 1.0, 1.0 / half, 1.0])
    corners = np.vstack([np.zeros(5), np.diag([1.0, 1.0, -1.0, -1.0, 1.0])])
    found = minimize(
        lambda x: _badness(meeting, x * scale),
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
