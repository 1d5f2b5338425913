"""Runs whose cuts are chosen together, against the same joints each chosen by itself.

`planted_run`: one wood in all leaves, booked, each leaf moved by itself across, leaned and slipped.
`drawn_run`: neighbours of a drawn flitch, their edges straight and their ends in line.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.accuracy.joint_leaves import (
    PX_PER_MM,
    SPECIES,
    Doubles,
    Planted,
    bent_grain,
    drawn_leaf,
    is_recovered,
    moved,
    noisy,
)
from vision.joined_run import JoinedLeaf, joined_run
from vision.joint_choices import joint_choices
from vision.joint_cut import JointCut
from vision.layout import LeafExtent
from vision.match_names import Match
from vision.run_cuts import choose_cuts
from vision.shot import Laid

LEAVES = 6


@dataclass(frozen=True)
class Tried:
    """What one way of choosing the cuts of a run gives."""

    score: float
    """Mean of the joints."""
    length_lost_mm: float
    """Of the face as laid, against the shortest leaf."""
    width_lost_mm: float
    set_out: float
    """Share of joints that are turned or slipped."""
    recovered: float = np.nan
    """Share of planted joints found to 1 mm and 0.2 degrees."""
    slip_off_mm: float = np.nan
    """Mean distance of the slips from those planted."""


def planted_run(rng: np.random.Generator, wood: Doubles) -> tuple[list[Doubles], list[Planted]]:
    """Return booked leaves of one wood, each moved by itself, and what that comes to at a joint."""
    own = [
        Planted(rng.uniform(-3, 3), rng.uniform(-0.12, 0.12), rng.uniform(-4, 4))
        for _ in range(LEAVES)
    ]
    leaves = [
        noisy(moved(wood[:, ::-1] if at % 2 else wood, one), rng) for at, one in enumerate(own)
    ]
    truth = [
        Planted(
            left.across_mm + right.across_mm,
            left.angle_deg + right.angle_deg,
            right.slip_mm - left.slip_mm,
        )
        for left, right in pairwise(own)
    ]
    return leaves, truth


def drawn_run(seed: int, species: str, *, mirrored: bool) -> list[Doubles]:
    """Return neighbouring leaves of a drawn flitch as they lie in a book or a slip match."""
    return [
        drawn_leaf(
            seed,
            species,
            at + 1,
            "face-over" if mirrored and at % 2 else "as-lies",
            leaves=LEAVES,
        )
        for at in range(LEAVES)
    ]


def both_ways(
    leaves: Sequence[Doubles], truth: Sequence[Planted] = (), *, mirrored: bool
) -> tuple[Tried, Tried]:
    """Return a run with each joint chosen by itself, and with all chosen together."""
    run = [
        JoinedLeaf(
            LeafExtent(f"{at:02}", leaf.shape[1] / PX_PER_MM, leaf.shape[0] / PX_PER_MM),
            Laid.FACE_OVER if mirrored and at % 2 else Laid.AS_LIES,
        )
        for at, leaf in enumerate(leaves)
    ]
    choices = [
        joint_choices(left, right, px_per_mm=PX_PER_MM, mirrored=mirrored)
        for left, right in pairwise(leaves)
    ]
    match = Match.BOOK if mirrored else Match.SLIP
    alone = [joint[0] for joint in choices]
    return _tried(run, alone, truth, match), _tried(run, choose_cuts(run, choices), truth, match)


def _tried(
    run: Sequence[JoinedLeaf], cuts: Sequence[JointCut], truth: Sequence[Planted], match: Match
) -> Tried:
    face = joined_run(run, cuts, match=match)
    planted = list(zip(cuts, truth, strict=True)) if truth else []
    return Tried(
        float(np.mean([cut.score for cut in cuts])),
        min(leaf.extent.length_mm for leaf in run) - face.length_mm,
        sum(leaf.extent.width_mm for leaf in run) - face.width_mm,
        float(np.mean([not cut.is_straight for cut in cuts])),
        float(np.mean([is_recovered(cut, one) for cut, one in planted])) if truth else np.nan,
        float(np.mean([abs(cut.slip_mm - one.slip_mm) for cut, one in planted]))
        if truth
        else np.nan,
    )


def run_lines(count: int) -> list[str]:
    """Return both ways side by side in words, over fresh runs."""
    seeds = [secrets.randbelow(2**32) for _ in range(count)]
    kinds: dict[str, list[tuple[Tried, Tried]]] = {}
    for at, seed in enumerate(seeds):
        rng = np.random.default_rng(seed)
        species = SPECIES[at % len(SPECIES)]
        grain = bent_grain(rng, length_mm=float(rng.choice([800, 1600])))
        for name, wood in (("bent grain", grain), ("drawn leaf", drawn_leaf(seed, species, 2))):
            leaves, truth = planted_run(rng, wood)
            tried = both_ways(leaves, truth, mirrored=True)
            kinds.setdefault(f"planted, {name}", []).append(tried)
        for name, mirrored in (("booked", True), ("slipped", False)):
            tried = both_ways(drawn_run(seed, species, mirrored=mirrored), mirrored=mirrored)
            kinds.setdefault(f"drawn neighbours, {name}", []).append(tried)
    lines = []
    for name, runs in kinds.items():
        lines.append(f"{name}: {len(runs)} runs of {LEAVES} leaves")
        for way, one in (("each by itself", 0), ("chosen together", 1)):
            tried = [pair[one] for pair in runs]
            line = (
                f"  {way:15}: score {np.mean([t.score for t in tried]):.3f}, "
                f"{np.mean([t.length_lost_mm for t in tried]):.1f} mm of length and "
                f"{np.mean([t.width_lost_mm for t in tried]):.1f} of width lost, "
                f"{np.mean([t.set_out for t in tried]):.0%} of joints turned or slipped"
            )
            if not np.isnan(tried[0].recovered):
                line += (
                    f", {np.mean([t.recovered for t in tried]):.1%} as planted, "
                    f"slips off by {np.mean([t.slip_off_mm for t in tried]):.1f} mm"
                )
            lines.append(line)
    return lines
