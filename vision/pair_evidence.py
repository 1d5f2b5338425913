"""How near two leaves lay in the log: the drawing at many sizes, weighed by what it tells.

Wood differs in what changes from slice to slice. In plain wood the lightness across the grain
drifts; in figured wood the ripple moves; in quartered oak the flake is gone after a few slices.
No one measure serves all. So lightness and hue are each compared in bands of wavelength along the
grain, from the mere profile across it to the finest figure, and how much each band counts is
learnt from the stack itself: by how well it tells neighbours from leaves two and more apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

BANDS = (0, 1, 3, 9, 25, 65, 140, 230, 321)
"""Limits in waves along the grid: the profile, then bands from a third of the length to 6 mm."""
APART = 5
"""Neighbours are told from leaves two to so many places apart."""
LEAST_PAIRS = 6
LEAST_SPREAD = 1e-3
"""Likenesses that differ less are all one: rounding is no evidence."""
PRIOR_PAIRS = 10.0
"""The starting weights count like so many pairs."""

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]


def compare_bands(cells: Floats) -> Floats:
    """Return correlations of all pairs, shape (channels x bands, faces, faces).

    Parameters
    ----------
    cells : ndarray, shape (channels, faces, rows, columns)
        Aligned drawings.
    """
    found = []
    for channel in cells:
        waves = np.fft.rfft(channel, axis=1).astype(np.complex64)
        for low, high in pairwise(BANDS):
            part = waves[:, low:high].reshape(len(waves), -1)
            size = np.sqrt((part.real**2 + part.imag**2).sum(axis=1)) + 1e-9
            part = part / size[:, None]
            flat = np.concatenate([part.real, part.imag], axis=1)
            found.append(flat @ flat.T)
    return np.stack(found)


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """How much each band counts, for leaves whose fibres rise alike and for opposed ones.

    Under one lamp the shine of figure lightens where it darkens once a leaf is turned end for end
    or face over; such pairs are weighed by themselves.
    """

    alike: Doubles
    opposed: Doubles


FIRST_LIGHTNESS = (0.5, 1.0, 1.0, 1.0, 1.0, 1.0, 0.6, 0.2)
FIRST_HUE = (0.5, 1.0, 1.0, 0.8, 0.6, 0.3, 0.1, 0.0)
FIRST_OPPOSED = (0.5, 0.7, 0.6, 0.3, 0.1, 0.0, 0.0, 0.0)
FIRST_AT_BEST = 4.0
"""Weights before any order is known: of the bands in lightness, in hue, in the lightness of opposed
pairs (shine leaves hue alone), and of the likeness at the best slip."""


def first_weights() -> Weights:
    """Return weights before any order is known: lightness bands, hue bands, best fit."""
    return Weights(
        np.array([*FIRST_LIGHTNESS, *FIRST_HUE, FIRST_AT_BEST]),
        np.array([*FIRST_OPPOSED, *FIRST_HUE, FIRST_AT_BEST]),
    )


def likeness(bands: Floats, opposed: NDArray[np.bool_], weights: Weights) -> Doubles:
    """Return weighted likeness of all pairs, shape (leaves, leaves), in standard deviations.

    Opposed pairs show less alike than they are. As layings tell nothing of places in the log, the
    distances in both kinds of pairs are spread the same, and so each kind is read by rank.
    """
    found = match_ranks(weighted(bands, opposed, weights), opposed)
    upper = found[np.triu_indices(len(found), 1)]
    return np.asarray((found - np.median(upper)) / max(float(upper.std()), LEAST_SPREAD))


def weighted(bands: Floats, opposed: NDArray[np.bool_], weights: Weights) -> Doubles:
    """Return the weighted mean of the bands for all pairs, each kind by its own weights."""
    both = [
        np.tensordot(weight / weight.sum(), bands, 1).astype(np.float64)
        for weight in (weights.alike, weights.opposed)
    ]
    found = np.where(opposed, both[1], both[0])
    return np.asarray((found + found.T) / 2)


def match_ranks(values: Doubles, opposed: NDArray[np.bool_]) -> Doubles:
    """Return values with those of opposed pairs replaced by those of like rank among the others."""
    upper = np.triu_indices(len(values), 1)
    kind, flat = opposed[upper], values[upper].copy()
    if min(int(kind.sum()), int((~kind).sum())) < LEAST_PAIRS:
        return values
    known = np.sort(flat[~kind])
    rank = np.argsort(np.argsort(flat[kind])) / (int(kind.sum()) - 1)
    flat[kind] = np.interp(rank, np.linspace(0, 1, len(known)), known)
    matched = values.copy()
    matched[upper] = flat
    matched.T[upper] = flat
    return matched


def weigh(
    bands: Floats, opposed: NDArray[np.bool_], order: NDArray[np.int64], before: Weights
) -> Weights:
    """Return weights that best tell neighbours from leaves farther apart (Fisher's discriminant).

    Parameters
    ----------
    bands : ndarray, shape (bands, leaves, leaves)
    opposed : ndarray of bool, shape (leaves, leaves)
    order : ndarray of int
        An order of the leaves, nearly right.
    before : Weights
        Towards which few pairs are drawn.
    """
    found = []
    for kind, start in ((False, before.alike), (True, before.opposed)):
        near: list[Doubles] = []
        far: list[Doubles] = []
        for apart in range(1, APART + 1):
            one, other = order[:-apart], order[apart:]
            of_kind = opposed[one, other] == kind
            values = bands[:, one[of_kind], other[of_kind]].T.astype(np.float64)
            (near if apart == 1 else far).append(values)
        found.append(_discriminant(near[0], np.concatenate(far), start))
    return Weights(found[0], found[1])


def _discriminant(near: Doubles, far: Doubles, before: Doubles) -> Doubles:
    """Return what best tells two sets of pairs, shape (pairs, bands), apart."""
    if min(len(near), len(far)) < LEAST_PAIRS:
        return np.asarray(before / before.sum())
    step = near.mean(axis=0) - far.mean(axis=0)
    scatter = (np.cov(near.T) * len(near) + np.cov(far.T) * len(far)) / (len(near) + len(far))
    spread = np.sqrt(np.diag(scatter)) + 1e-3
    share = len(near) / (len(near) + PRIOR_PAIRS)
    correlation = share * scatter / np.outer(spread, spread) + (1 - share) * np.eye(len(spread))
    found = np.maximum(np.linalg.solve(correlation, step / spread) / spread, 0)
    if found.sum() <= 0:
        return np.asarray(before / before.sum())
    return np.asarray(share * found / found.sum() + (1 - share) * before / before.sum())
