"""Several photographs of one long leaf laid into one picture, by the rails and nothing else.

A leaf's figure repeats, so that matching it from photograph to photograph goes wrong by whole
periods. The rails say where every photograph lies; its own board says how it was lit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import LightField
from vision.colour_space import linear_to_srgb8, srgb_to_linear
from vision.errors import RailsUnfit
from vision.table_map import TableMap, TableTrust

BAND_ROWS = 256
"""Rows worked on at once: a few megabytes a photograph, however long the leaf."""
NODE_PX = 16
"""Pitch, px of the joined picture, at which places and light are worked out; between, both are
straight to a hundredth of a pixel."""
FEATHER_POWER = 4.0
"""How soon the nearer photograph wins in an overlap: at twice the depth it counts sixteenfold."""
LEAST_WEIGHT = 1e-24
"""So that a photograph counts where it alone shows the table, on its very rim too."""
RIM_PX = 4.0
"""Photo pixels along the rim that are not used."""
LEAST_OVERLAP_MM = 40.0
"""Of neighbouring photographs, along the table: less leaves no room for a soft seam."""
MOST_JOINED_MEGAPIXELS = 120.0


@dataclass(frozen=True, slots=True, eq=False)
class PartShot:
    """One photograph of a part of the leaf, the light on its board, and how its table lies.

    Parameters
    ----------
    pixels : callable
        Returns the photograph, uint8, shape (rows, columns, 3). It is called once, when its turn
        comes, so that only one photograph need be held in memory.
    size_px : tuple of int
        Width and height of the photograph.
    field : LightField
        The light on its board.
    table : TableMap
    """

    pixels: Callable[[], NDArray[np.uint8]]
    size_px: tuple[int, int]
    field: LightField
    table: TableMap


@dataclass(frozen=True, slots=True, eq=False)
class JoinedPicture:
    """The parts as one photograph taken from straight above, its board evenly lit.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB; x of the table runs along the rows, y down the columns.
    px_per_mm : float
    origin_mm : tuple of float
        Table mm of the middle of the first pixel.
    seam_miss_mm : float
        By how much neighbouring photographs put the markers that both show at different places,
        root mean square of the worst seam; None if any two neighbours share no marker.
    table : TableMap
        For reading the joined picture as a photograph.
    """

    rgb: NDArray[np.uint8]
    px_per_mm: float
    origin_mm: tuple[float, float]
    seam_miss_mm: float | None
    table: TableMap


def join_shots(
    parts: Sequence[PartShot],
    px_per_mm: float,
    *,
    height_mm: float = 0.0,
    decode: NDArray[np.float32] | None = None,
) -> JoinedPicture:
    """Return overlapping photographs laid into one picture.

    Each is divided by the light on its own board, so that exposure and fall-off do not show at a
    seam; the board comes out as the first photograph shows it in the middle. Where photographs
    overlap, each counts by its depth inside its own frame.

    Parameters
    ----------
    parts : sequence of PartShot
        In any order. Their tables must come from the same rails (`fit_parts`).
    px_per_mm : float
        Of the joined picture.
    height_mm : float
        Of the leaf's face above the rails' face.
    decode : ndarray of float32, shape (256, 3), or None
        Linear light of the photographs' levels, by the camera's tone curve; None for sRGB's. Their
        boards must have been held by the same. It is taken out: the joined picture is in sRGB.

    Raises
    ------
    RailsUnfit
        If neighbours do not overlap by `LEAST_OVERLAP_MM`, have no part of the table in common
        across, or the picture would be larger than `MOST_JOINED_MEGAPIXELS`.
    """
    frames = [_frame(part, height_mm) for part in parts]
    order = sorted(range(len(parts)), key=lambda index: frames[index][1])
    parts, frames = [parts[i] for i in order], [frames[i] for i in order]
    low, high = _common(frames)
    columns, rows = _size(low, high, px_per_mm)
    if columns * rows > MOST_JOINED_MEGAPIXELS * 1e6:
        raise RailsUnfit(
            f"Joined at {px_per_mm:.1f} pixels to a millimetre the picture has "
            f"{columns * rows / 1e6:.0f} megapixels; at most {MOST_JOINED_MEGAPIXELS:.0f} are "
            "made. Choose a coarser scale."
        )
    origin = (float(low[0]), float(low[1]))
    joined = _Joining(
        np.zeros((rows, columns, 3), np.uint8), px_per_mm, origin, height_mm, _board_of(parts[0])
    )
    table = _level_table(decode)
    for index, (part, frame) in enumerate(zip(parts, frames, strict=True)):
        pixels = part.pixels()
        first = max(0, int((frame[1] - origin[1]) * px_per_mm) - 1)
        last = min(rows, int((frame[3] - origin[1]) * px_per_mm) + 2)
        for start in range(first, last, BAND_ROWS):
            here = slice(start, min(start + BAND_ROWS, last))
            earlier = [
                one
                for one, reach in zip(parts[:index], frames[:index], strict=True)
                if reach[3] > origin[1] + (here.start - 1) / px_per_mm
            ]
            joined.paint(here, part, pixels, earlier=earlier, table=table)
        del pixels
    return JoinedPicture(
        joined.rgb,
        px_per_mm,
        origin,
        _seam_miss(parts),
        _table_of(parts, (columns, rows), origin, px_per_mm),
    )


def joined_megapixels(
    parts: Sequence[PartShot], px_per_mm: float, *, height_mm: float = 0.0
) -> float:
    """Return how large the joined picture would be; raises as `join_shots`, its size aside."""
    frames = sorted((_frame(part, height_mm) for part in parts), key=lambda frame: frame[1])
    columns, rows = _size(*_common(frames), px_per_mm)
    return columns * rows / 1e6


@dataclass(frozen=True, slots=True, eq=False)
class _Joining:
    """The joined picture while it is painted, one photograph after the other."""

    rgb: NDArray[np.uint8]
    px_per_mm: float
    origin_mm: tuple[float, float]
    height_mm: float
    board_rgb: NDArray[np.float32]

    def paint(
        self,
        here: slice,
        part: PartShot,
        pixels: NDArray[np.uint8],
        *,
        earlier: Sequence[PartShot],
        table: NDArray[np.float32],
    ) -> None:
        """Lay some rows of a photograph over what ``earlier`` ones have left there."""
        band = self.rgb[here]
        rows, columns = band.shape[:2]
        nodes = _nodes(rows, columns) / self.px_per_mm + self.origin_mm
        nodes[..., 1] += here.start / self.px_per_mm
        seen = self._seen(part, nodes)
        gain = self.board_rgb / _light_at(part.field, seen)
        places = _between(seen.astype(np.float32), rows, columns)
        light = np.asarray(cv2.LUT(_pixels(pixels, places, seen), table), dtype=np.float32)
        light *= _between(gain.astype(np.float32), rows, columns)
        if earlier:
            weight = _between(_depth(seen, part.size_px), rows, columns) + LEAST_WEIGHT
            others = np.zeros_like(weight)
            for one in earlier:
                others += _between(_depth(self._seen(one, nodes), one.size_px), rows, columns)
            share = (weight / (weight + others))[..., None]
            light = np.asarray(share * light + (1 - share) * srgb_to_linear(band), np.float32)
        band[:] = linear_to_srgb8(np.minimum(light, 1.0))

    def _seen(self, part: PartShot, nodes: NDArray[np.float64]) -> NDArray[np.float64]:
        return part.table.to_px(nodes.reshape(-1, 2), self.height_mm).reshape(nodes.shape)


def _level_table(decode: NDArray[np.float32] | None) -> NDArray[np.float32]:
    """Return the linear light of the levels, shape (1, 256, 3), as `cv2.LUT` takes it."""
    if decode is None:
        decode = np.repeat(srgb_to_linear(np.arange(256, dtype=np.uint8))[:, None], 3, axis=1)
    return np.ascontiguousarray(decode, dtype=np.float32)[None]


def _size(low: NDArray[np.float64], high: NDArray[np.float64], px_per_mm: float) -> tuple[int, int]:
    columns, rows = (int(n) for n in np.floor((high - low) * px_per_mm) + 1)
    return columns, rows


def _frame(part: PartShot, height_mm: float) -> tuple[float, float, float, float]:
    """Return left, top, right and bottom, mm, between which a photograph shows the whole table."""
    columns, rows = part.size_px
    x, y = np.linspace(RIM_PX, columns - 1 - RIM_PX, 25), np.linspace(RIM_PX, rows - 1 - RIM_PX, 25)
    rims = (
        np.column_stack([np.full_like(y, x[0]), y]),
        np.column_stack([np.full_like(y, x[-1]), y]),
        np.column_stack([x, np.full_like(x, y[0])]),
        np.column_stack([x, np.full_like(x, y[-1])]),
    )
    sides = [part.table.to_mm(rim, height_mm) for rim in rims]
    if np.ptp(sides[0][:, 1]) < np.ptp(sides[0][:, 0]):
        sides = sides[2:] + sides[:2]
    left, right = sorted(sides[:2], key=lambda side: float(side[:, 0].mean()))
    top, bottom = sorted(sides[2:], key=lambda side: float(side[:, 1].mean()))
    return (
        float(left[:, 0].max()),
        float(top[:, 1].max()),
        float(right[:, 0].min()),
        float(bottom[:, 1].min()),
    )


def _common(
    frames: Sequence[tuple[float, float, float, float]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the corners, mm, of what all photographs together show without a gap."""
    reached = frames[0][3]
    for frame in frames[1:]:
        if reached - frame[1] < LEAST_OVERLAP_MM:
            raise RailsUnfit(
                f"Neighbouring photographs overlap by {max(0.0, reached - frame[1]):.0f} mm along "
                f"the table; {LEAST_OVERLAP_MM:.0f} mm is needed. Photograph the leaf again in "
                "shorter steps."
            )
        reached = max(reached, frame[3])
    low = np.array([max(frame[0] for frame in frames), frames[0][1]])
    high = np.array([min(frame[2] for frame in frames), reached])
    if high[0] <= low[0]:
        raise RailsUnfit(
            "The photographs show no common part of the table across. Move the camera along the "
            "leaf only."
        )
    return low, high


