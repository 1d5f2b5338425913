"""How light a leaf is along its length: the numbers on which alternation rests."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision import colour_space
from vision.colour_space import lightness_of_y
from vision.errors import LeafNotFound
from vision.leaf_image import LeafImage
from vision.light_pattern import pattern_of
from vision.readings import SLICES, LampAndEye, LightProfile, LightReference

EDGE_TRIM = 0.01
"""Share of the width left out at each long edge: waney edge, the joint's own line. No more, for in
a ribbon the outermost stripe belongs to the mean as well."""
END_TRIM = 0.025
"""Share of the length left out at each end: ends lift off the board, and then meet the lamp at
another angle. Five centimetres of a two-metre leaf that rise 2 mm change its light by a twentieth.
"""
BAND_MM = 40.0
"""Width of the bands beside the long edges in which stripes are followed."""
BAND_PITCH_MM = 2.0
"""Pitch along the leaf of the bands' values: figure from 4 mm up is kept."""
ROWS_AT_ONCE = 512
"""An edge wanders little over so few rows."""
LUMINANCE = np.array(colour_space.LUMINANCE, dtype=np.float32)
"""Y of linear sRGB, its white brought to D50."""


@dataclass(frozen=True, slots=True)
class HeldAgainst:
    """How the light of one leaf was held against its board; the terms of `LightProfile`."""

    foot: float
    station: LampAndEye
    reference: LightReference
    level_sd: float
    scale_sd: float


def measure_light(leaf: LeafImage, held: HeldAgainst) -> LightProfile:
    """Return the mean linear light of a leaf in `SLICES` equal slices, and along its edges.

    Parameters
    ----------
    leaf : LeafImage
        Only the pixels in ``leaf.on_leaf`` count, less `EDGE_TRIM` of the width at each edge and,
        but for the bands, `END_TRIM` of the length at each end.
    held : HeldAgainst
        Passed on.

    Raises
    ------
    LeafNotFound
        If a slice of the leaf holds no wood.
    """
    first, last = _extent(np.asarray(leaf.on_leaf.any(axis=1)))
    wood = leaf.on_leaf[first:last]
    light = leaf.light[first:last]
    left, right = _row_edges(wood)
    trim = EDGE_TRIM * (right - left)
    inner = wood & _between(np.ceil(left + trim), np.floor(right - trim), wood.shape[1])
    edges = np.linspace(0, len(wood), SLICES + 1)
    edges[[0, -1]] += np.array([END_TRIM, -END_TRIM]) * len(wood)
    parts = [slice(*pair) for pair in itertools.pairwise(edges.round().astype(int).tolist())]
    count = np.array([np.count_nonzero(inner[rows]) for rows in parts])
    if (count == 0).any():
        raise LeafNotFound(
            "Part of the leaf's length shows no wood. One whole leaf is needed in the picture: "
            "lay it flat on a plain board whose tone differs from it."
        )
    total = np.stack([sum_of_light(light[rows], inner[rows]) for rows in parts])
    means = total / count[:, None]
    columns = np.flatnonzero(inner.any(axis=0))
    seen = slice(int(columns[0]), int(columns[-1]) + 1)
    bands = _edge_bands(light, inner, px_per_mm=leaf.px_per_mm)
    return LightProfile(
        slices=tuple((float(r), float(g), float(b)) for r, g, b in means),
        foot=held.foot,
        edge_left=bands[0],
        edge_right=bands[1],
        edge_pitch_mm=BAND_PITCH_MM if bands[0] else None,
        reference=held.reference,
        level_sd=held.level_sd,
        scale_sd=held.scale_sd,
        station=held.station,
        pattern=tuple(
            pattern_of(light[rows, seen], inner[rows, seen], LUMINANCE) for rows in parts
        ),
    )


def _extent(present: NDArray[np.bool_]) -> tuple[int, int]:
    where = np.flatnonzero(present)
    if not len(where):
        raise LeafNotFound("No wood is left inside the outline. Photograph the leaf larger.")
    return int(where[0]), int(where[-1]) + 1


