"""A leaf of the flitch: two faces, fibre directions, an outline, and the ways to lay it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sample_images.colour import lab_of, linear_of_d65
from sample_images.damage import Damage, cut_open, draw_damage, mark_wood
from sample_images.figure import Grain, draw_grain
from sample_images.leaf_outline import LeafOutline, draw_outline
from sample_images.log import MARGIN_MM, Doubles, Floats, Log, grow_log
from sample_images.noise import chance
from sample_images.plan import FlitchPlan
from sample_images.pores import Sheet
from sample_images.reflection import Lobe, even_light_gain
from sample_images.wood_face import WoodFace, saw_through

SHINY_FIGURES = ("fiddleback", "ribbon")
"""Wood is sliced for these only where they show: the upper half of its species' shine."""
FLIPS = {
    "as-lies": (False, False),
    "face-over": (False, True),
    "end-over": (True, False),
    "end-turned": (True, True),
}
"""Laying -> (rows reversed, columns reversed)."""


@dataclass(frozen=True, slots=True, eq=False)
class LaidFace:
    """The upper side of a leaf as it lies on the board, before it is put anywhere.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, 3)
        Matt reflectance D.
    tilt_deg, angle_deg : ndarray of float32, shape (rows, columns)
        Fibre direction against the board's axes: x right, y up the picture, z out.
    flake : ndarray of float32 or None
        Share of rays laid open.
    outline_mm : ndarray, shape (n, 2)
        x, y from the leaf's middle.
    long_edges_mm : tuple of ndarray, each (n, 2)
        The left and the right edge without the ends.
    splits_mm, holes_mm : tuple of ndarray, each (n, 2)
        Openings; what of them lies outside the outline is board in any case.
    """

    sheet: Sheet
    light: Floats
    tilt_deg: Floats
    angle_deg: Floats
    flake: Floats | None
    cover: Floats
    outline_mm: Doubles
    long_edges_mm: tuple[Doubles, Doubles]
    lobe: Lobe
    splits_mm: tuple[Doubles, ...] = ()
    holes_mm: tuple[Doubles, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Leaf:
    """One leaf; arrays as it lies, face A up."""

    number: int
    sheet: Sheet
    faces: tuple[WoodFace, WoodFace]
    """A (tight) and B (loose), both seen from A's side."""
    gains: tuple[tuple[float, float, float], tuple[float, float, float]]
    """What each face's light is multiplied with, R, G, B."""
    lobes: tuple[Lobe, Lobe]
    tilt_deg: Floats
    angle_deg: Floats
    outline: LeafOutline
    cover: Floats
    damage: Damage

    @property
    def label(self) -> str:
        """Return the leaf's label in lists and file names."""
        return f"{self.number:02d}"

    def lay(self, laid: str, *, face: str | None = None, step: int = 1) -> LaidFace:
        """Return the leaf's upper side when it is laid that way.

        Parameters
        ----------
        laid : str
            as-lies, face-over, end-over or end-turned.
        face : str or None
            "A" or "B" to show that face's wood whichever is up (for the truth of a tilt alone).
        step : int
            Keep every so many rows and columns; averages then cost less.
        """
        rows, columns = FLIPS[laid]
        over = rows != columns
        index = {None: int(over), "A": 0, "B": 1}[face]
        wood = self.faces[index]
        keep = (
            slice(None, None, -step if rows else step),
            slice(None, None, -step if columns else step),
        )
        signs = np.array([-1.0 if columns else 1.0, -1.0 if rows else 1.0])
        left, right = (edge * signs for edge in self.outline.long_edges())
        return LaidFace(
            sheet=self.sheet,
            light=wood.light[keep] * np.array(self.gains[index], np.float32),
            tilt_deg=self.tilt_deg[keep] * np.float32(-1 if columns else 1),
            angle_deg=self.angle_deg[keep] * np.float32(-1 if over else 1),
            flake=None if wood.flake is None else wood.flake[keep],
            cover=self.cover[keep],
            outline_mm=self.outline.points() * signs,
            long_edges_mm=(right, left) if columns else (left, right),
            lobe=self.lobes[index],
            splits_mm=tuple(split * signs for split in self.damage.splits),
            holes_mm=tuple(hole * signs for hole in self.damage.holes),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Flitch:
    """A plan's log, grown once, from which leaves are cut as they are asked for."""

    plan: FlitchPlan
    px_per_mm: float
    log: Log
    grain: Grain
    waney: bool
    gains: tuple[tuple[float, float, float], tuple[float, float, float]]
    lobes: tuple[Lobe, Lobe]

    @property
    def sheet(self) -> Sheet:
        """Return the grid that leaves are drawn on."""
        plan = self.plan
        return Sheet(plan.width_mm + 2 * MARGIN_MM, plan.length_mm + 2 * MARGIN_MM, self.px_per_mm)

    def leaf(self, number: int) -> Leaf:
        """Return a leaf, counted from 1."""
        if not 1 <= number <= self.plan.leaves:
            raise ValueError(f"The flitch has leaves 1 to {self.plan.leaves}, not {number}.")
        return _cut_leaf(self, number)


def open_flitch(plan: FlitchPlan, *, px_per_mm: float) -> Flitch:
    """Return the flitch of a plan, its wood drawn at that resolution."""
    return _open_flitch(replace(plan, shots=(), photo_px=(0, 0)), px_per_mm)


@lru_cache(maxsize=3)
def _open_flitch(plan: FlitchPlan, px_per_mm: float) -> Flitch:
    log = grow_log(plan)
    grain = draw_grain(plan, log)
    waney = plan.waney
    if waney is None:
        waney = log.sap_mm is not None and bool(chance(plan.seed, "waney").random() < 0.5)
    lobes, face_gain = _lobes(plan, log)
    level = _level(plan, log, grain, lobes[0])
    gains = (level, (level[0] * face_gain, level[1] * face_gain, level[2] * face_gain))
    return Flitch(plan, px_per_mm, log, grain, waney, gains, lobes)


def _lobes(plan: FlitchPlan, log: Log) -> tuple[tuple[Lobe, Lobe], float]:
    """Return the highlights of face A and B, and face B's matt light over A's."""
    rng = chance(plan.seed, "lobe")
    low, high = log.species.lobe_ratio
    if plan.figure in SHINY_FIGURES:
        low = (low * high) ** 0.5
    ratio = low * (high / low) ** rng.random()
    width = rng.uniform(*log.species.lobe_width_deg)
    ratio = ratio if plan.lobe_ratio is None else plan.lobe_ratio
    width = width if plan.lobe_width_deg is None else plan.lobe_width_deg
    tight = Lobe(ratio, width, plan.film_index, plan.lobe_shape, plan.sheen)
    loose_width = float(np.clip(width * np.exp(rng.normal(0, 1) * plan.face_lobe_sd), 5, 28))
    return (tight, replace(tight, width_deg=loose_width)), float(
        np.exp(rng.normal(0, 1) * plan.face_albedo_sd)
    )


def _level(plan: FlitchPlan, log: Log, grain: Grain, lobe: Lobe) -> tuple[float, float, float]:
    """Return what brings the flitch's middle plane to its species' colour under even light."""
    rng = chance(plan.seed, "colour")
    wanted = np.array(log.species.lab) + rng.standard_normal(3) * np.array(log.species.lab_sd)
    sheet = Sheet(plan.width_mm, plan.length_mm, 0.5)
    middle = (plan.leaves + 1) // 2
    wood = saw_through(_heartwood(log), grain, sheet, middle)
    radius = log.radius(sheet.x_mm, sheet.y_mm, middle * plan.thickness_mm)
    tilt = grain.tilt_deg(sheet.x_mm, sheet.y_mm, middle, radius)
    seen = (wood.light * even_light_gain(tilt, lobe)[..., None]).mean(axis=(0, 1))
    gain = linear_of_d65(wanted) / seen
    return float(gain[0]), float(gain[1]), float(gain[2])


def _heartwood(log: Log) -> Log:
    """Return the log as if it were heartwood throughout, for setting the colour."""
    return replace(log, sap_mm=None)


@lru_cache(maxsize=3)
def _cut_leaf(flitch: Flitch, number: int) -> Leaf:
    plan, sheet = flitch.plan, flitch.sheet
    x, y = sheet.x_mm, sheet.y_mm
    outline = draw_outline(plan, number, waney=flitch.waney)
    damage = draw_damage(plan, number, outline, lean_deg=flitch.log.lean_deg)
    radius = flitch.log.radius(x, y, number * plan.thickness_mm)
    tight, loose = (
        replace(face, light=mark_wood(face.light, damage, outline, sheet))
        for face in (_cut_plane(flitch, number), _cut_plane(flitch, number - 1))
    )
    return Leaf(
        number=number,
        sheet=sheet,
        faces=(tight, loose),
        gains=flitch.gains,
        lobes=flitch.lobes,
        tilt_deg=flitch.grain.tilt_deg(x, y, number, radius),
        angle_deg=flitch.grain.angle_deg(x, y, number),
        outline=outline,
        cover=cut_open(outline.cover(sheet), damage.openings, sheet),
        damage=damage,
    )


@lru_cache(maxsize=4)
def _cut_plane(flitch: Flitch, plane: int) -> WoodFace:
    return saw_through(flitch.log, flitch.grain, flitch.sheet, plane)


def even_light_lab(leaf: Leaf) -> tuple[float, float, float]:
    """Return the mean CIELAB of face A under an even white sky, seen from above."""
    face = leaf.lay("as-lies", step=2)
    seen = face.light * (even_light_gain(face.tilt_deg, face.lobe) * 1.0)[..., None]
    on_leaf = face.cover > 0.99
    lab = lab_of(seen[on_leaf].mean(axis=0, dtype=np.float64))
    return float(lab[0]), float(lab[1]), float(lab[2])
