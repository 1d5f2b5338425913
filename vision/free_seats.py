"""Seats of the matches that set consecutive leaves apart: random, plank, and by colour."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from vision.colour_space import delta_e00
from vision.errors import MatchNotPossible
from vision.face_wish import FaceWish
from vision.layout import LeafExtent
from vision.piece import Box
from vision.run_seats import Seating, net_width, one_face, trimmed_length, whole_row
from vision.seat import upright
from vision.shot import Laid

DRAWS = 400
"""Orders drawn before the best of them is taken."""
NARROWEST_PLANK = 0.45
"""Share of a leaf's width below which no plank goes: unequal, but no laths (our choice)."""
EXACT_TO = 11
"""Up to so many leaves the best order by colour is found for certain."""


def random_order(count: int, seed: int) -> tuple[int, ...]:
    """Return an order in which, as far as can be, no two neighbours were neighbours before.

    Examples
    --------
    >>> order = random_order(12, seed=3)
    >>> sorted(order) == list(range(12)), any(abs(a - b) == 1 for a, b in pairwise(order))
    (True, False)
    """
    chance = random.Random(seed)
    best, fewest = tuple(range(count)), count
    for _ in range(DRAWS):
        drawn = tuple(chance.sample(range(count), count))
        together = sum(abs(one - other) == 1 for one, other in pairwise(drawn))
        if together < fewest:
            best, fewest = drawn, together
        if not together:
            break
    return best


def random_run(run: Sequence[LeafExtent], wish: FaceWish) -> Seating:
    """Return whole leaves in a drawn order, each either end up, all the same face."""
    chance = random.Random(wish.seed + 1)
    order = random_order(len(run), wish.seed)
    return whole_row(run, [(at, chance.choice((Laid.AS_LIES, Laid.END_TURNED))) for at in order])


def plank_run(run: Sequence[LeafExtent], wish: FaceWish) -> Seating:
    """Return strips of unequal width from leaves in a drawn order, at one length."""
    net_width(run, wish)
    chance = random.Random(wish.seed + 1)
    order = random_order(len(run), wish.seed)
    nets = [run[at].width_mm - 2 * wish.allowances.shoot_mm for at in order]
    widths = [net * chance.uniform(NARROWEST_PLANK, 1.0) for net in nets]
    if wish.width_mm is not None:
        widths = _filled(widths, nets, wish.width_mm)
    long = wish.length_mm or trimmed_length(run, wish)
    seats, x = [], 0.0
    for at, wide in zip(order, widths, strict=False):
        seats.append((at, upright(Box(x, 0.0, x + wide, long), Laid.AS_LIES)))
        x += wide
    return one_face(seats, x, long)


def _filled(widths: list[float], nets: Sequence[float], wanted: float) -> list[float]:
    """Return widths that fill a face exactly: as few of them as suffice, all scaled alike."""
    if sum(nets) < wanted - 0.01:
        raise MatchNotPossible(
            f"{len(nets)} leaves are {sum(nets):.0f} mm wide together, {wanted:.0f} mm are needed. "
            "Choose more leaves, or a narrower face."
        )
    for count in range(1, len(widths) + 1):
        if sum(widths[:count]) >= wanted:
            share = wanted / sum(widths[:count])
            return [wide * share for wide in widths[:count]]
    lacking = (wanted - sum(widths)) / max(sum(nets) - sum(widths), 1e-9)
    return [wide + (net - wide) * lacking for wide, net in zip(widths, nets, strict=True)]


def pleasing_run(run: Sequence[LeafExtent]) -> Seating:
    """Return whole leaves as they lie, in the order of the smallest colour steps.

    Raises
    ------
    MatchNotPossible
        If the colour of a leaf is not known.
    """
    colours = [leaf.lab for leaf in run if leaf.lab is not None]
    if len(colours) < len(run):
        unknown = next(leaf.label for leaf in run if leaf.lab is None)
        raise MatchNotPossible(
            f"A pleasing match goes by colour, and that of leaf {unknown} is not known. Take it in "
            "again, or choose another match."
        )
    lab = np.array(colours, dtype=np.float64)
    steps = np.array([[float(delta_e00(one, other)) for other in lab] for one in lab])
    return whole_row(run, [(at, Laid.AS_LIES) for at in order_by_steps(steps)])


def order_by_steps(steps: NDArray[np.float64]) -> tuple[int, ...]:
    """Return the order in which the steps between neighbours add up to the least.

    Certain up to `EXACT_TO` items (Held and Karp's tables); beyond, by the nearest neighbour from
    every start and by turning stretches round as long as that helps.

    Examples
    --------
    >>> lightness = np.array([3.0, 1.0, 2.0])
    >>> order_by_steps(abs(lightness[:, None] - lightness))
    (0, 2, 1)
    """
    count = len(steps)
    if count < 3:
        return tuple(range(count))
    order = _exact(steps) if count <= EXACT_TO else _bettered(steps)
    return tuple(order if order[0] < order[-1] else reversed(order))


def _exact(steps: NDArray[np.float64]) -> list[int]:
    count = len(steps)
    least = np.full((1 << count, count), np.inf)
    came = np.zeros((1 << count, count), int)
    for first in range(count):
        least[1 << first, first] = 0.0
    for held in range(1, 1 << count):
        for last in range(count):
            if not held >> last & 1 or held == 1 << last:
                continue
            sums = least[held ^ (1 << last)] + steps[:, last]
            came[held, last] = int(sums.argmin())
            least[held, last] = sums[came[held, last]]
    held = (1 << count) - 1
    order = [int(least[held].argmin())]
    while len(order) < count:
        before = int(came[held, order[-1]])
        held ^= 1 << order[-1]
        order.append(before)
    return order


def _bettered(steps: NDArray[np.float64]) -> list[int]:
    best: list[int] = []
    for start in range(len(steps)):
        order, left = [start], set(range(len(steps))) - {start}
        while left:
            order.append(min(left, key=lambda at: (steps[order[-1], at], at)))
            left.remove(order[-1])
        order = _turned_round(order, steps)
        if not best or _total(order, steps) < _total(best, steps):
            best = order
    return best


def _turned_round(order: list[int], steps: NDArray[np.float64]) -> list[int]:
    helped = True
    while helped:
        helped = False
        for first in range(len(order) - 1):
            for last in range(first + 1, len(order)):
                other = order[:first] + order[first : last + 1][::-1] + order[last + 1 :]
                if _total(other, steps) < _total(order, steps) - 1e-12:
                    order, helped = other, True
    return order


def _total(order: Sequence[int], steps: NDArray[np.float64]) -> float:
    return float(steps[order[:-1], order[1:]].sum())