def _board_of(part: PartShot) -> NDArray[np.float32]:
    """Return the linear light of the board in the middle of a photograph."""
    columns, rows = part.size_px
    middle = part.field.at(np.array([columns / 2]), np.array([rows / 2]))
    return np.asarray(middle[0])


def _nodes(rows: int, columns: int) -> NDArray[np.float64]:
    """Return pixels (x, y) of the joined picture where `_between` expects values."""
    x, y = (
        (np.arange(-(-n // NODE_PX) + 2) - 1) * NODE_PX + (NODE_PX - 1) / 2 for n in (columns, rows)
    )
    return np.stack(np.meshgrid(x, y), axis=-1)


def _between(values: NDArray[np.float32], rows: int, columns: int) -> NDArray[np.float32]:
    """Return values at the nodes carried on to every pixel, straight from node to node."""
    size = (values.shape[1] * NODE_PX, values.shape[0] * NODE_PX)
    every = cv2.resize(values, size, interpolation=cv2.INTER_LINEAR)
    inner = every[NODE_PX : NODE_PX + rows, NODE_PX : NODE_PX + columns]
    return np.ascontiguousarray(inner, dtype=np.float32)


def _depth(seen: NDArray[np.float64], size_px: tuple[int, int]) -> NDArray[np.float32]:
    """Return how much a photograph counts at its own pixels: nothing on its rim and outside."""
    far = np.array(size_px) - 1 - RIM_PX
    depth = np.minimum(seen - RIM_PX, far - seen).min(axis=-1) / max(size_px)
    return np.asarray(np.maximum(depth, 0.0) ** FEATHER_POWER, dtype=np.float32)


def _light_at(field: LightField, seen: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return the board's light at photo pixels; beyond the frame, that of its rim."""
    width, height = field.size_px
    return field.at(np.clip(seen[..., 0], 0, width - 1), np.clip(seen[..., 1], 0, height - 1))


def _pixels(
    rgb: NDArray[np.uint8], places: NDArray[np.float32], seen: NDArray[np.float64]
) -> NDArray[np.uint8]:
    """Return the photograph at places (rows, columns, 2), which lie within ``seen``."""
    limits, corners = np.array(rgb.shape[1::-1]), seen.reshape(-1, 2)
    low = np.clip(np.floor(corners.min(axis=0)).astype(int) - 2, 0, limits - 1)
    high = np.clip(np.ceil(corners.max(axis=0)).astype(int) + 3, low + 1, limits)
    part = cv2.remap(
        rgb[low[1] : high[1], low[0] : high[0]],
        np.ascontiguousarray(places[..., 0] - np.float32(low[0])),
        np.ascontiguousarray(places[..., 1] - np.float32(low[1])),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(part, dtype=np.uint8)


def _seam_miss(parts: Sequence[PartShot]) -> float | None:
    misses = []
    for one, other in pairwise(parts):
        places = [{m.number: (m.x_px, m.y_px) for m in part.table.misses} for part in (one, other)]
        shared = sorted(places[0].keys() & places[1].keys())
        if not shared:
            return None
        mm = [
            part.table.to_mm(np.array([place[number] for number in shared]))
            for part, place in zip((one, other), places, strict=True)
        ]
        misses.append(float(np.sqrt(((mm[0] - mm[1]) ** 2).sum(axis=1).mean())))
    return max(misses, default=None)


def _table_of(
    parts: Sequence[PartShot],
    size_px: tuple[int, int],
    origin_mm: tuple[float, float],
    px_per_mm: float,
) -> TableMap:
    """Return the table as the joined picture shows it: from straight above, without a lens."""
    middle, unit = (np.array(size_px) - 1) / 2, float(np.hypot(*size_px)) / 2
    scale = px_per_mm / unit
    shift = -np.array(origin_mm) * scale - middle / unit
    tables = [part.table for part in parts]
    trusts = [table.trust for table in tables]
    worst = TableTrust(
        *(max(getattr(trust, name) for trust in trusts) for name in ("along", "across", "focal"))
    )
    return replace(
        tables[0],
        plane=np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]], [0.0, 0.0, 1.0]]),
        upright=np.zeros(3),
        radial=(0.0, 0.0),
        axis_px=middle,
        unit_px=unit,
        eye_mm=np.mean([table.eye_mm for table in tables], axis=0),
        span_mm=(
            min(table.span_mm[0] for table in tables),
            max(table.span_mm[1] for table in tables),
        ),
        trust=worst,
        misses=(),
        rms_mm=max(table.rms_mm for table in tables),
        holder=None,
    )
