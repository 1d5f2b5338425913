"""``python -m tests.accuracy.joints [COUNT]``: planted joints, joints against straight cuts, runs.

Leaves from two sources that know nothing of the finder: bent grain lines, and leaves of drawn
flitches. A planted right leaf is the mirrored left one, moved across, leaned and slipped. Of runs
of six leaves: what choosing all cuts together saves against choosing each by itself.
"""

from __future__ import annotations

import secrets
import sys
from dataclasses import replace

import cv2
import numpy as np

from tests.accuracy.joined_runs import run_lines
from tests.accuracy.joint_leaves import (
    PX_PER_MM,
    SPECIES,
    Doubles,
    bent_grain,
    drawn_leaf,
    is_recovered,
    plant,
)
from vision.joint_cut import JointCut
from vision.joint_finder import find_joint, joint_picture


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
    for line in run_lines(max(1, count // 4)):
        print(line)


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
