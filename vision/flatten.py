"""A leaf straightened out of its photograph, in light held against the board."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import LightField
from vision.colour_fit import apply_colour
from vision.colour_space import look_up_levels
from vision.leaf_image import LeafImage
from vision.outline import Outline
from vision.shooting_station import ColourMap
from vision.table_map import TableMap
from vision.tone_curve import decode_table

FIELD_GRID_PX = 24
"""Pitch across, px, at which the light on the board is computed under the leaf, twice that along:
it is smooth."""
EDGE_LOSS_PX = 1.0
"""Pixels taken off the outline (times the working step), so that no board shines in."""

MOST_BINS = 96
"""Places along a side at which a leaf's extent across is read."""
BIN_POINTS = 3.0
"""Points of the outline that a bin must hold, or it may see one end of a narrow leaf alone."""


GAIN_ROWS = 4
"""Rows that share one gain; `STRIP_ROWS` holds them whole."""
STRIP_ROWS = 128
"""Rows of the flat picture that are worked out at a time."""
MAP_TERMS = 10
"""Chebyshev terms along each side for where flat pixels lie in the photograph: tilt and lens are
smooth, and what is left out stays below a thousandth of a pixel."""


@dataclass(frozen=True, slots=True, eq=False)
class OnTable:
    """Where a straightened leaf lies on the table, in millimetres."""

    table: TableMap
    to_mm: NDArray[np.float64]
    """Affine map (2, 3) from flat pixels to table mm."""
    px_per_mm: float
    """Flat pixels to a millimetre, along and across alike."""
    height_mm: float
    """Of the leaf's face above the rails' face."""


