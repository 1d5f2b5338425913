"""Figure: how the fibres swing out of the face, and what that does to the drawing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.log import Log
from sample_images.noise import Extent, SplineField, SplineLine, chance, random_line
from sample_images.plan import FlitchPlan

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Grain:
    """The fibre direction anywhere in a flitch, degrees; fields in leaf millimetres."""

    plan: FlitchPlan
    mean_tilt_deg: float
    drift: SplineLine
    slow: SplineField
    slow_across: SplineField
    angle: SplineField
    lean_deg: float
    period_mm: float
    swing_deg: float
    jitter: tuple[SplineField, SplineField, SplineField]
    swell: SplineField
    band: SplineLine
    """Interlocked grain from the pith outward."""

    def leaf_tilt_deg(self, leaf: int) -> float:
        """Return the tilt of a leaf (from 1 up) before slow swings and figure, degrees."""
        depth = leaf * self.plan.thickness_mm
        drift = float(self.drift.at(np.array([0.0]), depth)[0])
        return self.mean_tilt_deg + self.plan.tilt_drift_deg * drift

    def tilt_deg(self, x_mm: Doubles, y_mm: Doubles, leaf: int, radius_mm: Floats) -> Floats:
        """Return the fibre tilt of a leaf's face A: positive where fibres rise toward its top."""
        depth = leaf * self.plan.thickness_mm
        tilt = self.plan.tilt_along_deg * self.slow.at(x_mm, y_mm, depth)
        tilt += 0.5 * self.plan.tilt_along_deg * self.slow_across.at(x_mm, y_mm, depth)
        tilt += self.figure_deg(x_mm, y_mm, depth, radius_mm)
        return np.asarray(tilt + np.float32(self.leaf_tilt_deg(leaf)), np.float32)

    def figure_deg(
        self, x_mm: Doubles, y_mm: Doubles, depth_mm: float, radius_mm: Floats
    ) -> Floats:
        """Return the part of the tilt that the figure brings."""
        swing = self.swing_deg * self.plan.figure_strength
        if self.plan.figure == "fiddleback":
            return swing * self.ripple(x_mm, y_mm, depth_mm)
        if self.plan.figure == "ribbon":
            swell = 0.75 + 0.35 * self.swell.at(x_mm, y_mm, depth_mm)
            wander = 0.4 * self.period_mm * self.jitter[0].at(x_mm, y_mm, depth_mm)
            wander += 0.1 * self.period_mm * self.jitter[1].at(x_mm, y_mm, depth_mm)
            band = _read_line(self.band, radius_mm + wander)
            return np.asarray(swing * np.tanh(1.3 * band) * np.maximum(swell, 0), np.float32)
        if self.plan.figure == "crotch":
            return swing * self.ripple(x_mm, y_mm, depth_mm)
        return np.zeros((len(y_mm), len(x_mm)), np.float32)

    def ripple(self, x_mm: Doubles, y_mm: Doubles, depth_mm: float) -> Floats:
        """Return the cross ripple, about -1 to 1."""
        bend = np.zeros((len(y_mm), len(x_mm)), np.float32)
        for size, field in zip((0.5, 0.15, 0.05), self.jitter, strict=True):
            bend += np.float32(size) * field.at(x_mm, y_mm, depth_mm)
        along = (y_mm[:, None] / self.period_mm).astype(np.float32)
        if self.plan.figure == "crotch":
            along = self.feather_mm(x_mm, y_mm, depth_mm) / np.float32(0.45 * self.period_mm)
        phase = (2 * np.pi * (along + bend)).astype(np.float32)
        swell = np.clip(0.7 + 0.4 * self.swell.at(x_mm, y_mm, depth_mm), 0.05, 1.3)
        return np.asarray(np.sin(phase + 0.35 * np.sin(phase)) * swell, np.float32)

    def feather_mm(self, x_mm: Doubles, y_mm: Doubles, depth_mm: float) -> Floats:
        """Return the growth radius of crotch wood: plumes that sweep up and out from a spine."""
        sway = 7 * self.slow.at(np.zeros(1), y_mm, depth_mm)
        away = np.sqrt((x_mm[None, :] - sway) ** 2 + 9.0**2)
        reach = 0.25 * self.plan.width_mm
        climb = 0.62 * away * (1 + 0.25 * away / reach) - 0.34 * y_mm[:, None]
        rough = 2.2 * self.jitter[0].at(x_mm, y_mm, depth_mm)
        rough += 0.8 * self.jitter[1].at(x_mm, y_mm, depth_mm)
        return np.asarray(climb + rough + 150, np.float32)

    def angle_deg(self, x_mm: Doubles, y_mm: Doubles, leaf: int) -> Floats:
        """Return the angle of the fibres in the face from the leaf's axis, clockwise positive."""
        depth = leaf * self.plan.thickness_mm
        angle = 0.8 * self.angle.at(x_mm, y_mm, depth) + np.float32(self.lean_deg)
        if self.plan.figure == "crotch":
            fan = 22 * np.tanh(x_mm / (0.25 * self.plan.width_mm))
            angle = angle + fan[None, :].astype(np.float32)
        return np.asarray(angle, np.float32)


