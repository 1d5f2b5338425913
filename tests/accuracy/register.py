"""Print how well leaves are laid on each other: ``python -m tests.accuracy.register``.

Neighbours of drawn flitches, spoilt as careless photographs spoil them, and leaves of two flitches.
The truth is where both lay in the log: figure that wanders from leaf to leaf, as the arches of
plain-sawn wood do, counts as a mistake.
"""

from __future__ import annotations

import argparse
import secrets
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sample_images import FlitchPlan, draw_flat
from tests.accuracy.sequence import PX_PER_MM, QUALITIES, WOODS, spoil
from vision.laying import lay_pixels
from vision.leaf_image import LeafImage
from vision.leaf_register import Register, register
from vision.shot import Laid

ALONG_MM, ACROSS_MM = 3.0, 2.0
SURE = (0.35, 0.6, 0.8, 0.9, 0.95, 0.98, 1.0001)


@dataclass(frozen=True, slots=True)
class Judged:
    """One pair: what was told, and by how much it is off."""

    figure: str
    pair: str
    told: Register | None
    along_mm: float | None
    across_mm: float | None


def judge(seed: int) -> Iterator[Judged]:
    """Yield the pairs of one flitch: two neighbours, two lying two apart, a foreign leaf."""
    figure, species, cut = WOODS[seed % len(WOODS)]
    rng = np.random.default_rng(seed)
    size = float(rng.uniform(1200, 2600)), float(rng.uniform(140, 300))
    quality = sorted(QUALITIES)[seed // len(WOODS) % 2]
    turned = seed % 4 == 3
    plans = [
        FlitchPlan(
            seed=one, species=species, figure=figure, cut=cut, leaves=9,
            length_mm=size[0], width_mm=size[1],
        )
        for one in (seed, seed + 7_000_001)
    ]  # fmt: skip
    drawn = [(plans[0], 3), (plans[0], 4), (plans[0], 6), (plans[1], 4)]
    leaves = []
    for at, (plan, number) in enumerate(drawn):
        laid = Laid.END_TURNED if turned and at else Laid.AS_LIES
        flat = draw_flat(plan, number, laid=laid.value, lamp="A", px_per_mm=PX_PER_MM)
        seen = spoil(LeafImage(flat.light, flat.on_leaf, PX_PER_MM), QUALITIES[quality], rng)
        light, wood = (
            np.ascontiguousarray(lay_pixels(one, laid)) for one in (seen.light, seen.on_leaf)
        )
        leaves.append(LeafImage(light, wood, PX_PER_MM))
    first = leaves[0]
    for name, other in zip(("neighbours", "three apart", "foreign"), leaves[1:], strict=True):
        told = register(first, other)
        along, across = _middle(other) - _middle(first)
        yield Judged(
            figure,
            name,
            told,
            None if told is None or told.along_mm is None else told.along_mm - along,
            None if told is None or told.across_mm is None else told.across_mm - across,
        )


def _middle(leaf: LeafImage) -> np.ndarray:
    """Return the middle of a leaf's outline on the sheet of its flitch, mm down and right."""
    held = [np.flatnonzero(leaf.on_leaf.any(axis=axis)) for axis in (1, 0)]
    return np.array([one[0] + one[-1] for one in held]) / 2 / PX_PER_MM


def report(judged: Sequence[Judged]) -> Iterator[str]:
    """Yield the lines of the report."""
    for pair in ("neighbours", "three apart"):
        for figure in sorted({one.figure for one in judged}):
            some = [one for one in judged if (one.pair, one.figure) == (pair, figure)]
            along = [abs(one.along_mm) for one in some if one.along_mm is not None]
            across = [abs(one.across_mm) for one in some if one.across_mm is not None]
            yield (
                f"{pair}, {figure}: {len(some)} pairs; along told {len(along)}, "
                f"{_right(along, ALONG_MM)}; across told {len(across)}, {_right(across, ACROSS_MM)}"
            )
    foreign = [one for one in judged if one.pair == "foreign"]
    laid = sum(one.told is not None for one in foreign)
    yield f"foreign leaves laid on each other all the same: {laid} of {len(foreign)}"
    yield "chance told -> share right"
    kin = [one for one in judged if one.pair != "foreign" and one.told is not None]
    for low, high in pairwise(SURE):
        along = [
            abs(one.along_mm) <= ALONG_MM
            for one in kin
            if one.along_mm is not None and low <= one.told.along_sure < high
        ]
        across = [
            abs(one.across_mm) <= ACROSS_MM
            for one in kin
            if one.across_mm is not None and low <= one.told.across_sure < high
        ]
        yield f"  {low:.2f} to {high:.2f}: along {_share(along)}, across {_share(across)}"


def _right(off: Sequence[float], limit: float) -> str:
    if not off:
        return "none"
    right = sum(one <= limit for one in off)
    return f"{right} within {limit:g} mm, median {float(np.median(off)):.1f} mm"


def _share(right: Sequence[bool]) -> str:
    return f"{sum(right)} of {len(right)}"


def main() -> None:
    """Draw, lay, report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flitches", type=int, default=60)
    parser.add_argument("--seed", type=int, default=None, help="First seed; else a fresh one.")
    told = parser.parse_args()
    first = secrets.randbelow(1_000_000) if told.seed is None else told.seed
    start = time.monotonic()
    judged = [pair for seed in range(first, first + told.flitches) for pair in judge(seed)]
    print(f"{told.flitches} flitches from seed {first}, {time.monotonic() - start:.0f} s")
    for line in report(judged):
        print(line)


if __name__ == "__main__":
    main()
