"""A whole bundle at once: which leaf breaks the pattern, and which was turned unnoticed.

Leaves of one flitch slope nearly alike, and change slowly from leaf to leaf. A leaf that lies the
other way round than its list says (over its long edge, or end for end) shows the slope of its
neighbours with the sign reversed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.alternation import SeenLeaf
from vision.room_alternation import fit_leaves
from vision.slope_fit import SlopeFit
from vision.slope_solver import SLOPE

NEIGHBOURS = 3
"""Leaves to either side against which one is held."""
LEAF_SD_DEG = 0.4
"""Change of the mean slope that leaves so near one another may show, sliced some 0.6 mm apart."""
BREAKS_FROM = 3.5
"""Standard deviations off its neighbours from which a leaf breaks the pattern."""
TURNED_FROM = 9.0
"""Chi squared by which the reversed slope must fit its neighbours better; 9 is one in 90."""


@dataclass(frozen=True, slots=True)
class LeafSlope:
    """The mean slope of one leaf against its neighbours'."""

    leaf: str
    slope_deg: float | None
    """Positive where fibres rise toward the upper end as it lies; None without a fit."""
    sd_deg: float | None
    neighbours_deg: float | None
    """Median of its neighbours'; None with fewer than two."""
    breaks_pattern: bool
    looks_turned: bool
    """Over its long edge, or end for end, against what the list says."""


def leaf_slopes(order: Sequence[str], seen: Sequence[SeenLeaf]) -> tuple[LeafSlope, ...]:
    """Return the mean slope of every leaf of a bundle, and which of them stand out.

    Parameters
    ----------
    order : sequence of str
        Leaf labels in the order they lie.
    seen : sequence of SeenLeaf
        Every photograph of those leaves that was read.
    """
    return slopes_of(order, fit_leaves(order, seen))


def slopes_of(order: Sequence[str], fits: Mapping[str, SlopeFit | None]) -> tuple[LeafSlope, ...]:
    """Return the same from fits that are at hand."""
    known = [_mean_slope(fits[label]) for label in order]
    return tuple(_against_neighbours(label, i, known) for i, label in enumerate(order))


def _mean_slope(fit: SlopeFit | None) -> tuple[float, float] | None:
    if fit is None:
        return None
    sd = float(np.sqrt(fit.spread[SLOPE, SLOPE].mean()))
    return -float(np.rad2deg(fit.slope.mean())), float(np.rad2deg(sd))


def _against_neighbours(
    label: str, index: int, known: Sequence[tuple[float, float] | None]
) -> LeafSlope:
    own = known[index]
    beside = [
        known[other]
        for other in range(max(0, index - NEIGHBOURS), min(len(known), index + NEIGHBOURS + 1))
        if other != index
    ]
    near: NDArray[np.float64] = np.array([one for one in beside if one is not None]).reshape(-1, 2)
    if own is None or len(near) < 2:
        slope, sd = own or (None, None)
        return LeafSlope(label, slope, sd, None, breaks_pattern=False, looks_turned=False)
    middle = float(np.median(near[:, 0]))
    spread = float(np.hypot(np.median(np.abs(near[:, 0] - middle)) * 1.4826, LEAF_SD_DEG))
    own_sd = min(own[1], LEAF_SD_DEG)  # what the fits share is off alike
    sd = float(np.hypot(own_sd, spread))
    off, turned = (own[0] - middle) / sd, (own[0] + middle) / sd
    return LeafSlope(
        label,
        own[0],
        own[1],
        middle,
        breaks_pattern=abs(off) > BREAKS_FROM,
        looks_turned=off**2 - turned**2 > TURNED_FROM and abs(turned) < BREAKS_FROM,
    )
