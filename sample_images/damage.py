"""What is wrong with a leaf: open splits, knots and their holes, bark; and the truth of it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.leaf_outline import LeafOutline
from sample_images.noise import chance, random_line
from sample_images.plan import FlitchPlan
from sample_images.pores import Sheet

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

FINE = 4
"""An opening's cover is drawn that much finer than the sheet, so that thin splits stay true."""
AREA_PX_PER_MM = 8.0
BARK = (0.16, 0.13, 0.11)
"""Bark over the wood it covers, R, G, B."""
RIM = (0.20, 0.15, 0.12)
"""The darkest wood of a knot over the wood beside it."""


@dataclass(frozen=True, slots=True)
class Knot:
    """A knot, mm: its heart, its size across the grain, how much longer it is along it."""

    x_mm: float
    y_mm: float
    radius_mm: float
    stretch: float
    darkness: float
    """0 (sound and pale) to 1 (black)."""


@dataclass(frozen=True, slots=True, eq=False)
class Damage:
    """Openings of one leaf as closed polygons in leaf mm, and what marks its wood.

    Parameters
    ----------
    splits, holes : tuple of ndarray, each (n, 2)
        Splits run past the end or edge that they start from.
    knots : tuple of Knot
    bark_mm : ndarray or None
        Width of the bark along the left edge at the outline's heights.
    """

    splits: tuple[Doubles, ...] = ()
    holes: tuple[Doubles, ...] = ()
    knots: tuple[Knot, ...] = ()
    bark_mm: Doubles | None = None

    @property
    def openings(self) -> tuple[Doubles, ...]:
        """Return splits and holes together."""
        return self.splits + self.holes


def draw_damage(plan: FlitchPlan, leaf: int, outline: LeafOutline, *, lean_deg: float) -> Damage:
    """Return the damage that a plan asks for on one leaf (from 1 up).

    Parameters
    ----------
    lean_deg : float
        Angle of the grain to the leaf's axis, which splits follow.
    """
    lean = float(np.tan(np.radians(lean_deg)))
    knots, holes = _draw_knots(plan, leaf, outline)
    return Damage(
        splits=_draw_splits(plan, leaf, outline, lean),
        holes=holes,
        knots=knots,
        bark_mm=_draw_bark(plan, leaf, outline),
    )