def _row_edges(wood: NDArray[np.bool_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    left = wood.argmax(axis=1).astype(np.float64)
    mirrored = np.asarray(cv2.flip(wood.view(np.uint8), 1)).view(np.bool_)
    right = (wood.shape[1] - 1 - mirrored.argmax(axis=1)).astype(np.float64)
    return left, right


def _between(
    first: NDArray[np.float64], last: NDArray[np.float64], columns: int
) -> NDArray[np.bool_]:
    """Return which pixels lie from the first to the last of their row, both whole numbers."""
    x = np.arange(columns, dtype=np.uint16)
    low, high = (np.clip(ends, 0, columns).astype(np.uint16)[:, None] for ends in (first, last + 1))
    return np.asarray((x >= low) & (x < high))


def _edge_bands(
    light: NDArray[np.float32], inner: NDArray[np.bool_], *, px_per_mm: float | None
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return L* along the left and the right band; empty without a scale or enough pixels."""
    if px_per_mm is None or px_per_mm * BAND_PITCH_MM < 1.0:
        return (), ()
    band_px = max(1, round(BAND_MM * px_per_mm))
    steps = int(len(inner) / (BAND_PITCH_MM * px_per_mm))
    starts = (np.arange(steps) * BAND_PITCH_MM * px_per_mm).astype(int)
    left, right = _row_edges(inner)
    bands = []
    for first, last in ((left, left + band_px - 1), (right - band_px + 1, right)):
        row_y, row_count = _sums_between(first, last, light, inner)
        total, count = np.add.reduceat(row_y, starts), np.add.reduceat(row_count, starts)
        mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
        mean = np.where(np.isfinite(mean), mean, np.nanmean(mean))
        bands.append(tuple(np.round(lightness_of_y(mean), 3).tolist()))
    return bands[0], bands[1]


def sum_of_light(light: NDArray[np.float32], mask: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the sum of the masked pixels, shape (3,).

    Whole columns are added up, in a fifth of the time that masking each pixel takes, and what the
    mask leaves out between its outermost columns is taken off again.
    """
    total = np.zeros(3)
    for top in range(0, len(mask), ROWS_AT_ONCE):
        rows = slice(top, top + ROWS_AT_ONCE)
        seen = np.flatnonzero(np.bitwise_or.reduce(mask[rows].view(np.uint8), axis=0))
        if not len(seen):
            continue
        first, last = int(seen[0]), int(seen[-1]) + 1
        part = light[rows]
        in_row = part.reshape(len(part), -1)[:, 3 * first : 3 * last].sum(axis=0)
        y, x = np.divmod(np.flatnonzero(~mask[rows, first:last]), last - first)
        total += in_row.reshape(-1, 3).sum(axis=0, dtype=np.float64)
        total -= part[y, x + first].sum(axis=0, dtype=np.float64)
    return total


def _sums_between(
    first: NDArray[np.float64],
    last: NDArray[np.float64],
    light: NDArray[np.float32],
    inner: NDArray[np.bool_],
) -> tuple[NDArray[np.float32], NDArray[np.intp]]:
    """Return luminance and number of the inner pixels from the first to the last of each row.

    Some rows are taken at a time: over so few an edge wanders little, and the rest of the width
    need not be looked at.
    """
    total = np.zeros(len(inner), np.float32)
    count = np.zeros(len(inner), np.intp)
    for top in range(0, len(inner), ROWS_AT_ONCE):
        rows = slice(top, top + ROWS_AT_ONCE)
        columns = slice(max(0, int(first[rows].min())), int(last[rows].max()) + 1)
        near = inner[rows, columns]
        low, high = first[rows] - columns.start, last[rows] - columns.start
        weight = (near & _between(low, high, near.shape[1])).astype(np.float32)
        y = cv2.transform(light[rows, columns], LUMINANCE[None]).reshape(near.shape)
        total[rows] = np.einsum("rc,rc->r", y, weight)
        count[rows] = weight.sum(axis=1)
    return total, count