@dataclass(frozen=True, slots=True, eq=False)
class Straightened:
    """Where a straightened leaf lies in its photograph.

    Parameters
    ----------
    to_photo : ndarray, shape (2, 3)
        Affine map from flat pixels (x, y) to photo pixels; with a table, what comes nearest to
        `in_photo` about the leaf's middle.
    size_px : tuple of int
        Columns and rows of the flat picture.
    points : ndarray, shape (n, 2)
        The outline in flat pixels.
    length_px, width_px : float
        Length at mid-width, width at mid-length, flat pixels (those of the photograph, or without
        tilt and lens where the table is known).
    on_table : OnTable or None
        None where no rails say how the table lies.
    """

    to_photo: NDArray[np.float64]
    size_px: tuple[int, int]
    points: NDArray[np.float64]
    length_px: float
    width_px: float
    on_table: OnTable | None = None

    def in_photo(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return photo pixels (..., 2) of flat pixels (..., 2)."""
        if self.on_table is None:
            return np.asarray(points @ self.to_photo[:, :2].T + self.to_photo[:, 2])
        mm = points @ self.on_table.to_mm[:, :2].T + self.on_table.to_mm[:, 2]
        seen = self.on_table.table.to_px(mm.reshape(-1, 2), self.on_table.height_mm)
        return seen.reshape(points.shape)

    def from_photo(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return flat pixels (n, 2) of photo pixels (n, 2)."""
        if self.on_table is not None:
            points = self.on_table.table.to_mm(points, self.on_table.height_mm)
        back = cv2.invertAffineTransform(self.to_base)
        return np.asarray(points @ back[:, :2].T + back[:, 2], dtype=np.float64)

    @property
    def to_base(self) -> NDArray[np.float64]:
        """Affine map from flat pixels to table mm, or to photo pixels without a table."""
        return self.to_photo if self.on_table is None else self.on_table.to_mm


def straighten(
    outline: Outline, *, table: TableMap | None = None, height_mm: float = 0.0
) -> Straightened:
    """Return how to turn a leaf upright: long axis along the rows, upper end first.

    With a table the outline is straightened in its millimetres, tilt and lens taken out, at as
    many pixels to a millimetre as the photograph has about the leaf's middle.

    The axis halves the angle between the two long edges, so that a tapered leaf stands straight.
    A leaf that lies across the picture is turned so that its left end comes to the top.
    """
    points, px_per_mm = outline.points, 1.0
    if table is not None:
        points = table.to_mm(points, height_mm)
        middle = (float(points[:, 0].mean()), float(points[:, 1].mean()))
        px_per_mm = table.px_per_mm_at(middle, height_mm)
        points = points * px_per_mm
    axis = _upper_end_first(_long_axis(points), outline.points, points)
    for _ in range(2):
        turned = points @ _turn(axis).T
        tilt = _mean_edge_slope(turned)
        axis = _turn(axis).T @ np.array([tilt, 1.0])
        axis /= np.linalg.norm(axis)
    turn = _turn(axis)
    turned = points @ turn.T
    low = np.floor(turned.min(axis=0)) - 1
    size = np.ceil(turned.max(axis=0) - low).astype(int) + 2
    flat = turned - low
    to_base = np.hstack([turn.T, (turn.T @ low)[:, None]]) / px_per_mm
    length, width = _length_and_width(flat)
    size_px = (int(size[0]), int(size[1]))
    if table is None:
        return Straightened(to_base, size_px, flat, length, width)
    on_table = OnTable(table, to_base, px_per_mm, height_mm)
    like = np.linalg.lstsq(np.column_stack([flat, np.ones(len(flat))]), outline.points, rcond=None)
    return Straightened(like[0].T, size_px, flat, length, width, on_table)


def _long_axis(points: NDArray[np.float64]) -> NDArray[np.float64]:
    _, _, axes = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
    return np.asarray(axes[0])


def _upper_end_first(
    axis: NDArray[np.float64], seen: NDArray[np.float64], points: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the axis turned so that it runs down the photograph, or rightward in it."""
    along = (points - points.mean(axis=0)) @ axis
    way = along @ (seen - seen.mean(axis=0))
    return np.asarray(axis * (1 if way[np.argmax(np.abs(way))] >= 0 else -1))


def flatten(
    rgb: NDArray[np.uint8],
    field: LightField,
    straight: Straightened,
    *,
    board_rgb: tuple[float, float, float],
    px_per_mm: float | None,
    edge_loss_px: float = EDGE_LOSS_PX,
    decode: NDArray[np.float32] | None = None,
    colour: ColourMap | None = None,
) -> LeafImage:
    """Return the leaf in linear light as a fraction of what a white sheet would send.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        The photograph, sRGB.
    field : LightField
        The light that the board sends in that photograph.
    board_rgb : tuple of float
        Linear reflectance of the board, one value for the whole bundle.
    edge_loss_px : float
        Taken off the outline all round, photo pixels.
    decode : ndarray of float32, shape (256, 3), or None
        Linear light for each level and channel of this camera; None for sRGB. ``field`` must have
        been fitted with the same.
    colour : ColourMap or None
        From the camera's primaries to sRGB's.
    """
    size = straight.size_px
    gain = _gain(field, straight, board_rgb)
    levels = decode_table(None) if decode is None else decode
    seen = _strips_by_table if straight.on_table is not None else _strips
    light = np.empty((size[1], size[0], 3), np.float32)
    for rows, flat in seen(rgb, straight):
        strip = light[rows]
        look_up_levels(flat, levels, into=strip)
        _brighten(strip, gain, rows, size)
        if colour is not None:
            strip[:] = apply_colour(strip, colour)
    mask = np.zeros((size[1], size[0]), np.uint8)
    shifted = np.round(straight.points * 16).astype(np.int32)
    cv2.fillPoly(mask, [shifted], 1, lineType=cv2.LINE_8, shift=4)
    reach = 2 * int(np.ceil(edge_loss_px)) + 1
    mask = np.asarray(cv2.erode(mask, np.ones((reach, reach), np.uint8)), dtype=np.uint8)
    return LeafImage(light, mask.view(np.bool_), px_per_mm)


def _strips(
    rgb: NDArray[np.uint8], straight: Straightened
) -> Iterator[tuple[slice, NDArray[np.uint8]]]:
    """Yield the flat picture, some rows at a time: what is made of them stays near the processor.

    OpenCV turns pictures of four channels three times as fast as those of three.
    """
    columns, height = straight.size_px
    rim = np.array([[x, y, 1] for x in (0, columns) for y in (0, height)], dtype=np.float64)
    part, corner = _part(rgb, rim @ straight.to_photo.T)
    whole = cv2.warpAffine(
        part,
        straight.to_photo - np.column_stack([np.zeros((2, 2)), corner]),
        (columns, height),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    for rows in _rows_of(straight):
        yield rows, np.asarray(cv2.cvtColor(whole[rows], cv2.COLOR_RGBA2RGB), dtype=np.uint8)


def _strips_by_table(
    rgb: NDArray[np.uint8], straight: Straightened
) -> Iterator[tuple[slice, NDArray[np.uint8]]]:
    """Yield the flat picture with tilt and lens taken out, in one go, some rows at a time.

    Where flat pixels lie is worked out where `MAP_TERMS` Chebyshev nodes cross, and carried on
    between by the polynomial through them.
    """
    columns, height = straight.size_px
    nodes = np.cos((np.arange(MAP_TERMS) + 0.5) * np.pi / MAP_TERMS)
    x, y = (nodes + 1) / 2 * (columns - 1), (nodes + 1) / 2 * (height - 1)
    seen = straight.in_photo(np.stack(np.meshgrid(x, y), axis=-1))
    across, along = (_carry_on(nodes, count) for count in (columns, height))
    bands = [seen[..., axis] @ across.T.astype(np.float64) for axis in (0, 1)]
    some = np.linspace(0, columns - 1, 12).astype(np.intp)
    for rows in _rows_of(straight):
        ends = along[[rows.start, rows.stop - 1]]
        rim = np.stack([(ends @ band[:, some]).ravel() for band in bands], axis=1)
        part, corner = _part(rgb, rim)
        map_x, map_y = (
            along[rows] @ (band - first).astype(np.float32)
            for band, first in zip(bands, corner, strict=True)
        )
        flat = cv2.remap(part, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        yield rows, np.asarray(cv2.cvtColor(flat, cv2.COLOR_RGBA2RGB), dtype=np.uint8)


def _rows_of(straight: Straightened) -> Iterator[slice]:
    height = straight.size_px[1]
    for first in range(0, height, STRIP_ROWS):
        yield slice(first, min(first + STRIP_ROWS, height))


def _part(
    rgb: NDArray[np.uint8], seen: NDArray[np.floating]
) -> tuple[NDArray[np.uint8], NDArray[np.intp]]:
    """Return the part of a photograph about some places, with a fourth channel; and its corner."""
    size = np.array(rgb.shape[1::-1])
    low = np.clip(np.floor(seen.min(axis=0)).astype(np.intp) - 2, 0, size - 1)
    high = np.clip(np.ceil(seen.max(axis=0)).astype(np.intp) + 3, low + 1, size)
    part = cv2.cvtColor(rgb[low[1] : high[1], low[0] : high[0]], cv2.COLOR_RGB2RGBA)
    return np.asarray(part, dtype=np.uint8), low


def _carry_on(nodes: NDArray[np.float64], count: int) -> NDArray[np.float32]:
    """Return weights (count, nodes) from values at Chebyshev nodes to evenly spaced places."""
    to_terms = np.linalg.inv(np.polynomial.chebyshev.chebvander(nodes, len(nodes) - 1))
    every = np.polynomial.chebyshev.chebvander(np.linspace(-1, 1, count), len(nodes) - 1)
    return np.asarray(every @ to_terms, dtype=np.float32)


def _gain(
    field: LightField, straight: Straightened, board_rgb: tuple[float, float, float]
) -> NDArray[np.float32]:
    """Return board reflectance over board light, shape (n, columns, 3): bands down the leaf."""
    columns, rows = straight.size_px
    nx, ny = max(2, columns // FIELD_GRID_PX), max(2, rows // (2 * FIELD_GRID_PX))
    x = (np.arange(nx) + 0.5) * columns / nx - 0.5
    y = (np.arange(ny) + 0.5) * rows / ny - 0.5
    xx, yy = np.meshgrid(x, y)
    photo = straight.in_photo(np.stack([xx, yy], axis=-1))
    gain = np.asarray(board_rgb, dtype=np.float32) / field.at(photo[..., 0], photo[..., 1])
    return np.asarray(
        cv2.resize(gain, (columns, ny), interpolation=cv2.INTER_LINEAR), dtype=np.float32
    )


def _brighten(
    strip: NDArray[np.float32], gain: NDArray[np.float32], rows: slice, size_px: tuple[int, int]
) -> None:
    """Multiply some rows by the gain there, straight between the bands above and below.

    A few rows share one gain: light changes by a few parts in ten thousand over them.
    """
    bands, columns = gain.shape[:2]
    starts = np.arange(rows.start, rows.stop, GAIN_ROWS)
    middles = (starts + np.minimum(starts + GAIN_ROWS, rows.stop)) / 2
    at = np.clip(middles * bands / size_px[1] - 0.5, 0, bands - 1)
    first = min(int(at[0]), bands - 2)
    last = min(int(at[-1]) + 2, bands)
    share = np.maximum(1 - np.abs(at[:, None] - np.arange(first, last)), 0).astype(np.float32)
    shared = share @ gain[first:last].reshape(last - first, -1)
    whole = len(strip) // GAIN_ROWS
    together = strip[: whole * GAIN_ROWS].reshape(whole, GAIN_ROWS, 3 * columns)
    np.multiply(together, shared[:whole, None], out=together)
    strip[whole * GAIN_ROWS :] *= shared[whole:].reshape(-1, columns, 3)


def _turn(axis: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the rotation that brings ``axis`` to (0, 1)."""
    x, y = axis
    return np.array([[y, -x], [x, y]])


def long_edges(points: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Return y, left x and right x of a straightened outline at evenly spaced heights, px."""
    return _edges(points, along=1)


def _edges(points: NDArray[np.float64], *, along: int) -> tuple[NDArray[np.float64], ...]:
    """Return bin centres and the outline's least and greatest extent across, bin by bin."""
    position, across = points[:, along], points[:, 1 - along]
    low, high = position.min(), position.max()
    apart = float(np.median(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    bins = int(np.clip((high - low) / max(BIN_POINTS * apart, 1e-9), 4, MOST_BINS))
    index = np.minimum(((position - low) / (high - low) * bins).astype(int), bins - 1)
    least = np.full(bins, np.inf)
    most = np.full(bins, -np.inf)
    np.minimum.at(least, index, across)
    np.maximum.at(most, index, across)
    centres = low + (np.arange(bins) + 0.5) * (high - low) / bins
    seen = np.isfinite(least) & (most > least)
    return centres[seen], least[seen], most[seen]


def _mean_edge_slope(turned: NDArray[np.float64]) -> float:
    """Return dx/dy of the line midway between the two long edges."""
    y, left, right = long_edges(turned)
    middle = slice(len(y) // 12, len(y) - len(y) // 12)
    run = y[middle] - y[middle].mean()
    return float(run @ (left[middle] + right[middle]) / 2 / (run @ run))


def _length_and_width(flat: NDArray[np.float64]) -> tuple[float, float]:
    """Return the length at mid-width and the width at mid-length.

    By the middle of each stretch of edge: its outermost point would make every leaf larger by
    twice the outline's own noise.
    """
    width = _extent(flat, along=1, left_out=0.25)
    length = _extent(flat, along=0, left_out=0.2)
    return length, width


def _extent(points: NDArray[np.float64], *, along: int, left_out: float) -> float:
    """Return the median extent across of the stretches between ``left_out`` and its rest."""
    centres, least, most = _edges(points, along=along)
    order = np.argsort(points[:, along], kind="stable")
    position, across = points[order, along], points[order, 1 - along]
    half = (centres[1] - centres[0]) / 2 if len(centres) > 1 else np.inf
    first = np.searchsorted(position, centres - half, side="left")
    last = np.searchsorted(position, centres + half, side="right")
    skip = int(len(centres) * left_out)
    extents = []
    for index in range(skip, len(centres) - skip):
        here = np.sort(across[first[index] : last[index]])
        left = int(np.searchsorted(here, (least[index] + most[index]) / 2))
        extents.append(_middle(here[left:]) - _middle(here[:left]))
    return float(np.median(extents))


def _middle(ordered: NDArray[np.float64]) -> float:
    """Return the median of values in order."""
    count = len(ordered)
    return float(ordered[(count - 1) // 2] + ordered[count // 2]) / 2 if count else np.nan
