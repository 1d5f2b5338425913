"""How far the log ratio of two photographs varies within each slice of a leaf, and why.

Fiddleback, ribbon and their like light up and go out with the lamp, while lines, pores and stains
stay: the log ratio of two photographs varies within a slice as far as its slope swings about its
mean. It matters to means as well: a slice whose fibres point many ways sends a wider and lower
highlight than one whose fibres are straight, and unless the swing is known the difference passes
for a change of slope or of wood. So both are fitted together (`vision.slope_solver`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from vision.laying import reverses_columns, reverses_rows, shows_other_face
from vision.leaf_light import LeafLight
from vision.leaf_lighting import Lighting, respond
from vision.light_pattern import PATTERNS, as_it_lies, variance_of
from vision.readings import SLICES

Doubles = NDArray[np.float64]

NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
"""Slopes, in standard deviations, at which a swing is followed, and how much each counts."""
MISFIT = 0.5
"""Of the log of the variance within a slice: its pattern tells it to a quarter, and the swing of
figure is no Gaussian."""
NOISE = 1e-4
"""Variance of the log ratio by noise."""


@dataclass(frozen=True, slots=True, eq=False)
class Varied:
    """How the log ratio of every two photographs varies, of leaves with equally many of them."""

    pairs: tuple[tuple[int, int], ...]
    seen: Doubles
    """Log of the variance, shape (leaves, pairs, SLICES)."""
    lines: Doubles
    """Variance of log light in the photograph of the two that shows less of it, same shape."""
    weight: Doubles
    """One over the standard deviation of ``seen``, 0 where two photographs cannot be compared."""

    def part(self, at: NDArray[np.intp]) -> Varied:
        """Return the same of some of the leaves."""
        return Varied(self.pairs, self.seen[at], self.lines[at], self.weight[at])


@dataclass(frozen=True, slots=True, eq=False)
class VariedModel:
    """What `Varied.seen` should be, with derivatives, each of shape (leaves, pairs, SLICES)."""

    seen: Doubles
    by_slope: Doubles
    by_strength: Doubles
    by_width: Doubles
    by_face_width: Doubles
    by_lean: Doubles
    by_swing: Doubles
    """By the log of the swing."""
    by_left: tuple[Doubles, Doubles]
    """By the log of the share of the lines that does not cancel, of either photograph."""


def what_varies(leaves: Sequence[Sequence[LeafLight]]) -> Varied:
    """Return how the photographs of each leaf differ within its slices.

    Photographs of two faces are not compared, nor readings without patterns.
    """
    pairs = tuple(combinations(range(len(leaves[0])), 2))
    told = np.array([[_patterns(view) for view in views] for views in leaves])
    of_photo = variance_of(told)
    one, other = np.array(pairs).T
    lines = np.minimum(of_photo[:, one], of_photo[:, other])
    seen = np.log(variance_of(told[:, one] - told[:, other]) + NOISE)
    faces = np.array([[shows_other_face(view.shot.laid) for view in views] for views in leaves])
    known = (of_photo > 0)[:, one] & (of_photo > 0)[:, other]
    known &= (faces[:, one] == faces[:, other])[..., None]
    # Three photographs make three pairs, the third of which says nothing new.
    each = np.sqrt((len(leaves[0]) - 1) / len(pairs)) / MISFIT
    return Varied(pairs, seen, lines, known * each)


def model_varied(
    varied: Varied,
    lit: Lighting,
    *,
    slope: Doubles,
    strength: Doubles,
    width: Doubles,
    other_face: Doubles,
    lean: Doubles,
    swing: Doubles,
    left: Doubles,
) -> VariedModel:
    """Return how the log ratios should vary.

    Parameters
    ----------
    varied : Varied
    lit : Lighting
        Of all photographs of all leaves.
    slope, swing : ndarray, shape (leaves, SLICES)
        Mean, and standard deviation within each slice, radians.
    strength, lean : ndarray, shape (leaves,)
    width, other_face, left : ndarray, shape (leaves, photos)
        ``other_face`` is 1 where a photograph shows the face that was photographed less; ``left``
        is the share of the lines that does not cancel against another photograph.
    """
    nodes, weights = NODES[:, None, None], (WEIGHTS / WEIGHTS.sum())[:, None, None]
    light = respond(
        Lighting(lit.lamp[:, None], lit.eye[:, None], lit.share[:, None]),
        slope[:, None, None] + swing[:, None, None] * nodes,
        strength=strength[:, None, None],
        width=width[:, None],
        lean=lean[:, None, None],
        swing=np.zeros(1),
    )
    one, other = np.array(varied.pairs).T

    def ratio(part: Doubles) -> Doubles:
        return np.asarray(part[:, :, one] - part[:, :, other])

    log_ratio = ratio(light.log_light)
    off = weights * (log_ratio - (weights * log_ratio).sum(axis=1, keepdims=True))
    figure = (off * log_ratio).sum(axis=1)
    lines = tuple(np.square(left[:, at, None]) * varied.lines for at in (one, other))
    whole = figure + lines[0] + lines[1] + NOISE

    def by(part: Doubles) -> Doubles:
        return np.asarray(2 * (off * ratio(part)).sum(axis=1) / whole)

    return VariedModel(
        np.log(whole),
        by(light.by_slope),
        by(light.by_strength),
        by(light.by_width),
        by(light.by_width * other_face[:, None, :, None]),
        by(light.by_lean),
        by(light.by_slope * nodes) * swing[:, None],
        (2 * lines[0] / whole, 2 * lines[1] / whole),
    )


def _patterns(view: LeafLight) -> Doubles:
    """Return the patterns of a photograph in the rows of the leaf as it lies, zeros where none."""
    laid = view.shot.laid
    told = np.zeros((SLICES, PATTERNS))
    for row, one in zip(told, view.profile.pattern, strict=False):
        if one:
            row[:] = as_it_lies(
                one, rows_turned=reverses_rows(laid), columns_turned=reverses_columns(laid)
            )
    return told[::-1] if reverses_rows(laid) else told
