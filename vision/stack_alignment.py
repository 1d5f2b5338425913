"""How the leaves of a stack lie to one another: layings, and slip along and across the grain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.leaf_stack import GRID, LeafStack
from vision.shot import Laid

LAYINGS = (Laid.AS_LIES, Laid.END_TURNED, Laid.FACE_OVER, Laid.END_OVER)
"""In this order two layings one after the other are the exclusive or of their numbers."""
MOST_SLIP = 0.08
"""Leaves may have slipped along the grain by this share of the grid's rows."""
MOST_ASIDE = 3
"""And across it by so many columns of half the grid's: trimmed edges."""
WAVES = 96
"""Waves along the grid in the first look: down to 20 mm on a leaf of 2 m."""
BANDS = (0, 1, 5, 17, 49, WAVES)
"""A band counts whatever the strength of its waves: the slow ones would drown the rest."""
SHARES = ((0.5, 1.0, 1.0, 1.0, 1.0), (0.5, 1.0, 1.0, 0.6, 0.3))
"""What the bands count in lightness and in hue, which the camera blurs."""
OPPOSED_SHARES = ((0.5, 0.7, 0.3, 0.1, 0.0), (0.5, 1.0, 1.0, 0.6, 0.3))
"""The same where the fibres of two leaves rise against each other: figure shines the other way."""
AGREEING = 4
"""So many of the likest leaves of the other kind speak for a turn of all."""
SLIP_COST, ASIDE_COST = 0.25, 0.01
"""What full slip, or one column, takes off a likeness: of two fits the straighter one is taken."""

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Likeness:
    """How alike any two faces are in each of the four layings.

    Parameters
    ----------
    best : ndarray of float32, shape (4, faces, faces)
        Correlation, mean over bands, at the best slip; layings as in `LAYINGS`.
    """

    best: Floats


def compare_all(stack: LeafStack) -> Likeness:
    """Return the likeness of all pairs of faces of a stack, laid in all four ways."""
    waves = np.concatenate([_waves(channel) for channel in stack.cells], axis=2)
    taus, cosines, sines = _slips()
    count = waves.shape[1]
    best = np.full((4, count, count), -1.0, np.float32)
    cost = (SLIP_COST * np.abs(taus) / (MOST_SLIP * GRID[0]) * 0.13).astype(np.float32)
    for laid in range(4):
        weights = _weights(OPPOSED_SHARES if laid in (1, 2) else SHARES, waves.shape)
        other = (waves if laid in (1, 3) else waves.conj()) * weights
        if laid in (1, 2):
            half = other.shape[2] // 2
            other = np.concatenate([other[:, :, half - 1 :: -1], other[:, :, : half - 1 : -1]], 2)
        for aside in range(-MOST_ASIDE, MOST_ASIDE + 1):
            moved = np.roll(other, aside, axis=2)
            cross = np.matmul(waves, moved.transpose(0, 2, 1))
            found = np.tensordot(cross.real, cosines, axes=(0, 0))
            found -= np.tensordot(cross.imag, sines, axes=(0, 0))
            found -= cost
            np.maximum(best[laid], found.max(axis=2) - ASIDE_COST * abs(aside), out=best[laid])
    return Likeness(best)


def standing_out(best: Floats) -> Floats:
    """Return likeness in standard deviations over that of leaves laid wrongly or far apart.

    Of two layings compared alike, the one that fewer leaves share shows what chance gives.
    """
    upper = np.triu_indices(best.shape[1], 1)
    found = best.copy()
    if len(upper[0]) < 3:
        return found
    for ways in ((0, 3), (1, 2)):
        quartiles = [np.percentile(best[way][upper], (16, 50)) for way in ways]
        low, middle = min(quartiles, key=lambda one: float(one[1]))
        for way in ways:
            found[way] = (best[way] - middle) / max(float(middle - low), 1e-2)
    return found


