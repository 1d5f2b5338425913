"""``python -m tests.accuracy.joints [COUNT]``: planted joints, and joints against straight cuts.

Leaves from two sources that know nothing of the finder: bent grain lines made here, and leaves of
drawn flitches. A planted right leaf is the mirrored left one, moved across, leaned and slipped.
"""

from __future__ import annotations

import math
import secrets
import sys
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images import FlitchPlan
from sample_images.flat import draw_flat
from vision.joint_cut import JointCut
from vision.joint_finder import find_joint, joint_picture

Doubles = NDArray[np.float64]

SPECIES = ("walnut", "oak", "maple")
PX_PER_MM = 0.8


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


def drawn_leaf(seed: int, species: str, leaf: int, laid: str = "as-lies") -> Doubles:
    """Return the lightness of a drawn leaf between its edges, its ends cut off."""
    plan = FlitchPlan(
        seed=seed,
        species=species,
        leaves=4,
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
    rows, columns = wood.shape
    steep = min(0.6, math.degrees(math.atan(6.0 / (rows / PX_PER_MM / 2))))
    truth = Planted(rng.uniform(-6, 6), steep * rng.uniform(-1, 1), rng.uniform(-8, 8))
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    lean = (y - rows / 2) * math.tan(math.radians(truth.angle_deg))
    right = cv2.remap(
        wood[:, ::-1].astype(np.float32),
        (x - truth.across_mm * PX_PER_MM - lean).astype(np.float32),
        (y - truth.slip_mm * PX_PER_MM).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REFLECT,
    ).astype(np.float64)
    noisy = right * rng.uniform(0.92, 1.08) + rng.normal(0, 1.2, right.shape)
    return wood + rng.normal(0, 1.2, wood.shape), noisy, truth


def is_recovered(joint: JointCut, truth: Planted) -> bool:
    """Tell whether the two cuts fit each other to 1 mm across and 0.2 degrees."""
    across = joint.right_mm - joint.left_mm - truth.across_mm
    angle = joint.right_deg - joint.left_deg - truth.angle_deg
    return abs(across) <= 1.0 and abs(angle) <= 0.2


def straight(joint: JointCut) -> JointCut:
    """Return straight cuts in the middle of what may be lost."""
    flat = {"left_mm": 6.35, "right_mm": 6.35, "left_deg": 0.0, "right_deg": 0.0, "slip_mm": 0.0}
    return replace(joint, **flat)


def step_across(left: Doubles, right: Doubles, joint: JointCut) -> float:
    """Return the mean step in lightness from 1 mm left to 1 mm right of a joint, L*.

    From the picture of the joint, apart from how the finder compares.
    """
    both = [
        np.repeat(np.clip(leaf * 2.55, 0, 255).astype(np.uint8)[..., None], 3, 2)
        for leaf in (left, right)
    ]
    shown = joint_picture(both[0], both[1], joint, px_per_mm=PX_PER_MM)[..., 0].astype(float)
    middle = shown.shape[1] // 2
    body = slice(20, shown.shape[0] - 20)
    beside = shown[body, middle - 2 : middle].mean(axis=1), shown[body, middle : middle + 2].mean(1)
    even = [np.convolve(one - one.mean(), np.ones(5) / 5, "valid") for one in beside]
    return float(np.abs(even[0] - even[1]).mean()) / 2.55


def one_planted(seed: int, source: int) -> bool:
    """Return whether one planted joint is recovered; even sources are made, odd ones drawn."""
    rng = np.random.default_rng(seed)
    if source % 2:
        wood = drawn_leaf(seed % 10_000, SPECIES[source // 2 % 3], 2)
    else:
        wood = bent_grain(rng, length_mm=float(rng.choice([600, 1200, 2000])))
    left, right, truth = plant(wood, rng)
    return is_recovered(find_joint(left, right, px_per_mm=PX_PER_MM, mirrored=True), truth)


def one_real(seed: int, source: int, *, mirrored: bool) -> tuple[bool, bool]:
    """Return whether the joint of two drawn neighbours beats straight cuts: by score, by step."""
    species = SPECIES[source % 3]
    left = drawn_leaf(seed % 10_000, species, 2)
    right = drawn_leaf(seed % 10_000, species, 3, "face-over" if mirrored else "as-lies")
    joint = find_joint(left, right, px_per_mm=PX_PER_MM, mirrored=mirrored)
    better = step_across(left, right, joint) < step_across(left, right, straight(joint))
    return joint.score > joint.straight_score, better


def main(count: int) -> None:
    """Print shares over fresh seeds."""
    found = [one_planted(secrets.randbelow(2**32), i) for i in range(count)]
    for name, part in (("bent grain", found[::2]), ("drawn leaves", found[1::2])):
        print(f"planted, {name}: {np.mean(part):.1%} of {len(part)} within 1 mm and 0.2 degrees")
    for mirrored in (True, False):
        both = [one_real(secrets.randbelow(2**32), i, mirrored=mirrored) for i in range(count // 2)]
        score, step = np.mean(both, axis=0)
        name = "booked" if mirrored else "slipped"
        print(
            f"drawn neighbours, {name}: {score:.1%} of {len(both)} beat straight cuts by score, "
            f"{step:.1%} by the step across"
        )


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
