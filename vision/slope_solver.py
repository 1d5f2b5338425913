"""The least squares behind `vision.slope_fit`: many leaves at once, every unknown under a prior.

Unknowns of a leaf: slope slice by slice; log strength and log width of the highlight; log width of
the other face's highlight over it; lean of the fibres in the face; log light of the wood slice by
slice; log light of the other face over it; the log of the slope's swing within each slice; and of
each photograph its log gain, a slope of its light along the board, how far its lamp stood off, and
the log of the share of the wood's lines that does not cancel against another. What is seen is the
log light of each slice, and how its log ratio varies (`vision.slope_swing`). The derivatives are
written out, but for the lamp's place, over which the light is taken as straight. Levenberg's
damping is kept leaf by leaf.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.leaf_lighting import Lighting, log_respond, respond
from vision.readings import SLICES
from vision.slope_swing import Varied, model_varied

Doubles = NDArray[np.float64]

SLOPE = slice(0, SLICES)
STRENGTH, WIDTH, FACE_WIDTH, LEAN = range(SLICES, SLICES + 4)
WOOD = slice(SLICES + 4, 2 * SLICES + 4)
FACE_LIGHT = 2 * SLICES + 4
SWING = slice(2 * SLICES + 5, 3 * SLICES + 5)
OF_LEAF = SWING.stop
OF_PHOTO = 4
"""Unknowns of a leaf; `OF_PHOTO` for each photograph follow: all gains, all slopes of the light,
all lamps, all shares of the lines that do not cancel."""
LAMP_STEP = 0.05
"""Leaf lengths to either side, between which the light by the lamp's place is taken as straight."""
MOST_ROUNDS = 30
SMALL_STEP = 2e-3
"""Of an unknown's prior standard deviation, below which a leaf is done."""
SMALL_GAIN = 1e-3
"""Of what is minimised, below which it is done as well; a half is one standard deviation."""
MOST_DAMPING = 1e4


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
    varied: Varied | None
    """None: only the light of whole slices is fitted, and the swing stays as its prior has it."""
    figured: Doubles
    """How far, 0 to 1, what varies within the slices of each leaf is figure and tells of more than
    the swing; shape (leaves,). In straight wood it is lines, which would draw the slope astray."""

    def part(self, at: NDArray[np.intp]) -> Problem:
        """Return the problem of some of the leaves."""

        def lit(whole: Lighting) -> Lighting:
            return Lighting(whole.lamp[at], whole.eye[at], whole.share[at])

        return Problem(
            lit(self.lit),
            (lit(self.lamp_off[0]), lit(self.lamp_off[1])),
            self.observed[at],
            self.other_face[at],
            self.weight[at],
            self.prior[at],
            self.precision[at],
            None if self.varied is None else self.varied.part(at),
            self.figured[at],
        )


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Unknowns, their inverse covariance, and what was minimised (half of it), leaf by leaf."""

    unknowns: Doubles
    information: Doubles
    cost: Doubles


def solve(problem: Problem, first: Doubles) -> Solved:
    """Return the best unknowns of every leaf, setting out from ``first``, shape (leaves, all)."""
    now = first.copy()
    cost, descent, curve = _look(problem, now)
    damping = np.full(len(now), 1e-3)
    sizes = 1 / np.sqrt(np.maximum(_diagonal(problem.precision), 1e-12))
    going = np.arange(len(now))
    part = problem
    free = np.arange(now.shape[1])
    if problem.varied is None:
        free = np.delete(free, SWING)
    for _ in range(MOST_ROUNDS):
        bent = curve[going][:, free[:, None], free]
        damped = bent + damping[going, None, None] * _diagonal(bent)[:, :, None] * np.eye(len(free))
        step = np.zeros((len(going), now.shape[1]))
        step[:, free] = np.linalg.solve(damped, descent[going][:, free, None])[..., 0]
        step = _held_back(step)
        tried = now[going] + step
        new_cost, new_descent, new_curve = _look(part, tried)
        better = new_cost <= cost[going]
        small = np.abs(step / sizes[going]).max(axis=1) < SMALL_STEP
        small |= cost[going] - new_cost < SMALL_GAIN
        at = going[better]
        now[at], cost[at] = tried[better], new_cost[better]
        descent[at], curve[at] = new_descent[better], new_curve[better]
        damping[going] *= np.where(better, 1 / 8, 10)
        open_yet = ~(better & small) & (damping[going] < MOST_DAMPING)
        if not open_yet.all():
            going = going[open_yet]
            part = problem.part(going)
        if not len(going):
            break
    return Solved(now, curve, cost)


def _held_back(step: Doubles) -> Doubles:
    """Return steps whose highlight and slope move no farther than the model stays near straight."""
    longest = np.maximum.reduce(
        [
            np.abs(step[:, [STRENGTH, WIDTH, FACE_WIDTH]]).max(axis=1) / 0.7,
            np.abs(step[:, SWING]).max(axis=1),
            np.abs(step[:, SLOPE]).max(axis=1) / np.deg2rad(4.0),
        ]
    )
    return np.asarray(step / np.maximum(longest, 1.0)[:, None])


def _look(problem: Problem, unknowns: Doubles) -> tuple[Doubles, Doubles, Doubles]:
    """Return cost, downhill gradient and (Gauss-Newton) curvature."""
    parts = [
        (problem.observed, problem.weight[..., None], *_model(problem, unknowns)),
    ]
    if (varied := problem.varied) is not None:
        parts.append((varied.seen, varied.weight, *_model_varied(problem, varied, unknowns)))
    count = len(unknowns)
    miss = np.concatenate(
        [((seen - model) * weight).reshape(count, -1) for seen, weight, model, _ in parts], axis=1
    )
    turned = np.concatenate(
        [
            (by * np.asarray(weight)[..., None]).reshape(count, -1, unknowns.shape[1])
            for _, weight, _, by in parts
        ],
        axis=1,
    )
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
        "width": _widths(problem, unknowns),
        "lean": unknowns[:, None, LEAN],
        "swing": np.exp(unknowns[:, None, SWING]),
    }
    seen = respond(problem.lit, **fibres)
    up, down = (log_respond(lit, **fibres) for lit in problem.lamp_off)
    by_lamp = (down - up) / (2 * LAMP_STEP)
    gains = unknowns[:, OF_LEAF : OF_LEAF + count]
    tilted = unknowns[:, OF_LEAF + count : OF_LEAF + 2 * count]
    off = unknowns[:, OF_LEAF + 2 * count : OF_LEAF + 3 * count]
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
    by[..., each, SWING.start + each] = seen.by_swing
    by[..., each, WOOD.start + each] = 1.0
    by[..., FACE_LIGHT] = other[..., None]
    by[:, photo, :, OF_LEAF + photo] = 1.0
    by[:, photo, :, OF_LEAF + count + photo] = place
    by[:, photo, :, OF_LEAF + 2 * count + photo] = by_lamp.transpose(1, 0, 2)
    return light, by


def _model_varied(problem: Problem, varied: Varied, unknowns: Doubles) -> tuple[Doubles, Doubles]:
    """Return what `Varied.seen` should be, and its derivatives, one axis more."""
    seen = model_varied(
        varied,
        problem.lit,
        slope=unknowns[:, SLOPE],
        strength=np.exp(unknowns[:, STRENGTH]),
        width=_widths(problem, unknowns),
        other_face=problem.other_face,
        lean=unknowns[:, LEAN],
        swing=np.exp(unknowns[:, SWING]),
        left=np.exp(unknowns[:, OF_LEAF + (OF_PHOTO - 1) * problem.observed.shape[1] :]),
    )
    by = np.zeros((*seen.seen.shape, unknowns.shape[1]))
    each = np.arange(SLICES)
    by[..., each, each] = seen.by_slope
    by[..., STRENGTH] = seen.by_strength
    by[..., WIDTH] = seen.by_width
    by[..., FACE_WIDTH] = seen.by_face_width
    by[..., LEAN] = seen.by_lean
    by *= problem.figured[:, None, None, None]
    by[..., each, SWING.start + each] = seen.by_swing
    for pair, photos in enumerate(varied.pairs):
        for photo, of_photo in zip(photos, seen.by_left, strict=True):
            at = OF_LEAF + (OF_PHOTO - 1) * problem.observed.shape[1] + photo
            by[:, pair, :, at] = of_photo[:, pair]
    return seen.seen, by


def _widths(problem: Problem, unknowns: Doubles) -> Doubles:
    """Return the highlight's width as each photograph shows it, shape (leaves, photos)."""
    face = problem.other_face * unknowns[:, None, FACE_WIDTH]
    return np.asarray(np.exp(unknowns[:, None, WIDTH] + face))


def _diagonal(matrices: Doubles) -> Doubles:
    return np.diagonal(matrices, axis1=1, axis2=2)