def draw_grain(plan: FlitchPlan, log: Log) -> Grain:
    """Return the fibre directions of a plan's flitch."""
    rng = chance(plan.seed, "grain")
    mean = float(rng.normal(0, 2.5))
    period, swing = _figure_size(rng, plan)
    block = log.extent
    return Grain(
        plan=plan,
        mean_tilt_deg=mean if plan.mean_tilt_deg is None else plan.mean_tilt_deg,
        drift=_drift(plan, block),
        slow=block.field(chance(plan.seed, "tilt along"), x_mm=160, y_mm=380, depth_mm=15),
        slow_across=block.field(chance(plan.seed, "tilt across"), x_mm=45, y_mm=260, depth_mm=12),
        angle=block.field(chance(plan.seed, "angle"), x_mm=60, y_mm=240, depth_mm=12),
        lean_deg=log.lean_deg,
        period_mm=plan.figure_period_mm or period,
        swing_deg=swing,
        jitter=_jitter(plan, block, period),
        swell=block.field(chance(plan.seed, "swell"), x_mm=60, y_mm=9 * period, depth_mm=10),
        band=random_line(
            chance(plan.seed, "band"),
            length_mm=1200,
            cell_mm=0.25 * period,
            depth_mm=0,
            depth_cell_mm=1000,
        ),
    )


def _figure_size(rng: np.random.Generator, plan: FlitchPlan) -> tuple[float, float]:
    """Return period, mm, and swing, degrees, of the plan's figure."""
    if plan.figure == "ribbon":
        return rng.uniform(9, 17), rng.uniform(6, 10)
    if plan.figure == "crotch":
        return rng.uniform(12, 22), rng.uniform(4, 7)
    return rng.uniform(9, 19), rng.uniform(5, 9)


def _jitter(
    plan: FlitchPlan, block: Extent, period_mm: float
) -> tuple[SplineField, SplineField, SplineField]:
    """Return what bends and breaks the figure's lines, coarse to fine."""
    cells = ((110, 6 * period_mm), (32, 3 * period_mm), (9, 2 * period_mm))
    if plan.figure == "ribbon":
        cells = ((55, 330), (14, 90), (9, 40))
    fields = [
        block.field(chance(plan.seed, "bend", index), x_mm=x, y_mm=y, depth_mm=9 - 2 * index)
        for index, (x, y) in enumerate(cells)
    ]
    return fields[0], fields[1], fields[2]


def _drift(plan: FlitchPlan, block: Extent) -> SplineLine:
    """Return the drift of the mean tilt, read at position 0 and the leaf's depth."""
    return random_line(
        chance(plan.seed, "drift"),
        length_mm=10,
        cell_mm=1000,
        depth_mm=block.depth_mm,
        depth_cell_mm=12,
    )


def _read_line(line: SplineLine, at_mm: Floats) -> Floats:
    """Return a line's values at any positions within 600 mm of 0, from a fine table."""
    table = line.at(np.arange(-600.0, 600.0, 0.5), 0.0)
    place = np.clip((at_mm + 600) * 2, 0, len(table) - 1.01)
    first = place.astype(np.int32)
    part = place - first
    return np.asarray(table[first] * (1 - part) + table[first + 1] * part, np.float32)
