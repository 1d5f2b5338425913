"""Rays: sheets of cells that run from pith to bark, laid open as flake on quartered faces."""

from __future__ import annotations

import cv2
import numpy as np

from sample_images.log import Doubles, Floats, Log
from sample_images.noise import SplineField, chance
from sample_images.pores import Sheet

TABLE_MM = (0.12, 1.0)
"""Step of the ray table around the tree and along it."""
AROUND_MM = 60.0
"""The table covers so much circumference, then repeats; far more than one flitch shows."""


def lay_open(log: Log, sheet: Sheet, depth_mm: float) -> Floats | None:
    """Return the share of each pixel that is a ray laid open, or None where none shows.

    A ray is a thin upright spindle seen from the bark, extended along the radius. A cut nearly
    along the radius meets it at a flat angle: a thin ray becomes a broad flake, its shape drawn
    by the slow swings of the grain.
    """
    rays = log.species.rays
    if rays.strength == 0 or log.plan.cut != "quarter":
        return None
    place = _around(log, sheet, depth_mm)
    rows = (sheet.y_mm - sheet.y_mm[-1])[:, None] / TABLE_MM[1] + 4
    table = _ray_table(log, sheet.length_mm)
    columns = np.mod(place, AROUND_MM - 2) / TABLE_MM[0] + 8
    height = np.broadcast_to(rows, place.shape).astype(np.float32)
    value = cv2.remap(
        table, columns.astype(np.float32), height, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )
    breaks = _field(log, 3.0 + 2.5 * rays.height_mm, 1.5 + 1.2 * rays.height_mm)
    value = value - 0.7 * np.maximum(breaks.at(sheet.x_mm, sheet.y_mm, depth_mm), 0)
    blur = max(0.0, 0.5 / sheet.px_per_mm - 0.15 * rays.height_mm)
    rarity = rays.rarity - (0.3 if log.plan.figure == "flake" else 0.0)
    flake = np.clip((value - rarity) / (0.35 + blur), 0, 1)
    patch = log.shade.at(sheet.x_mm, sheet.y_mm, depth_mm + 3.0)
    return np.asarray(rays.strength * flake * np.clip(0.85 + 0.3 * patch, 0.2, 1), np.float32)


def _around(log: Log, sheet: Sheet, depth_mm: float) -> Floats:
    """Return how far round the tree each point lies, mm, with the swings of the grain."""
    x, y = sheet.x_mm, sheet.y_mm
    section = log.cutting.section(x[None, :] + np.zeros((len(y), 1)), depth_mm)
    px, pz = log.pith_at(y)
    angle = np.arctan2(section[1] - pz[:, None], section[0] - px[:, None])
    middle = float(np.hypot(*log.cutting.centre))
    swings = _swings(log, x, y, depth_mm)
    return np.asarray(angle * middle + swings + 500.0, np.float32)


def _swings(log: Log, x_mm: Doubles, y_mm: Doubles, depth_mm: float) -> Floats:
    total = np.zeros((len(y_mm), len(x_mm)), np.float32)
    for size_mm, across, along in ((1.1, 85, 30), (0.65, 42, 10), (0.12, 12, 5)):
        field = _field(log, across, along)
        total += np.float32(size_mm * log.species.rays.swing) * field.at(x_mm, y_mm, depth_mm)
    return total


def _field(log: Log, across: float, along: float) -> SplineField:
    rng = chance(log.plan.seed, "ray swing", across, along)
    return log.extent.field(rng, x_mm=across, y_mm=along, depth_mm=8)


def _ray_table(log: Log, length_mm: float) -> Floats:
    """Return noise around the tree (columns) and along it (rows), unit variance."""
    rng = chance(log.plan.seed, "rays")
    rays = log.species.rays
    shape = (int(length_mm / TABLE_MM[1]) + 10, int(AROUND_MM / TABLE_MM[0]) + 16)
    table = rng.standard_normal(shape, dtype=np.float32)
    sigma = (
        max(0.35, rays.thick_mm / TABLE_MM[0] / 2),
        max(0.35, rays.height_mm / TABLE_MM[1] / 2),
    )
    smooth = cv2.GaussianBlur(table, (0, 0), sigmaX=sigma[0], sigmaY=sigma[1])
    return np.asarray(smooth / smooth.std(), np.float32)
