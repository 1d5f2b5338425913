"""Leaves whose joints are known: bent grain lines made here, and leaves of drawn flitches."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images import FlitchPlan
from sample_images.flat import draw_flat
from vision.joint_cut import JointCut

Doubles = NDArray[np.float64]

SPECIES = ("walnut", "oak", "maple")
PX_PER_MM = 0.8
NOISE = 1.2
"""Of a pixel, L*."""


@dataclass(frozen=True)
class Planted:
    """How a right leaf was moved against the mirrored left one."""

    across_mm: float
    angle_deg: float
    slip_mm: float


def bent_grain(rng: np.random.Generator, *, length_mm: float, width_mm: float = 160.0) -> Doubles:
    """Return the lightness of a leaf with bending grain lines, cathedral in every other one."""
    rows, columns = int(length_mm * PX_PER_MM), int(width_mm * PX_PER_MM)
    y, x = np.mgrid[0:rows, 0:columns] / PX_PER_MM
    waves = [(rng.uniform(1, 6), rng.uniform(300, 1500), rng.random()) for _ in range(3)]
    place = x + sum(high * np.sin(2 * np.pi * (y / wave + turn)) for high, wave, turn in waves)
    place += rng.uniform(-0.02, 0.02) * y
    if rng.random() < 0.5:
        place += rng.uniform(0, 25) * (y / length_mm - rng.random()) ** 2
    line = np.cumsum(rng.normal(size=2000))
    line -= cv2.blur(line[:, None], (1, 61))[:, 0]
    line = cv2.GaussianBlur(line[:, None], (0, 0), 2.0)[:, 0]
    tone = np.interp(place * 4 + 600, np.arange(2000), line / line.std())
    pores = cv2.GaussianBlur(rng.normal(size=tone.shape), (0, 0), sigmaX=0.7, sigmaY=12)
    return np.asarray(60 + 4 * tone + 2 * pores / pores.std())


def drawn_leaf(
    seed: int, species: str, leaf: int, laid: str = "as-lies", *, leaves: int = 4
) -> Doubles:
    """Return the lightness of a drawn leaf between its edges, its ends cut off."""
    plan = FlitchPlan(
        seed=seed,
        species=species,
        leaves=leaves,
        length_mm=1200.0,
        width_mm=180.0,
        waney=False,
        end_damage=0.0,
    )
    flat = draw_flat(plan, leaf, laid=laid, px_per_mm=PX_PER_MM)
    held = np.flatnonzero(flat.on_leaf.any(axis=1))
    body = slice(held[0] + held.size // 20, held[-1] - held.size // 20)
    columns = np.flatnonzero(flat.on_leaf[body].all(axis=0))
    light = flat.light[body, columns[0] : columns[-1] + 1].mean(axis=2)
    return np.asarray(116.0 * np.cbrt(np.clip(light, 1e-4, 1.0)) - 16.0, dtype=np.float64)


def plant(wood: Doubles, rng: np.random.Generator) -> tuple[Doubles, Doubles, Planted]:
    """Return a left leaf, its right neighbour with camera noise on both, and the truth."""
    steep = min(0.6, math.degrees(math.atan(6.0 / (wood.shape[0] / PX_PER_MM / 2))))
    truth = Planted(rng.uniform(-6, 6), steep * rng.uniform(-1, 1), rng.uniform(-8, 8))
    right = noisy(moved(wood[:, ::-1], truth), rng)
    return wood + rng.normal(0, NOISE, wood.shape), right, truth


def moved(wood: Doubles, by: Planted) -> Doubles:
    """Return a leaf with its wood moved to the right, leaned that way downwards, and down."""
    y, x = np.mgrid[0 : wood.shape[0], 0 : wood.shape[1]].astype(np.float32)
    lean = (y - wood.shape[0] / 2) * math.tan(math.radians(by.angle_deg))
    return cv2.remap(
        wood.astype(np.float32),
        (x - by.across_mm * PX_PER_MM - lean).astype(np.float32),
        (y - by.slip_mm * PX_PER_MM).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REFLECT,
    ).astype(np.float64)


def noisy(wood: Doubles, rng: np.random.Generator) -> Doubles:
    """Return a leaf photographed a little lighter or darker, with noise."""
    return np.asarray(wood * rng.uniform(0.92, 1.08) + rng.normal(0, NOISE, wood.shape))


def is_recovered(joint: JointCut, truth: Planted) -> bool:
    """Tell whether the two cuts fit each other to 1 mm across and 0.2 degrees."""
    across = joint.right_mm - joint.left_mm - truth.across_mm
    angle = joint.right_deg - joint.left_deg - truth.angle_deg
    return abs(across) <= 1.0 and abs(angle) <= 0.2
