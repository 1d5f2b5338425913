"""From raw wood to finished: what a finish does to light and dark, read from one offcut.

An offcut of the same wood is photographed raw under both lamps, finished, and photographed again
in the same way. Its two fits, one against the other, say by how much the finish strengthens and
narrows the fibres' highlight, by how much the slope seems steeper (light bends at the film), and
how it darkens and colours the wood. The same is then said of every leaf of that wood.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vision.alternation import SeenLeaf, views_by_leaf
from vision.errors import FinishUnknown
from vision.slope_fit import SlopeFit, fit_slopes
from vision.slope_solver import FACE_LIGHT, OF_LEAF, SLOPE, STRENGTH, WIDTH, WOOD

LEAST_SLOPE = np.deg2rad(1.0)
"""Below this slope an offcut does not tell by how much a finish makes it seem steeper."""
USUAL_SLOPE_SD = 0.2
"""Of the log of that factor, where the offcut does not tell (bare to a film of 1.5 is 0.4)."""


@dataclass(frozen=True, slots=True)
class Finish:
    """What one finish does to one wood: factors, and standard deviations of their logs."""

    name: str
    strength_times: float
    width_times: float
    slope_times: float
    light_times: tuple[float, float, float]
    """On linear R, G, B of the wood."""
    strength_sd: float
    width_sd: float
    slope_sd: float
    light_sd: float


def read_finish(name: str, raw: Sequence[SeenLeaf], finished: Sequence[SeenLeaf]) -> Finish:
    """Return what a finish did to an offcut.

    Parameters
    ----------
    name : str
        Of the finish, for the words.
    raw, finished : sequence of SeenLeaf
        Photographs of the same offcut, lying the same way, under both lamps.

    Raises
    ------
    FinishUnknown
        If either was not photographed under both lamps.
    """
    before, after = (
        _fit_of_offcut(seen, which) for seen, which in ((raw, "raw"), (finished, name))
    )
    steep = max(abs(before.slope.mean()), abs(after.slope.mean())) > LEAST_SLOPE
    times = float(after.slope.mean() / before.slope.mean()) if steep else 1.0
    told = steep and times > 0
    light = np.exp(np.log(after.wood / before.wood).mean(axis=0))
    return Finish(
        name=name,
        strength_times=after.strength / before.strength,
        width_times=after.width / before.width,
        slope_times=times if told else 1.0,
        light_times=(float(light[0]), float(light[1]), float(light[2])),
        strength_sd=_sd_of(before, after, STRENGTH),
        width_sd=_sd_of(before, after, WIDTH),
        slope_sd=_slope_sd(before, after) if told else USUAL_SLOPE_SD,
        light_sd=_sd_of(before, after, WOOD.start + (WOOD.stop - WOOD.start) // 2),
    )


def finished(fit: SlopeFit, finish: Finish) -> SlopeFit:
    """Return a raw leaf's fit as if the leaf had that finish, its spread the wider for it."""
    spread = fit.spread.copy()
    spread[SLOPE, :] *= finish.slope_times
    spread[:, SLOPE] *= finish.slope_times
    added = np.zeros((OF_LEAF, OF_LEAF))
    slope = fit.slope * finish.slope_times
    added[SLOPE, SLOPE] = np.outer(slope, slope) * finish.slope_sd**2
    added[STRENGTH, STRENGTH] = finish.strength_sd**2
    added[WIDTH, WIDTH] = finish.width_sd**2
    added[FACE_LIGHT, FACE_LIGHT] = 0.0
    wood = fit.wood * np.array(finish.light_times)
    return replace(
        fit,
        slope=slope,
        swing=fit.swing * finish.slope_times,
        strength=fit.strength * finish.strength_times,
        width=fit.width * finish.width_times,
        log_wood=fit.log_wood + float(np.log(wood.sum() / fit.wood.sum())),
        wood=wood,
        spread=spread + added,
    )


def _fit_of_offcut(seen: Sequence[SeenLeaf], which: str) -> SlopeFit:
    fits = [fit_slopes(tuple(views)) for views in views_by_leaf(seen).values()]
    known = [fit for fit in fits if fit is not None]
    if len(known) != 1:
        raise FinishUnknown(
            f"{len(known)} offcuts ({which}) were photographed under both lamps; exactly one is "
            "needed. Photograph the same piece, lying the same way, under lamp A and lamp B."
        )
    return known[0]


def _sd_of(before: SlopeFit, after: SlopeFit, index: int) -> float:
    return float(np.sqrt(before.spread[index, index] + after.spread[index, index]))


def _slope_sd(before: SlopeFit, after: SlopeFit) -> float:
    return float(
        np.sqrt(
            sum(fit.spread[SLOPE, SLOPE].mean() / fit.slope.mean() ** 2 for fit in (before, after))
        )
    )
