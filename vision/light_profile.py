"""How light a leaf is along its length: the numbers on which alternation rests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.colour_space import lightness_of_y
from vision.errors import LeafNotFound
from vision.leaf_image import LeafImage
from vision.readings import SLICES, LampAndEye, LightProfile, LightReference

EDGE_TRIM = 0.05
"""Share of the width left out at each long edge: waney edge, shadow, the joint's own line."""
BAND_MM = 40.0
"""Width of the bands beside the long edges in which stripes are followed."""
BAND_PITCH_MM = 2.0
"""Pitch along the leaf of the bands' values: figure from 4 mm up is kept."""
LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
"""Y of linear sRGB (IEC 61966-2-1)."""


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
        Only the pixels in ``leaf.on_leaf`` count, less `EDGE_TRIM` of the width at each edge.
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
    x = np.arange(wood.shape[1], dtype=np.float32)
    inner = wood & (x >= (left + trim)[:, None]) & (x <= (right - trim)[:, None])
    row_light = np.einsum("rck,rc->rk", light, inner.astype(np.float32))
    row_count = inner.sum(axis=1)
    edges = np.linspace(0, len(wood), SLICES + 1).round().astype(int)
    count = np.add.reduceat(row_count, edges[:-1])
    if (count == 0).any():
        raise LeafNotFound(
            "Part of the leaf's length shows no wood. One whole leaf is needed in the picture: "
            "lay it flat on a plain board whose tone differs from it."
        )
    means = np.add.reduceat(row_light, edges[:-1], axis=0) / count[:, None]
    bands = _edge_bands(light @ LUMINANCE, inner, px_per_mm=leaf.px_per_mm)
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
    )


def _extent(present: NDArray[np.bool_]) -> tuple[int, int]:
    where = np.flatnonzero(present)
    if not len(where):
        raise LeafNotFound("No wood is left inside the outline. Photograph the leaf larger.")
    return int(where[0]), int(where[-1]) + 1


def _row_edges(wood: NDArray[np.bool_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    left = wood.argmax(axis=1).astype(np.float64)
    right = (wood.shape[1] - 1 - wood[:, ::-1].argmax(axis=1)).astype(np.float64)
    return left, right


def _edge_bands(
    y: NDArray[np.float32], inner: NDArray[np.bool_], *, px_per_mm: float | None
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return L* along the left and the right band; empty without a scale or enough pixels."""
    if px_per_mm is None or px_per_mm * BAND_PITCH_MM < 1.0:
        return (), ()
    band_px = max(1, round(BAND_MM * px_per_mm))
    steps = int(len(y) / (BAND_PITCH_MM * px_per_mm))
    starts = (np.arange(steps) * BAND_PITCH_MM * px_per_mm).astype(int)
    left, right = _row_edges(inner)
    x = np.arange(y.shape[1], dtype=np.float32)
    bands = []
    for near in (
        inner & (x < (left + band_px)[:, None]),
        inner & (x > (right - band_px)[:, None]),
    ):
        total = np.add.reduceat(np.where(near, y, 0).sum(axis=1), starts)
        count = np.add.reduceat(near.sum(axis=1), starts)
        mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
        mean = np.where(np.isfinite(mean), mean, np.nanmean(mean))
        bands.append(tuple(round(float(value), 3) for value in lightness_of_y(mean)))
    return bands[0], bands[1]