def _waves(cells: Floats) -> NDArray[np.complex64]:
    """Return waves along the grid, shape (waves, faces, columns), each band of unit size."""
    count, rows, columns = cells.shape
    narrow = np.zeros((count, rows, columns // 2 + 2 * MOST_ASIDE), np.float32)
    inner = np.s_[MOST_ASIDE : MOST_ASIDE + columns // 2]
    for index, face in enumerate(cells):
        narrow[index][:, inner] = cv2.resize(
            face, (columns // 2, rows), interpolation=cv2.INTER_AREA
        )
    waves = np.fft.rfft(narrow, axis=1)[:, :WAVES].astype(np.complex64)
    number = np.arange(WAVES)
    waves *= np.exp(1j * np.pi * number * (rows - 1) / rows)[None, :, None].astype(np.complex64)
    for low, high in pairwise(BANDS):
        size = np.sqrt((np.abs(waves[:, low:high]) ** 2).sum(axis=(1, 2))) + 1e-9
        waves[:, low:high] /= size[:, None, None]
    return np.ascontiguousarray(waves.transpose(1, 0, 2))


def _weights(shares: tuple[tuple[float, ...], ...], shape: tuple[int, ...]) -> Floats:
    """Return what each wave of each channel counts, shape (waves, 1, columns); sum of bands 1."""
    weights = np.zeros((shape[0], 1, shape[2]), np.float32)
    half = shape[2] // 2
    whole = sum(sum(of_channel) for of_channel in shares)
    for channel, of_channel in enumerate(shares):
        for share, low, high in zip(of_channel, BANDS[:-1], BANDS[1:], strict=True):
            weights[low:high, :, channel * half : (channel + 1) * half] = share / whole
    return weights


def _slips() -> tuple[NDArray[np.int64], Floats, Floats]:
    """Return slips in rows, and what turns waves by them."""
    most = int(MOST_SLIP * GRID[0])
    taus = np.arange(-most, most + 1, 2)
    angle = 2 * np.pi * np.outer(np.arange(WAVES), taus) / GRID[0]
    return taus, np.cos(angle).astype(np.float32), np.sin(angle).astype(np.float32)


def settle_layings(
    likeness: Floats, known: Sequence[int | None], *, rounds: int = 30
) -> NDArray[np.int64]:
    """Return how each leaf lies, as an index into `LAYINGS`, in a common frame.

    Starting from the strongest links (a spanning tree), each leaf in turn takes the laying that
    most of its likest leaves ask for, until none moves.

    Parameters
    ----------
    likeness : ndarray, shape (4, leaves, leaves)
    known : sequence of int or None
        Layings that are given.
    """
    count = likeness.shape[1]
    if count < 2:
        return np.array([one or 0 for one in known], np.int64)
    best = likeness.max(axis=0).copy()
    np.fill_diagonal(best, -np.inf)
    laid = _along_tree(likeness, best, known)
    near = np.argsort(-best, axis=1)[:, : min(8, count - 1)]
    for _ in range(rounds):
        moved = False
        for leaf in range(count):
            if known[leaf] is not None:
                continue
            votes = np.zeros(4)
            for other in near[leaf]:
                strength = max(float(best[leaf, other]), 0.0) ** 2
                for way in range(4):
                    votes[way] += strength * likeness[way ^ laid[other], leaf, other]
            wish = int(votes.argmax())
            moved |= wish != laid[leaf]
            laid[leaf] = wish
        if not moved:
            break
    return _opposed_together(likeness, laid, known)


def _opposed_together(
    likeness: Floats, laid: NDArray[np.int64], known: Sequence[int | None]
) -> NDArray[np.int64]:
    """Return layings with all leaves opposed to the most turned at once, if that is better.

    Among themselves they agree, and so leaf by leaf none would turn alone; against the others the
    figure shines the other way and each single likeness is weak, but together they tell.
    """
    opposed = np.isin(laid, (1, 2))
    few = opposed if opposed.sum() * 2 <= len(laid) else ~opposed
    inside, others = np.flatnonzero(few), np.flatnonzero(~few)
    if not len(inside) or any(known[int(leaf)] is not None for leaf in inside):
        return laid
    ways = laid[inside][:, None] ^ laid[others][None, :]
    scores = []
    for turn in (0, 3):
        table = likeness[ways ^ turn, inside[:, None], others[None, :]]
        scores.append(float(np.sort(table, axis=1)[:, -AGREEING:].mean()))
    if scores[1] > scores[0]:
        laid = laid.copy()
        laid[inside] ^= 3
    return laid


def _along_tree(likeness: Floats, best: Floats, known: Sequence[int | None]) -> NDArray[np.int64]:
    """Return layings handed on along the strongest links."""
    count = len(best)
    laid = np.full(count, -1, np.int64)
    given = [index for index, one in enumerate(known) if one is not None]
    for index in given:
        laid[index] = known[index] or 0
    if not given:
        laid[int(best.max(axis=1).argmax())] = 0
    while (laid < 0).any():
        inside, outside = np.flatnonzero(laid >= 0), np.flatnonzero(laid < 0)
        part = best[np.ix_(inside, outside)]
        row, column = np.unravel_index(int(part.argmax()), part.shape)
        first, second = inside[row], outside[column]
        laid[second] = laid[first] ^ int(likeness[:, first, second].argmax())
    return laid
