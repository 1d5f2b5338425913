"""Where in a record a leaf belongs: by how its likeness falls off from leaf to leaf.

A leaf is likest to itself, less so to its neighbours, and so on; how fast, the record tells of its
own wood, band by band. In each band the likeness of a loose leaf along the record is held against
that fall-off, centred on every place in turn: on each leaf (it is that leaf), between two leaves,
before the first and after the last. A band that another lamp, a blurred photograph or a trimmed
edge has spoilt follows no such curve and so says little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

REACH_LEAVES = 4.0
"""Leaves so far from a place count half of what the nearest do."""
EVIDENCE = 2.5
"""Each band counts like so many leaves that speak independently: set on drawn leaves of seeds
kept for that, so that chances come true."""
RISE_TO_ITSELF = 1.0
"""A leaf is liker to itself than to a neighbour by so many times what a neighbour is liker than
the next."""
CUT_BANDS = slice(3, 7)
CUT_SLOPE, HALF_WAY = 16.0, 0.5
"""Bands and log odds as those of one leaf photographed twice in a stack."""
CLEAREST = 2
"""So many of these bands are asked: blur and slip spoil the finer ones."""
MOST_SLOPE = 1.3
"""The likeness of a loose leaf falls off no faster than so many times that in the record."""
SCATTER_REACH = 6
"""Leaves up to so far apart tell how likeness strays from its fall-off."""
LEAST_SCATTER = 1e-3
LEAST_RECORD = 3
"""From fewer leaves no fall-off is learnt."""
USUAL_NEIGHBOUR = (0.97, 0.97, 0.84, 0.55, 0.31, 0.20, 0.07, 0.02) + (
    *(0.93, 0.82, 0.57, 0.26, 0.14, 0.11, 0.06, 0.01),
    0.55,
)
"""Likeness of neighbours by band on drawn leaves, for records too short to tell."""
BESIDE = 1
"""Places this near to the likeliest are asked how alike the leaf is to the record."""
MOST_RATIO = 1.2
LEAST_NEIGHBOUR = 0.05

Doubles = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class RecordPlaces:
    """The chances of all places of one leaf, taken that it is of the record's wood.

    Parameters
    ----------
    places : ndarray, shape (2 x record + 1,)
        -0.5 before the first leaf, 0 the first leaf itself, 0.5 between the first and the second.
    chances : ndarray, shape (2 x record + 1,)
        Sum 1.
    likeness : float
        Mean correlation over the bands with the leaves at the likeliest place.
    share : float
        The same against what neighbours in the record reach: 1 and above is as alike as they are.
    """

    places: Doubles
    chances: Doubles
    likeness: float
    share: float

    @property
    def likeliest(self) -> float:
        """The likeliest place."""
        return float(self.places[self.chances.argmax()])

    def chance_near(self, place: float, within: float = 1.0) -> float:
        """Return the chance that the true place is at most so far away."""
        return float(self.chances[np.abs(self.places - place) <= within + 1e-9].sum())


def find_places(to_record: Doubles, in_record: Doubles) -> RecordPlaces:
    """Return the chances of the places of one leaf in a record.

    Parameters
    ----------
    to_record : ndarray, shape (bands, record)
    in_record : ndarray, shape (bands, record, record)
        As `vision.record_match.RecordMatch` has them.
    """
    count = to_record.shape[1]
    places = np.arange(-0.5, count, 0.5)
    apart = _apart(places, count)
    odds = np.zeros(len(places))
    if count >= LEAST_RECORD:
        falls = _fall_offs(in_record)
        scatter = _scatter(in_record, falls)
        ways = [_odds(to_record, fall, scatter, apart) for fall in (falls, _of_one_cut(falls))]
        odds = np.logaddexp(*ways)
        odds[1::2] += _far_above_neighbours(to_record, in_record)
    elif count == 2:
        odds = to_record.mean(axis=0)[np.clip(np.round(places), 0, 1).astype(int)] / 0.1
    chances = np.exp(odds - odds.max())
    chances /= chances.sum()
    middle = float(places[chances.argmax()])
    near = np.abs(np.arange(count) - middle) <= BESIDE + 1e-9
    best = to_record[:, near].max(axis=1)
    usual = np.maximum(_neighbours(in_record), 0)
    ratio = np.clip(best / np.maximum(usual, LEAST_NEIGHBOUR), None, MOST_RATIO)
    share = float((ratio * usual).sum() / max(float(usual.sum()), 1e-9))
    return RecordPlaces(places, chances, float(best.mean()), share)


def _apart(places: Doubles, count: int) -> NDArray[np.int64]:
    """Return how many leaves off each leaf lies from each place, shape (places, record).

    A leaf that belongs between two of the record has both as neighbours, one leaf off.
    """
    return np.ceil(np.abs(places[:, None] - np.arange(count)[None, :])).astype(np.int64)


def _fall_offs(in_record: Doubles) -> Doubles:
    """Return the likeness of leaves 0, 1, 2, ... apart, shape (bands, record + 2)."""
    count = in_record.shape[1]
    found = np.array(
        [[np.median(np.diag(band, apart)) for apart in range(1, count)] for band in in_record]
    )
    found = np.minimum.accumulate(found, axis=1)
    itself = np.minimum(found[:, :1] + RISE_TO_ITSELF * (found[:, :1] - found[:, 1:2]), 1.0)
    return np.concatenate([itself, found, found[:, -1:], found[:, -1:]], axis=1)


def _neighbours(in_record: Doubles) -> Doubles:
    if in_record.shape[1] < LEAST_RECORD:
        return np.array(USUAL_NEIGHBOUR)
    return np.array([np.median(np.diag(band, 1)) for band in in_record])


def _of_one_cut(falls: Doubles) -> Doubles:
    """Return fall-offs with much in the drawing, as pores are, that belongs to one cut alone."""
    found = falls.copy()
    found[:, 0] = np.maximum(falls[:, 0], (1 + falls[:, 1]) / 2)
    return found


def _far_above_neighbours(to_record: Doubles, in_record: Doubles) -> Doubles:
    """Return what speaks for being each very leaf, log odds, shape (record,); nothing is against.

    A photograph of the same cut comes more than half the way from the likeness of neighbours to
    full likeness; one taken otherwise may not.
    """
    usual = np.array([np.median(np.diag(band, 1)) for band in in_record[CUT_BANDS]])
    rise = (to_record[CUT_BANDS] - usual[:, None]) / (1 - usual[:, None] + 1e-2)
    clearest = np.sort(rise, axis=0)[-CLEAREST:].mean(axis=0)
    return np.asarray(np.maximum(CUT_SLOPE * (clearest - HALF_WAY), 0))


def _odds(
    to_record: Doubles, falls: Doubles, scatter: Doubles, apart: NDArray[np.int64]
) -> Doubles:
    """Return the log odds of the places by all bands, shape (places,)."""
    left = [
        _left_over(fall[apart], likeness, apart, usual)
        for likeness, fall, usual in zip(to_record, falls, scatter, strict=True)
    ]
    return np.asarray(-0.5 * EVIDENCE * np.log(left).sum(axis=0))


def _scatter(in_record: Doubles, falls: Doubles) -> Doubles:
    """Return how far likeness in the record strays from its fall-off, shape (bands,)."""
    one, other = np.triu_indices(in_record.shape[1], 1)
    near = other - one <= SCATTER_REACH
    one, other = one[near], other[near]
    stray = in_record[:, one, other] - falls[:, other - one]
    return np.asarray(1.4826 * np.median(np.abs(stray), axis=1) + LEAST_SCATTER)


def _left_over(
    curves: Doubles, likeness: Doubles, apart: NDArray[np.int64], scatter: float
) -> Doubles:
    """Return the share of a band's change along the record that each curve leaves unexplained.

    Parameters
    ----------
    curves : ndarray, shape (places, record)
        The fall-off centred on each place; it may be lower and flatter than in the record.
    likeness : ndarray, shape (record,)
    apart : ndarray of int, shape (places, record)
    scatter : float
        Change of this size is no evidence.
    """
    weight = 1 / (1 + (apart / REACH_LEAVES) ** 2)
    weight /= weight.sum(axis=1, keepdims=True)
    curves = curves - (weight * curves).sum(axis=1, keepdims=True)
    values = likeness - (weight * likeness).sum(axis=1, keepdims=True)
    both = (weight * curves * values).sum(axis=1)
    size = (weight * curves**2).sum(axis=1)
    whole = (weight * values**2).sum(axis=1)
    slope = np.clip(both / (size + 1e-9), 0, MOST_SLOPE)
    left = whole - 2 * slope * both + slope**2 * size
    return np.asarray((left + scatter**2) / (whole + scatter**2))
