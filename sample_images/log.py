"""A log, and the cut planes that a slicer lays through it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.noise import Extent, SplineField, SplineLine, chance, random_line
from sample_images.plan import FlitchPlan
from sample_images.rings import RingTables, grow
from sample_images.species import SPECIES, Species

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

MARGIN_MM = 14.0
"""Wood drawn beyond the leaf's nominal edge, so that no outline runs out of it."""


@dataclass(frozen=True, slots=True)
class Cutting:
    """Where the cut planes lie in the log, seen along it: pith at (0, 0), mm."""

    across: tuple[float, float]
    """Direction of the leaf's width."""
    down: tuple[float, float]
    """Direction from leaf to leaf."""
    centre: tuple[float, float]
    """Middle of the first cut plane."""

    def section(self, x_mm: Doubles, depth_mm: float) -> tuple[Doubles, Doubles]:
        """Return where points of a plane lie in the log's cross-section."""
        return (
            self.centre[0] + x_mm * self.across[0] + depth_mm * self.down[0],
            self.centre[1] + x_mm * self.across[1] + depth_mm * self.down[1],
        )


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """Solid wood with everything that runs through it. Fields are in leaf millimetres."""

    plan: FlitchPlan
    species: Species
    extent: Extent
    cutting: Cutting
    rings: RingTables
    pith: tuple[SplineLine, SplineLine]
    sweep_mm: tuple[float, float]
    """Bow of the pith over half the length, across and in depth."""
    taper: float
    """Radius lost per length, upward."""
    waves: tuple[tuple[float, SplineField], ...]
    """Unevenness of the growth surfaces: mm, field."""
    streaks: tuple[SplineField, SplineField]
    shade: SplineField
    fibres: SplineField
    lean_deg: float
    """Angle of the grain to the leaf's axis."""
    sap_mm: float | None
    """Radius where sapwood begins."""

    def pith_at(self, y_mm: Doubles) -> tuple[Doubles, Doubles]:
        """Return where the pith runs at heights: across the first cut plane's axis and in depth."""
        along = y_mm / (self.extent.length_mm / 2)
        return (
            self.pith[0].at(y_mm, 0.0) * 3.5 + self.sweep_mm[0] * along**2,
            self.pith[1].at(y_mm, 0.0) * 4.5 + self.sweep_mm[1] * along**2,
        )

    def radius(self, x_mm: Doubles, y_mm: Doubles, depth_mm: float) -> Floats:
        """Return the growth radius (rows y, columns x) on a cut plane, mm: equal is one ring."""
        lean = np.tan(np.radians(self.lean_deg))
        across = x_mm[None, :] - (lean * y_mm)[:, None]
        px, pz = self.pith_at(y_mm)
        section = self.cutting.section(across, depth_mm)
        radius = np.hypot(section[0] - px[:, None], section[1] - pz[:, None])
        radius += self.taper * y_mm[:, None]
        for size_mm, wave in self.waves:
            radius += size_mm * wave.at(x_mm, y_mm, depth_mm)
        return radius.astype(np.float32)


def grow_log(plan: FlitchPlan) -> Log:
    """Return the log that a plan's flitch is cut from."""
    species = SPECIES[plan.species]
    extent = Extent(
        plan.width_mm + 2 * MARGIN_MM,
        plan.length_mm + 2 * MARGIN_MM,
        (plan.leaves + 1) * plan.thickness_mm,
    )
    rng = chance(plan.seed, "log")
    cutting = _lay_cuts(rng, plan)
    reach = np.array([-extent.width_mm / 2, 0, extent.width_mm / 2])
    corners = [
        float(np.hypot(*cutting.section(reach, depth)).max()) for depth in (0.0, extent.depth_mm)
    ]
    plain = plan.cut == "plain"
    taper = rng.uniform(0.010, 0.020) if plain else rng.uniform(0.003, 0.008)
    slack = 40 + taper * extent.length_mm
    sap = plan.sapwood
    if sap is None:
        sap = plain and plan.figure != "crotch" and rng.random() < 0.35
    sap_mm = max(corners) * rng.uniform(0.86, 0.94) if sap else None
    return Log(
        plan=plan,
        species=species,
        extent=extent,
        cutting=cutting,
        rings=grow(
            chance(plan.seed, "rings"),
            species.rings,
            inner_mm=-slack,
            outer_mm=max(corners) + slack,
        ),
        pith=(_pith_line(plan, extent, "px"), _pith_line(plan, extent, "pz")),
        sweep_mm=(rng.normal(0, 4.0), rng.normal(0, 10.0 if plain else 2.0)),
        taper=taper,
        waves=_waves(plan, extent),
        streaks=(
            extent.field(chance(plan.seed, "streak band"), x_mm=9, y_mm=420, depth_mm=10),
            extent.field(chance(plan.seed, "streak patch"), x_mm=55, y_mm=500, depth_mm=14),
        ),
        shade=extent.field(chance(plan.seed, "shade"), x_mm=60, y_mm=450, depth_mm=14),
        fibres=extent.field(chance(plan.seed, "fibres"), x_mm=0.55, y_mm=22, depth_mm=0.7),
        lean_deg=rng.normal(0, 0.5),
        sap_mm=sap_mm,
    )


def _pith_line(plan: FlitchPlan, extent: Extent, name: str) -> SplineLine:
    return random_line(
        chance(plan.seed, name),
        length_mm=extent.length_mm,
        cell_mm=330,
        depth_mm=0,
        depth_cell_mm=1000,
    )


def _waves(plan: FlitchPlan, extent: Extent) -> tuple[tuple[float, SplineField], ...]:
    sizes = ((0.9, 28, 210, 12), (0.33, 11, 75, 7), (0.10, 4.5, 26, 3.5))
    return tuple(
        (
            size,
            extent.field(chance(plan.seed, "wave", size), x_mm=x, y_mm=y, depth_mm=depth),
        )
        for size, x, y, depth in sizes
    )


def _lay_cuts(rng: np.random.Generator, plan: FlitchPlan) -> Cutting:
    """Return cut planes: past the pith (plain), along a radius (quarter), in between (rift)."""
    half = plan.width_mm / 2
    if plan.cut == "plain":
        return Cutting((1.0, 0.0), (0.0, 1.0), (rng.normal(0, 0.08) * half, rng.uniform(40, 85)))
    if plan.cut == "quarter":
        swing = np.radians(rng.normal(0, 2.0))
        centre = (half + rng.uniform(45, 80), rng.normal(0, 3.0))
    else:
        swing = np.radians(rng.uniform(32, 42))
        centre = (half + rng.uniform(95, 130), 0.0)
    cosine, sine = float(np.cos(swing)), float(np.sin(swing))
    return Cutting((cosine, sine), (-sine, cosine), centre)