def cut_open(cover: Floats, openings: tuple[Doubles, ...], sheet: Sheet) -> Floats:
    """Return the cover of a leaf with its openings taken out of it."""
    open_cover = cover.copy()
    for opening in openings:
        at = _in_sheet(opening, sheet)
        low = np.floor(at.min(axis=0)).astype(int) - 1
        high = np.ceil(at.max(axis=0)).astype(int) + 2
        low, high = np.maximum(low, 0), np.minimum(high, cover.shape[::-1])
        if (low >= high).any():
            continue
        size = (high - low) * FINE
        mask = np.zeros((size[1], size[0]), np.uint8)
        fine = np.round(((at - low + 0.5) * FINE - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(mask, [fine], 255, shift=4)
        part = cv2.resize(mask, tuple(high - low), interpolation=cv2.INTER_AREA)
        open_cover[low[1] : high[1], low[0] : high[0]] *= np.float32(1) - part / np.float32(255)
    return open_cover


def mark_wood(light: Floats, damage: Damage, outline: LeafOutline, sheet: Sheet) -> Floats:
    """Return the drawing of a face with knots in it, grain flowing round them, and bark."""
    if not damage.knots and damage.bark_mm is None:
        return light
    marked = light.copy()
    for knot in damage.knots:
        _mark_knot(marked, knot, sheet)
    if damage.bark_mm is not None:
        inside = sheet.x_mm[None, :] - np.interp(sheet.y_mm, outline.y_mm, outline.left_mm)[:, None]
        width = np.interp(sheet.y_mm, outline.y_mm, damage.bark_mm)[:, None]
        share = np.clip((width - inside) * 0.8 + 0.5, 0, 1).astype(np.float32)[..., None]
        rough = chance(17, "bark", light.shape).random(light.shape[:2], dtype=np.float32)
        grain = np.asarray(cv2.GaussianBlur(rough, (0, 0), 0.7), np.float32)[..., None]
        marked *= 1 - share * (1 - np.array(BARK, np.float32) * (0.5 + grain))
    return marked


def opening_areas(openings: tuple[Doubles, ...], outline_mm: Doubles) -> tuple[float, ...]:
    """Return what each opening takes off the leaf, mm²: only what lies inside the outline."""
    areas = []
    for opening in openings:
        low, high = opening.min(axis=0) - 1, opening.max(axis=0) + 1
        size = np.ceil((high - low) * AREA_PX_PER_MM).astype(int)
        masks = []
        for shape in (opening, outline_mm):
            mask = np.zeros((size[1], size[0]), np.uint8)
            fine = np.round(((shape - low) * AREA_PX_PER_MM - 0.5) * 16).astype(np.int32)
            cv2.fillPoly(mask, [fine], 1, shift=4)
            masks.append(mask)
        areas.append(float((masks[0] & masks[1]).sum()) / AREA_PX_PER_MM**2)
    return tuple(areas)


def _in_sheet(points: Doubles, sheet: Sheet) -> Doubles:
    rows, columns = sheet.shape
    return np.stack(
        [
            points[:, 0] * sheet.px_per_mm + columns / 2 - 0.5,
            rows / 2 - 0.5 - points[:, 1] * sheet.px_per_mm,
        ],
        axis=1,
    )


def _draw_splits(
    plan: FlitchPlan, leaf: int, outline: LeafOutline, lean: float
) -> tuple[Doubles, ...]:
    """Return open splits: most from an end along the grain, some beside an edge (slivers)."""
    splits = []
    for end, out in ((outline.top, 1.0), (outline.bottom, -1.0)):
        rng = chance(plan.seed, "open splits", leaf, out)
        for _ in range(rng.poisson(plan.splits)):
            length = float(np.exp(rng.uniform(np.log(30), np.log(min(380, plan.length_mm / 4)))))
            mouth = float(np.exp(rng.uniform(np.log(1.5), np.log(1.5 + 0.02 * length))))
            at = rng.uniform(-0.44, 0.44) * plan.width_mm
            y = float(np.interp(at, end[:, 0], end[:, 1]))
            splits.append(_split(rng, (at, y), -out * length, mouth_mm=mouth, lean=lean))
        for _ in range(rng.poisson(plan.slivers)):
            right = rng.random() < 0.5
            side = outline.right_mm if right else outline.left_mm
            near = float(np.interp(out * plan.length_mm * 0.49, outline.y_mm, side))
            at = near + (-1 if right else 1) * rng.uniform(3, 12)
            y = float(np.interp(at, end[:, 0], end[:, 1]))
            length = rng.uniform(60, min(300, plan.length_mm / 4))
            splits.append(_split(rng, (at, y), -out * length, mouth_mm=rng.uniform(2, 6), lean=0.0))
    return tuple(splits)


def _split(
    rng: np.random.Generator,
    start: tuple[float, float],
    run_mm: float,
    *,
    mouth_mm: float,
    lean: float,
) -> Doubles:
    """Return a split that opens at ``start`` and runs ``run_mm`` along the leaf (signed)."""
    t = np.concatenate([[-12 / abs(run_mm)], np.linspace(0, 1, 40)])
    wander = np.cumsum(rng.normal(0, 0.12, len(t))) * np.clip(t, 0, None)
    middle = start[0] + (lean + rng.normal(0, 0.004)) * t * run_mm + wander
    half = mouth_mm / 2 * np.clip(1 - t, 0, 1.2) ** 0.7
    ragged = 1 + 0.12 * rng.standard_normal((2, len(t)))
    y = start[1] + t * run_mm
    left = np.stack([middle - half * ragged[0], y], axis=1)
    right = np.stack([middle + half * ragged[1], y], axis=1)
    return np.concatenate([left, right[::-1]])


def _draw_knots(
    plan: FlitchPlan, leaf: int, outline: LeafOutline
) -> tuple[tuple[Knot, ...], tuple[Doubles, ...]]:
    """Return knots, which run on from leaf to leaf, and the holes where they fell out."""
    knots, holes = [], []
    shared = chance(plan.seed, "knots")
    own = chance(plan.seed, "knots", leaf)
    inner, at_edge = shared.poisson(plan.holes), shared.poisson(plan.edge_knots)
    for index in range(inner + at_edge):
        y = shared.uniform(-0.44, 0.44) * plan.length_mm
        radius = float(np.exp(shared.uniform(np.log(3.5), np.log(20))))
        stretch = shared.uniform(1.1, 1.9)
        dark = shared.uniform(0.35, 1.0)
        across = shared.uniform(-0.36, 0.36) * plan.width_mm
        share = shared.uniform(0.55, 0.9)
        if index >= inner:
            side = outline.right_mm if shared.random() < 0.5 else outline.left_mm
            across = float(np.interp(y, outline.y_mm, side)) + own.normal(0, 0.3 * radius)
        knot = Knot(across, y + own.normal(0, 1.0), radius, stretch, dark)
        knots.append(knot)
        if index < inner:
            holes.append(_hole(own, knot, max(2.0, share * radius)))
    return tuple(knots), tuple(holes)


def _hole(rng: np.random.Generator, knot: Knot, radius_mm: float) -> Doubles:
    """Return the ragged outline of what fell out of a knot."""
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    wave = sum(
        rng.normal(0, 0.09 / order) * np.cos(order * angle + rng.uniform(0, 6.3))
        for order in range(2, 7)
    )
    reach = radius_mm * (1 + wave)
    stretch = 1 + 0.7 * (knot.stretch - 1)
    x, y = reach * np.cos(angle), stretch * reach * np.sin(angle)
    return np.stack([knot.x_mm + x, knot.y_mm + y], axis=1)


def _mark_knot(light: Floats, knot: Knot, sheet: Sheet) -> None:
    """Draw a knot in place: rings of its own, a dark rim, and grain that flows round it."""
    (x0, y0), reach = _in_sheet(np.array([[knot.x_mm, knot.y_mm]]), sheet)[0], 7 * knot.radius_mm
    far = np.array([reach, reach * knot.stretch]) * sheet.px_per_mm
    low = np.maximum(np.floor(np.array([x0, y0]) - far).astype(int), 0)
    high = np.minimum(np.ceil(np.array([x0, y0]) + far).astype(int), light.shape[1::-1])
    if (low >= high).any():
        return
    x = np.arange(low[0], high[0], dtype=np.float32)[None, :]
    y = np.arange(low[1], high[1], dtype=np.float32)[:, None]
    dx = (x - np.float32(x0)) / np.float32(sheet.px_per_mm)
    dy = (y - np.float32(y0)) / np.float32(sheet.px_per_mm * knot.stretch)
    wave = 1 + 0.08 * np.sin(3 * np.arctan2(dy, dx) + knot.y_mm)
    away = np.hypot(dx, dy) * wave / knot.radius_mm
    fade = np.clip(1 - (np.hypot(dx, dy) / (7 * knot.radius_mm)) ** 2, 0, 1)
    flow = dx * (1 - fade / np.maximum(away, 1.0) ** 2) * np.float32(sheet.px_per_mm)
    at_x = np.clip(np.float32(x0) + flow, 0, light.shape[1] - 1).astype(np.float32)
    at_y = np.broadcast_to(y, at_x.shape).astype(np.float32)
    grain = cv2.remap(light, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    ring = 0.5 + 0.18 * np.sin(away * knot.radius_mm * 2.4)
    rim = np.exp(-(((away - 1.0) / 0.16) ** 2))
    inside = 1 / (1 + np.exp(np.clip((away - 1.05) * 14, -40, 40)))
    stain = 0.25 * np.exp(-np.maximum(away - 1, 0) * 1.6)
    dark = np.clip(np.maximum(inside * ring, rim) + stain, 0, 1) * knot.darkness
    tone = np.array(RIM, np.float32) ** dark.astype(np.float32)[..., None]
    light[low[1] : high[1], low[0] : high[0]] = grain * tone


def _draw_bark(plan: FlitchPlan, leaf: int, outline: LeafOutline) -> Doubles | None:
    """Return the width of the bark along the left edge, in patches, mm."""
    if plan.bark_mm <= 0:
        return None
    line = random_line(
        chance(plan.seed, "bark"),
        length_mm=plan.length_mm + 30,
        cell_mm=40.0,
        depth_mm=(plan.leaves + 1) * plan.thickness_mm,
        depth_cell_mm=8.0,
    )
    wide = 0.6 + 0.8 * line.at(outline.y_mm, leaf * plan.thickness_mm)
    return np.maximum(wide, 0) * plan.bark_mm
