"""Leaves photographed anew, registered onto the leaves of a record, band of wavelength by band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.leaf_stack import LeafStack, lay_on_grid
from vision.pair_evidence import compare_bands
from vision.slip import find_slip, move
from vision.stack_alignment import compare_all, settle_layings, standing_out
from vision.stack_order import StackLeaf

LAYING_NEAR = 5
"""So many leaves of the record, the likest, tell how a leaf lies."""
_FLIPS = ((1, 1), (-1, -1), (1, -1), (-1, 1))
"""Steps through rows and columns; parallel to `vision.stack_alignment.LAYINGS`."""

Doubles = NDArray[np.float64]
Floats = NDArray[np.float32]
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class RecordMatch:
    """How alike leaves are to those of a record, and those of the record to one another.

    Parameters
    ----------
    to_record : ndarray, shape (leaves, bands, record)
        Correlations, turned alike and freed of slip, as `vision.pair_evidence.compare_bands` gives
        them, with that at the best slip last; the best of the faces photographed.
    in_record : ndarray, shape (bands, record, record)
        Of the faces that lay up.
    laid : ndarray of int, shape (leaves, record)
        How each leaf lies against each of the record, an index into
        `vision.stack_alignment.LAYINGS`.
    leads : ndarray, shape (leaves,)
        By how many standard deviations of chance its laying leads the next.
    """

    to_record: Doubles
    in_record: Doubles
    laid: Numbers
    leads: Doubles


def match_to_record(leaves: Sequence[StackLeaf], record: Sequence[StackLeaf]) -> RecordMatch:
    """Return leaves registered onto a record of at least one leaf."""
    faces, owner, is_back = [], [], []
    for index, leaf in enumerate([*record, *leaves]):
        for face, back in ((leaf.front, False), (leaf.back, True)):
            if face is not None:
                faces.append(face)
                owner.append(index)
                is_back.append(back)
    whose = np.array(owner)
    stack = lay_on_grid(faces)
    ways = compare_all(stack).best
    outstanding = standing_out(_by_leaf(ways, whose))
    count = len(record)
    laid = settle_layings(outstanding, [None] * (count + len(leaves)))
    bands = _register(stack, ways, laid[whose]).astype(np.float64)
    fronts = np.flatnonzero((whose < count) & ~np.array(is_back))
    asked, held = np.flatnonzero(whose >= count), np.flatnonzero(whose < count)
    to_record = np.full((len(leaves), len(bands), count), -1.0)
    for one in asked:
        for other in held:
            best = to_record[whose[one] - count, :, whose[other]]
            np.maximum(best, bands[:, one, other], out=best)
    against = laid[count:, None] ^ laid[None, :count]
    return RecordMatch(
        to_record=to_record,
        in_record=bands[:, fronts[:, None], fronts[None, :]],
        laid=against,
        leads=_leads(outstanding[:, count:, :count].astype(np.float64), against),
    )


def _by_leaf(ways: Floats, owner: Numbers) -> Floats:
    """Return likeness of faces as means over the faces of each two leaves."""
    share = (owner[None, :] == np.arange(int(owner[-1]) + 1)[:, None]).astype(np.float32)
    share /= share.sum(axis=1, keepdims=True)
    return np.asarray(share @ ways @ share.T, np.float32)


def _register(stack: LeafStack, ways: Floats, laid: Numbers) -> Floats:
    """Return correlations by band of faces turned alike and freed of slip, best fit last."""
    turned = np.empty_like(stack.cells)
    for face, way in enumerate(laid):
        rows, columns = _FLIPS[way]
        turned[:, face] = stack.cells[:, face, ::rows, ::columns]
    index = np.arange(len(laid))
    alike = ways[laid[:, None] ^ laid[None, :], index[:, None], index[None, :]]
    alike = np.asarray((alike + alike.T) / 2, np.float32)
    slip = find_slip(turned[0], alike)
    cells = move(LeafStack(turned, stack.row_pitch, stack.column_pitch), slip)
    return np.asarray(np.concatenate([compare_bands(cells), alike[None]]), np.float32)


def _leads(outstanding: Doubles, against: Numbers) -> Doubles:
    """Return by how much each leaf's laying leads the next, asked of its likest in the record."""
    leads = np.zeros(len(against))
    record = np.arange(against.shape[1])
    for leaf, ways in enumerate(against):
        told = outstanding[ways, leaf, record]
        near = np.argsort(-told)[:LAYING_NEAR]
        others = [outstanding[ways[near] ^ turn, leaf, near].mean() for turn in (1, 2, 3)]
        leads[leaf] = float(told[near].mean()) - float(max(others))
    return leads
