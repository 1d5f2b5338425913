"""A few good joints of two leaves, slip by slip, among which the cuts of a run are chosen.

The best joint by itself comes first; then, for slips about it and for none, the best pair of lines
of any lean, the best that does not turn the right leaf against the left, and the best square pair;
last the plain cut, straight and as shallow as it may be. Each is made as fine as a bench sets it
out and scored as it is then.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from vision.joint_cut import JointCut, JointLimits
from vision.joint_edges import Doubles, Meeting, meeting_of
from vision.joint_finder import best_cut, coarse_cuts, told

SET_OUT_MM = 0.1
SET_OUT_DEG = 0.01
"""A third of a millimetre over two metres: finer than a straightedge is laid."""
FINE_ROWS = 300
"""So many places along the joint are enough to find a line by."""
STEPS = 4
NEAR_MM = 0.5
"""Step across by which the slope of the difference is felt."""
FREE = np.eye(5)[:4]
UNTURNED = np.array([[1, 0, 0, 0, 0], [0, 1, 0, -1, 0], [0, 0, 1, 0, 0]], dtype=np.float64)
SQUARE = np.eye(5)[[0, 2]]


def joint_choices(
    left: NDArray[np.floating],
    right: NDArray[np.floating],
    *,
    px_per_mm: float,
    mirrored: bool,
    limits: JointLimits | None = None,
) -> tuple[JointCut, ...]:
    """Return good joints of two leaves: the best by itself first, the plain cut last.

    Parameters
    ----------
    left, right : ndarray of float, shape (rows, columns)
        As for `vision.joint_finder.find_joint`.
    px_per_mm : float
        Of both.
    mirrored : bool
        Whether one of the two is turned over (book).
    limits : JointLimits or None

    Raises
    ------
    MatchNotPossible
        If the leaves are too short or too narrow to compare, or nothing may be cut.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> wood = np.cumsum(rng.normal(size=(1, 240)), axis=1) + np.zeros((400, 1))
    >>> joints = joint_choices(wood, wood[:, ::-1], px_per_mm=1.0, mirrored=True)
    >>> plain = joints[-1]
    >>> plain.left_mm, plain.right_mm, plain.is_straight, plain.score > 0.99
    (3.0, 3.0, True, True)
    """
    limits = limits or JointLimits()
    meeting = meeting_of(left, right, px_per_mm=px_per_mm, mirrored=mirrored, limits=limits)
    coarse = coarse_cuts(meeting)
    best = best_cut(meeting, coarse)
    found = [best]
    for slip in _slips(float(best[4]), limits):
        near = min(coarse, key=lambda cuts: abs(float(cuts.free[4]) - slip))
        for start, ways in ((near.free, FREE), (near.unturned, UNTURNED), (near.square, SQUARE)):
            found.append(_nearby(meeting, np.array([*start[:4], slip]), ways))
    least = limits.least_cut_mm
    plain = (least, 0.0, least, 0.0, 0.0)
    set_out = dict.fromkeys(tuple(_as_set_out(cut, meeting).tolist()) for cut in found)
    set_out.pop(plain, None)
    return tuple(told(meeting, np.array(cut)) for cut in (*set_out, plain))


def _slips(best_mm: float, limits: JointLimits) -> list[float]:
    """Return slips from the best one outward in steps of two millimetres, and none."""
    most = limits.most_slip_mm
    count = int(2 * most // 2.0) + 1
    slips = [best_mm + 2.0 * step for step in range(-count, count + 1)]
    inside = [slip for slip in slips if abs(slip) <= most + 1e-9]
    return [*inside, 0.0]


def _nearby(meeting: Meeting, start: Doubles, ways: Doubles) -> Doubles:
    """Return the best cut near another one, moved only in some ways (Gauss and Newton, damped)."""
    scale = np.array([1.0, 1.0 / meeting.half_mm, 1.0, 1.0 / meeting.half_mm, 1.0])
    moves = ways * scale
    rows = meeting.rows(max(1, round(meeting.left.rows / FINE_ROWS)))
    dear = moves[:, [0, 2]].sum(axis=1) * meeting.limits.costs.width_per_mm
    cut = _within(start, meeting)
    apart = meeting.differences(cut, rows)
    bad = _cost(apart, cut, meeting)
    damping = 1e-4
    for _ in range(STEPS):
        felt = np.stack(
            [
                (
                    meeting.differences(cut + NEAR_MM * move, rows)
                    - meeting.differences(cut - NEAR_MM * move, rows)
                )
                / (2.0 * NEAR_MM)
                for move in moves
            ]
        )
        pull = felt @ apart + dear / 2.0
        bend = felt @ felt.T
        for _ in range(3):
            step = np.linalg.solve(bend + damping * np.eye(len(moves)), -pull)
            tried = _within(cut + np.clip(step, -3.0, 3.0) @ moves, meeting)
            there = meeting.differences(tried, rows)
            if _cost(there, tried, meeting) < bad:
                gain = bad - _cost(there, tried, meeting)
                cut, apart, bad = tried, there, bad - gain
                damping /= 4.0
                break
            damping *= 10.0
        else:
            break
        if gain < 1e-4:
            break
    return cut


def _cost(apart: Doubles, cut: Doubles, meeting: Meeting) -> float:
    lost = meeting.limits.costs.width_per_mm * float(cut[0] + cut[2])
    return float(np.sum(apart**2)) + lost


def _within(cut: Doubles, meeting: Meeting) -> Doubles:
    """Return a cut moved as little as need be to keep within what may be cut off."""
    limits, half = meeting.limits, meeting.half_mm
    most = math.tan(math.radians(limits.most_angle_deg))
    depth, slope = cut[[0, 2]], np.clip(cut[[1, 3]], -most, most)
    for _ in range(8):
        least = limits.least_cut_mm + half * np.abs(slope)
        deep = np.maximum(depth, least)
        over = float(deep.sum() + half * abs(slope.sum())) - limits.most_loss_mm
        if over <= 0.0:
            break
        room = deep - least
        if float(room.sum()) >= over:
            given = np.minimum(room, over / 2.0)
            deep = (
                deep
                - given
                - (over - given.sum()) * (room - given) / max(float((room - given).sum()), 1e-12)
            )
            break
        slope = slope / 2.0
    else:
        slope, deep = np.zeros(2), np.full(2, limits.least_cut_mm)
    return np.array([deep[0], slope[0], deep[1], slope[1], cut[4]])


def _as_set_out(cut: Doubles, meeting: Meeting) -> Doubles:
    """Return a cut rounded to what a bench sets out, still within what may be cut off."""
    degrees = np.degrees(np.arctan(cut[[1, 3]]))
    # toward 0, so that rounding cannot take a line past its limit
    slope = np.tan(np.radians(np.trunc(np.round(degrees / SET_OUT_DEG, 6)) * SET_OUT_DEG))
    slip = round(float(cut[4]) / SET_OUT_MM) * SET_OUT_MM
    most = meeting.limits.most_slip_mm
    slip = min(max(slip, -most), most)
    least = meeting.limits.least_cut_mm + meeting.half_mm * np.abs(slope)
    depth = np.maximum(np.floor(cut[[0, 2]] / SET_OUT_MM + 1e-6) * SET_OUT_MM, least)
    return np.array([depth[0], slope[0], depth[1], slope[1], slip]) + 0.0
