"""The least squares behind `vision.slope_fit`: many leaves at once, every unknown under a prior.

Unknowns of a leaf: slope slice by slice; log strength and log width of the highlight; log width of
the other face's highlight over it; lean of the fibres in the face; log light of the wood slice by
slice; log light of the other face over it; and of each photograph its log gain, a slope of its
light along the board, and how far its lamp stood off. Only the first four kinds are not linear; the
derivatives are written out (`vision.leaf_lighting.respond`), but for the lamp's place, over which
the light is taken as straight. Levenberg's damping is kept leaf by leaf.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.leaf_lighting import Lighting, log_respond, respond
from vision.readings import SLICES

Doubles = NDArray[np.float64]

SLOPE = slice(0, SLICES)
STRENGTH, WIDTH, FACE_WIDTH, LEAN = range(SLICES, SLICES + 4)
WOOD = slice(SLICES + 4, 2 * SLICES + 4)
FACE_LIGHT = 2 * SLICES + 4
OF_LEAF = FACE_LIGHT + 1
"""Unknowns of a leaf; three for each photograph follow: all gains, all slopes, all lamps."""
LAMP_STEP = 0.05
"""Leaf lengths to either side, between which the light by the lamp's place is taken as straight."""
MOST_ROUNDS = 30
SMALL_STEP = 2e-3
"""Of an unknown's prior standard deviation, below which a leaf is done."""


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """What was seen of each leaf; the first axis of every array counts leaves, the second photos.

    ``weight`` is one over the standard deviation of a slice's log light, 0 for a photograph that
    a leaf lacks. ``prior`` and ``precision`` are the mean of the unknowns and the inverse of their
    covariance before anything was seen.
    """

    lit: Lighting
    lamp_off: tuple[Lighting, Lighting]
    """The same with each lamp `LAMP_STEP` up, and down, the board."""
    observed: Doubles
    other_face: Doubles
    """1 where a photograph shows the other face, else 0; shape (leaves, photos)."""
    weight: Doubles
    prior: Doubles
    precision: Doubles


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Unknowns, their inverse covariance, and what was minimised (half of it), leaf by leaf."""

    unknowns: Doubles
    information: Doubles
    cost: Doubles


def solve(problem: Problem, first: Doubles) -> Solved:
    """Return the best unknowns of every leaf, setting out from ``first``, shape (leaves, all)."""
    now = first
    cost, descent, curve = _look(problem, now)
    damping = np.full(len(now), 1e-3)
    sizes = 1 / np.sqrt(np.maximum(_diagonal(problem.precision), 1e-12))
    going = np.ones(len(now), dtype=bool)
    for _ in range(MOST_ROUNDS):
        damped = curve + damping[:, None, None] * _diagonal(curve)[:, :, None] * np.eye(
            now.shape[1]
        )
        step = np.linalg.solve(damped, descent[..., None])[..., 0]
        step *= going[:, None]
        tried = np.asarray(now + _held_back(np.asarray(step)))
        new_cost, new_descent, new_curve = _look(problem, tried)
        better = new_cost <= cost
        now = np.where(better[:, None], tried, now)
        descent = np.where(better[:, None], new_descent, descent)
        curve = np.where(better[:, None, None], new_curve, curve)
        cost = np.where(better, new_cost, cost)
        damping = np.where(better, damping / 8, damping * 10)
        going &= ~(better & (np.abs(step / sizes).max(axis=1) < SMALL_STEP)) & (damping < 1e8)
        if not going.any():
            break
    return Solved(now, curve, cost)


def _held_back(step: Doubles) -> Doubles:
    """Return steps whose highlight and slope move no farther than the model stays near straight."""
    longest = np.maximum(
        np.abs(step[:, [STRENGTH, WIDTH, FACE_WIDTH]]).max(axis=1) / 0.7,
        np.abs(step[:, SLOPE]).max(axis=1) / np.deg2rad(4.0),
    )
    return np.asarray(step / np.maximum(longest, 1.0)[:, None])


def _look(problem: Problem, unknowns: Doubles) -> tuple[Doubles, Doubles, Doubles]:
    """Return cost, downhill gradient and (Gauss-Newton) curvature."""
    model, jacobian = _model(problem, unknowns)
    weight = np.broadcast_to(problem.weight[..., None], model.shape).reshape(len(unknowns), -1)
    miss = (problem.observed - model).reshape(len(unknowns), -1) * weight
    turned = jacobian.reshape(len(unknowns), -1, unknowns.shape[1]) * weight[..., None]
    off = unknowns - problem.prior
    pull = np.einsum("bij,bj->bi", problem.precision, off)
    cost = ((miss**2).sum(axis=1) + (off * pull).sum(axis=1)) / 2
    flipped = turned.transpose(0, 2, 1)
    descent = np.matmul(flipped, miss[..., None])[..., 0] - pull
    return cost, descent, np.matmul(flipped, turned) + problem.precision


def _model(problem: Problem, unknowns: Doubles) -> tuple[Doubles, Doubles]:
    """Return log light, shape (leaves, photos, SLICES), and its derivatives, one axis more."""
    count = problem.observed.shape[1]
    other = problem.other_face
    fibres: dict[str, Doubles] = {
        "slope": unknowns[:, None, SLOPE],
        "strength": np.exp(unknowns[:, None, STRENGTH]),
        "width": np.exp(unknowns[:, None, WIDTH] + other * unknowns[:, None, FACE_WIDTH]),
        "lean": unknowns[:, None, LEAN],
    }
    seen = respond(problem.lit, **fibres)
    up, down = (log_respond(lit, **fibres) for lit in problem.lamp_off)
    by_lamp = (down - up) / (2 * LAMP_STEP)
    gains = unknowns[:, OF_LEAF : OF_LEAF + count]
    tilted = unknowns[:, OF_LEAF + count : OF_LEAF + 2 * count]
    off = unknowns[:, OF_LEAF + 2 * count :]
    place = (np.arange(SLICES) + 0.5) / SLICES - 0.5
    light = seen.log_light + unknowns[:, None, WOOD] + gains[..., None]
    light += (other * unknowns[:, None, FACE_LIGHT])[..., None] + tilted[..., None] * place
    light += off[..., None] * by_lamp
    by = np.zeros((*light.shape, unknowns.shape[1]))
    each, photo = np.arange(SLICES), np.arange(count)
    by[..., each, each] = seen.by_slope
    by[..., STRENGTH] = seen.by_strength
    by[..., WIDTH] = seen.by_width
    by[..., FACE_WIDTH] = other[..., None] * seen.by_width
    by[..., LEAN] = seen.by_lean
    by[..., each, WOOD.start + each] = 1.0
    by[..., FACE_LIGHT] = other[..., None]
    by[:, photo, :, OF_LEAF + photo] = 1.0
    by[:, photo, :, OF_LEAF + count + photo] = place
    by[:, photo, :, OF_LEAF + 2 * count + photo] = by_lamp.transpose(1, 0, 2)
    return light, by


def _diagonal(matrices: Doubles) -> Doubles:
    return np.diagonal(matrices, axis1=1, axis2=2)
