"""The outline of a leaf: crooked long edges, sawn ends, chips, splits and bark edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.noise import SplineLine, chance, random_line
from sample_images.plan import FlitchPlan
from sample_images.pores import Sheet

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class LeafOutline:
    """Four edges in leaf millimetres, x to the right, y to the top, middle at (0, 0).

    Long edges give x at heights ``y_mm``; ends give y at places ``x`` of their own.
    """

    y_mm: Doubles
    left_mm: Doubles
    right_mm: Doubles
    top: Doubles
    """Shape (n, 2): x rising, y."""
    bottom: Doubles
    length_mm: float
    width_mm: float

    def points(self) -> Doubles:
        """Return the closed outline, shape (n, 2), clockwise from the upper left corner."""
        top = self._end(self.top)
        bottom = self._end(self.bottom)[::-1]
        right = self._side(self.right_mm, top[-1, 1], bottom[0, 1])[::-1]
        left = self._side(self.left_mm, top[0, 1], bottom[-1, 1])
        return np.concatenate([top, right, bottom, left])

    def long_edges(self) -> tuple[Doubles, Doubles]:
        """Return the left and the right edge between the sawn ends, each (n, 2), upward."""
        low, high = float(self.bottom[:, 1].max()), float(self.top[:, 1].min())
        low, high = min(low, -0.45 * self.length_mm), max(high, 0.45 * self.length_mm)
        return self._side(self.left_mm, high, low), self._side(self.right_mm, high, low)

    def cover(self, sheet: Sheet) -> Floats:
        """Return how much of each pixel of a sheet is leaf, 0 to 1."""
        x, y, scale = sheet.x_mm, sheet.y_mm, sheet.px_per_mm
        left = np.interp(y, self.y_mm, self.left_mm)[:, None]
        right = np.interp(y, self.y_mm, self.right_mm)[:, None]
        top = np.interp(x, self.top[:, 0], self.top[:, 1])[None, :]
        bottom = np.interp(x, self.bottom[:, 0], self.bottom[:, 1])[None, :]
        across = np.clip((x[None, :] - left) * scale + 0.5, 0, 1)
        across *= np.clip((right - x[None, :]) * scale + 0.5, 0, 1)
        along = np.clip((top - y[:, None]) * scale + 0.5, 0, 1)
        along *= np.clip((y[:, None] - bottom) * scale + 0.5, 0, 1)
        return np.asarray(across * along, np.float32)

    def _end(self, end: Doubles) -> Doubles:
        """Return an end cut off where the long edges meet it."""
        corners = []
        for side in (self.left_mm, self.right_mm):
            x = float(side[0 if end[:, 1].mean() < 0 else -1])
            for _ in range(3):
                y = float(np.interp(x, end[:, 0], end[:, 1]))
                x = float(np.interp(y, self.y_mm, side))
            corners.append((x, y))
        inner = end[(end[:, 0] > corners[0][0]) & (end[:, 0] < corners[1][0])]
        return np.concatenate([[corners[0]], inner, [corners[1]]])

    def _side(self, side: Doubles, top_mm: float, bottom_mm: float) -> Doubles:
        """Return a long edge between two heights, from the bottom up."""
        inside = (self.y_mm > bottom_mm + 0.5) & (self.y_mm < top_mm - 0.5)
        return np.stack([side[inside], self.y_mm[inside]], axis=1)


def draw_outline(plan: FlitchPlan, leaf: int, *, waney: bool) -> LeafOutline:
    """Return the outline of a leaf (from 1 up) of a plan's flitch."""
    depth = leaf * plan.thickness_mm
    shared = chance(plan.seed, "outline")
    own = chance(plan.seed, "outline", leaf)
    half = plan.length_mm / 2
    y = np.linspace(-half - 12, half + 12, 121)
    taper = shared.normal(0, 0.006) * y
    width = plan.width_mm * (1 + shared.normal(0, 0.004)) + own.normal(0, 0.4)
    slow = plan.length_mm / 4.5
    crook, straight, wane = (
        _line(plan, name, cell_mm=slow, depth_cell_mm=18).at(y, depth)
        for name in ("left", "right", "wane")
    )
    left = -width / 2 + 0.5 * taper + 1.1 * crook
    right = width / 2 - 0.5 * taper + 0.35 * straight
    if waney:
        knobs = _line(plan, "knobs", cell_mm=28, depth_cell_mm=6).at(y, depth)
        left = left + 4.5 * wane + 0.8 * knobs
    left, right = _bend(plan, y, left, right)
    length = plan.length_mm * (1 + shared.normal(0, 0.002)) + own.normal(0, 0.5)
    ends = [_end(shared, own, plan, sign * length / 2, out=sign) for sign in (1.0, -1.0)]
    if plan.torn_mm > 0 or plan.broken_corners > 0:
        sides = ((left[-1], right[-1]), (left[0], right[0]))
        ends = [
            _tear(chance(plan.seed, "torn", leaf, sign), plan, end, sides=side, out=sign)
            for end, side, sign in zip(ends, sides, (1.0, -1.0), strict=True)
        ]
    middle = np.abs(y) < half / 2
    return LeafOutline(
        y_mm=y,
        left_mm=np.maximum(left, -plan.width_mm / 2 - 12),
        right_mm=np.minimum(right, plan.width_mm / 2 + 12),
        top=ends[0],
        bottom=ends[1],
        length_mm=float(length),
        width_mm=float(np.median((right - left)[middle])),
    )


def _bend(
    plan: FlitchPlan, y_mm: Doubles, left: Doubles, right: Doubles
) -> tuple[Doubles, Doubles]:
    """Return the long edges bent and tapered inward, as the plan asks."""
    if plan.crook_mm == 0 and plan.taper_mm == 0:
        return left, right
    along = 2 * y_mm / plan.length_mm
    bow = plan.crook_mm * along**2
    narrow = plan.taper_mm / 2 * (along + 1) / 2
    return left + (plan.crook_mm - bow) + narrow, right - bow - narrow


def _line(plan: FlitchPlan, name: str, *, cell_mm: float, depth_cell_mm: float) -> SplineLine:
    return random_line(
        chance(plan.seed, "edge", name),
        length_mm=plan.length_mm + 30,
        cell_mm=cell_mm,
        depth_mm=(plan.leaves + 1) * plan.thickness_mm,
        depth_cell_mm=depth_cell_mm,
    )


def _end(
    shared: np.random.Generator,
    own: np.random.Generator,
    plan: FlitchPlan,
    y_mm: float,
    *,
    out: float,
) -> Doubles:
    """Return one sawn end: a slanting line with chips and splits taken out of it."""
    half = plan.width_mm / 2 + 13
    slant = shared.normal(0, 0.006) + own.normal(0, 0.0008)
    x = np.linspace(-half, half, 41)
    depth = np.abs(own.normal(0, 0.12, len(x)))
    points = np.stack([x, y_mm + slant * x - out * depth], axis=1)
    for _ in range(own.poisson(plan.end_damage)):
        notch = _chip(own) if own.random() < 0.5 else _split(own)
        at = own.uniform(-0.46, 0.46) * plan.width_mm
        base = y_mm + slant * (at + notch[:, 0])
        cut = np.stack([at + notch[:, 0], base - out * notch[:, 1]], axis=1)
        outside = np.abs(points[:, 0] - at) > notch[-1, 0]
        points = np.concatenate([points[outside], cut])
        points = points[np.argsort(points[:, 0])]
    return points


def _tear(
    rng: np.random.Generator,
    plan: FlitchPlan,
    end: Doubles,
    *,
    sides: tuple[float, float],
    out: float,
) -> Doubles:
    """Return an end torn along the fibres, and with corners broken off."""
    x = np.arange(end[0, 0], end[-1, 0], 0.4)
    sawn = np.interp(x, end[:, 0], end[:, 1])
    depth = np.zeros_like(x)
    if plan.torn_mm > 0:
        knots = np.arange(end[0, 0] - 30, end[-1, 0] + 60, 28.0)
        depth += plan.torn_mm * 0.7 * np.interp(x, knots, np.abs(rng.normal(0, 1, len(knots))))
        depth += plan.torn_mm * _teeth(rng, x)
    for side, inward in zip(sides, (1.0, -1.0), strict=True):
        if rng.random() < plan.broken_corners / 4:
            wide, deep = rng.uniform(12, 0.3 * plan.width_mm), rng.uniform(15, 110)
            rest = np.clip(1 - (x - side) * inward / wide, 0, 1.0)
            broken = deep * rest ** rng.uniform(0.5, 1.6)
            depth += broken + 0.12 * deep * _teeth(rng, x) * (rest > 0)
    return np.stack([x, sawn - out * depth], axis=1)


def _teeth(rng: np.random.Generator, x_mm: Doubles) -> Doubles:
    """Return fibre bundles torn to uneven lengths, 0 to about 1: steps along the grain."""
    widths = np.exp(rng.uniform(np.log(0.8), np.log(9), 2 + int(np.ptp(x_mm))))
    starts = x_mm[0] + np.cumsum(widths)
    index = np.searchsorted(starts, x_mm)
    level = np.abs(rng.normal(0, 0.28, len(widths) + 1))
    slope = rng.normal(0, 0.09, len(widths) + 1)
    within = x_mm - np.concatenate([[x_mm[0]], starts])[index]
    return np.asarray(np.maximum(level[index] + slope[index] * within, 0), np.float64)


def _chip(rng: np.random.Generator) -> Doubles:
    """Return a broken-out piece, x and depth in mm: steep along the grain, ragged across it."""
    half, deep = rng.uniform(2, 8), rng.uniform(1.5, 7)
    x = np.array([-1.0, -0.93, -0.35, 0.2, 0.9, 1.0]) * half
    ragged = rng.uniform(0.35, 1.0, 4) * deep
    return np.stack([x, np.concatenate([[0.0], ragged, [0.0]])], axis=1)


def _split(rng: np.random.Generator) -> Doubles:
    """Return a split along the grain, x and depth in mm."""
    half, deep = rng.uniform(0.4, 0.9), rng.uniform(12, 45)
    return np.array([[-half, 0.0], [rng.uniform(-0.5, 0.5) * half, deep], [half, 0.0]])
