"""Paint pieces that lie at a slant: every pixel knows its leaf and its place on it beforehand.

The pictures of all pieces are laid side by side on one sheet, and a map, worked out once for a
layout and a size, takes each pixel of the panel to its place on that sheet. Where pieces meet, a
pixel is shared out by how much of it each piece covers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.gain_tables import relit
from vision.kept_arrays import KeptArrays
from vision.laying import compose, lay_pixels, reverses_rows
from vision.layout import Layout, Panel, Placement
from vision.picture_scale import scale_cover, scale_picture
from vision.piece import Point, area_mm2, box_of, edge_of
from vision.placed_picture import PlacedPicture, Trim

FINER = 1.2
"""The sheet is so many times finer than the panel, so that straight lines between its pixels do
not soften the grain."""
RIM_PX = 3
"""Spare pixels round each picture on the sheet."""
SHEET_PX = 8192
"""Width of the sheet at which a new row of pictures begins."""
FOLD = 4096
PAPER_PX, PAPER_AT = 4, 1.0
"""The sheet's first corner is paper; pixels with no piece at all are taken from there."""
MOST_KEPT_BYTES = 64_000_000


@dataclass(frozen=True, slots=True)
class _Spot:
    """Where the picture of one piece lies on the sheet, and which part of its leaf it shows."""

    window: Trim
    """Pixels of the photograph, turned to how the leaf lies, from its straightened corner."""
    left: int
    top: int
    columns: int
    rows: int
    across_px_per_mm: float
    along_px_per_mm: float

    def on_sheet(
        self, x_mm: NDArray[np.float64], y_mm: NDArray[np.float64]
    ) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Return places on the leaf as places on the sheet, counted from middles of pixels."""
        across, down = self.columns / self.window.width, self.rows / self.window.height
        x = (x_mm * self.across_px_per_mm - self.window.left) * across + (self.left + RIM_PX - 0.5)
        y = (y_mm * self.along_px_per_mm - self.window.top) * down + (self.top + RIM_PX - 0.5)
        return x.astype(np.float32), y.astype(np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class _Maps:
    """From each pixel of the panel to the sheet; pixels shared between pieces listed apart."""

    whole: tuple[NDArray[np.int16], NDArray[np.uint16]]
    shared_at: NDArray[np.intp]
    """Flat indices of the shared pixels, ascending."""
    first: NDArray[np.intp]
    """Where the shares of each shared pixel begin in the three lists below."""
    x: NDArray[np.float32]
    y: NDArray[np.float32]
    share: NDArray[np.float32]
    paper: NDArray[np.float32]
    """Share of the paper in each shared pixel."""

    @property
    def nbytes(self) -> int:
        """Bytes taken."""
        arrays = (*self.whole, self.shared_at, self.first, self.x, self.y, self.share)
        return sum(array.nbytes for array in arrays)


_maps: KeptArrays[_Maps] = KeptArrays(MOST_KEPT_BYTES)
_scaled: KeptArrays[NDArray[np.uint8]] = KeptArrays(MOST_KEPT_BYTES)
"""Parts of leaves at the sheet's scale, before any light is laid on them."""
_faces: KeptArrays[NDArray[np.uint8]] = KeptArrays(MOST_KEPT_BYTES)
"""Painted layouts: a sheet is larger than what is painted from it, and changes with it."""


def paint_pieces(
    layout: Layout,
    pictures: Sequence[PlacedPicture],
    *,
    trims: Sequence[Trim],
    px_per_mm: float,
    paper: tuple[int, int, int],
) -> NDArray[np.uint8]:
    """Return a layout as a picture; see `vision.match_render.render`.

    A picture's gain runs along its leaf, however the piece lies.
    """
    spots = _spots(layout, pictures, trims, px_per_mm * FINER)
    geometry = (layout.placements, layout.panels, spots, px_per_mm)

    def paint() -> NDArray[np.uint8]:
        maps = _maps.get(geometry, lambda: _map(layout, spots, px_per_mm))
        return _through(maps, _draw_sheet(layout, pictures, trims, spots, paper), paper)

    names = tuple(
        (picture.name, picture.moved, None if picture.gain is None else picture.gain.tobytes())
        for picture in pictures
    )
    if not all(name for name, *_ in names):
        return paint()
    return _faces.get((geometry, names, paper), paint)


def _through(
    maps: _Maps, sheet: NDArray[np.uint8], paper: tuple[int, int, int]
) -> NDArray[np.uint8]:
    painted = np.asarray(cv2.remap(sheet, *maps.whole, cv2.INTER_LINEAR), dtype=np.uint8)
    flat = painted.reshape(-1, 3)
    if maps.shared_at.size:
        # OpenCV maps no list longer than 32767; a list folded into rows is none
        parts = np.asarray(cv2.remap(sheet, maps.x, maps.y, cv2.INTER_LINEAR)).reshape(-1, 3)
        weighed = parts[: len(maps.share)] * maps.share[:, np.newaxis]
        mixed = np.add.reduceat(weighed, maps.first, axis=0)
        mixed += maps.paper[:, np.newaxis] * np.array(paper, np.float32)
        flat[maps.shared_at] = np.rint(np.clip(mixed, 0, 255)).astype(np.uint8)
    painted.setflags(write=False)
    return painted


def _spots(
    layout: Layout, pictures: Sequence[PlacedPicture], trims: Sequence[Trim], fine: float
) -> tuple[_Spot, ...]:
    """Return a place on the sheet for the part of each leaf that its piece needs."""
    spots = []
    left, top, below = PAPER_PX, 0, PAPER_PX
    for place, picture, trim in zip(layout.placements, pictures, trims, strict=True):
        scale, across = picture.px_per_mm, picture.across_px_per_mm
        need = box_of(place.on_leaf_mm)
        window = Trim(
            max(0, math.floor(need.left * across) - RIM_PX),
            min(trim.width, math.ceil(need.right * across) + RIM_PX),
            max(0, math.floor(need.top * scale) - RIM_PX),
            min(trim.height, math.ceil(need.bottom * scale) + RIM_PX),
        )
        shrink = max(1.0, scale / fine)
        columns = max(1, round(window.width / shrink))
        rows = max(1, round(window.height / shrink))
        if left and left + columns + 2 * RIM_PX > SHEET_PX:
            left, top = 0, below
        spots.append(_Spot(window, left, top, columns, rows, across, scale))
        left, below = left + columns + 2 * RIM_PX, max(below, top + rows + 2 * RIM_PX)
    return tuple(spots)


def _draw_sheet(
    layout: Layout,
    pictures: Sequence[PlacedPicture],
    trims: Sequence[Trim],
    spots: Sequence[_Spot],
    paper: tuple[int, int, int],
) -> NDArray[np.uint8]:
    rim = 2 * RIM_PX
    columns = max(spot.left + spot.columns + rim for spot in spots)
    rows = max(spot.top + spot.rows + rim for spot in spots)
    sheet = np.zeros((max(rows, PAPER_PX), columns, 3), np.uint8)
    sheet[:PAPER_PX, :PAPER_PX] = paper
    for place, picture, trim, spot in zip(layout.placements, pictures, trims, spots, strict=True):
        piece = _as_it_lies(place, picture, trim, spot, paper)
        framed = cv2.copyMakeBorder(piece, RIM_PX, RIM_PX, RIM_PX, RIM_PX, cv2.BORDER_REPLICATE)
        part = np.s_[spot.top : spot.top + len(framed), spot.left : spot.left + framed.shape[1]]
        sheet[part] = framed
    return sheet


def _as_it_lies(
    place: Placement,
    picture: PlacedPicture,
    trim: Trim,
    spot: _Spot,
    paper: tuple[int, int, int],
) -> NDArray[np.uint8]:
    """Return the part of a leaf that a piece needs, as the leaf lies, at the sheet's scale."""
    photographed = compose(picture.moved, place.laid)
    whole = np.s_[trim.top : trim.bottom, trim.left : trim.right]
    part = np.s_[spot.window.top : spot.window.bottom, spot.window.left : spot.window.right]

    def scaled() -> NDArray[np.uint8]:
        pixels = np.ascontiguousarray(lay_pixels(picture.pixels[whole], photographed)[part])
        return scale_picture(pixels, rows=spot.rows, columns=spot.columns)

    key = (picture.name, trim, spot.window, photographed, spot.rows, spot.columns)
    piece = _scaled.get(key, scaled) if picture.name else scaled()
    on_leaf = np.ascontiguousarray(lay_pixels(picture.on_leaf[whole], photographed)[part])
    if picture.gain is not None:
        gain = picture.gain[::-1] if reverses_rows(place.laid) else picture.gain
        ends = (spot.window.top / trim.height, spot.window.bottom / trim.height)
        piece = relit(piece, gain, start=ends[0], end=ends[1])
    if on_leaf.all():
        return piece
    cover = scale_cover(on_leaf, rows=spot.rows, columns=spot.columns)
    share = cover.astype(np.float32)[..., np.newaxis] / 255.0
    blend = piece * share + np.array(paper, np.float32) * (1.0 - share)
    return np.asarray(np.rint(blend), dtype=np.uint8)


def _map(layout: Layout, spots: Sequence[_Spot], px_per_mm: float) -> _Maps:
    """Return where each pixel of a layout finds its colour on the sheet."""
    rows = max(1, round(layout.length_mm * px_per_mm))
    columns = max(1, round(layout.width_mm * px_per_mm))
    on_panel = np.zeros((rows, columns), np.float32)
    for panel in layout.panels:
        np.maximum(on_panel, _panel_cover(panel, rows, columns, px_per_mm), out=on_panel)
    deepest = np.full((rows, columns), -np.inf, np.float32)
    x, y = np.zeros((2, rows, columns), np.float32)
    shares: list[tuple[NDArray[np.intp], NDArray[np.float32], _Places]] = []
    for place, spot in zip(layout.placements, spots, strict=True):
        part, xs, ys = _pixels_near(place, rows, columns, px_per_mm)
        depth = _depth(place.blank_mm, xs, ys) * px_per_mm
        back = place.to_panel.back()
        at = spot.on_sheet(
            back.xx * xs + back.xy * ys + back.x_mm, back.yx * xs + back.yy * ys + back.y_mm
        )
        inner = depth > deepest[part]
        deepest[part][inner] = depth[inner]
        x[part][inner], y[part][inner] = at[0][inner], at[1][inner]
        near = np.nonzero(
            ((depth > -0.5) & (depth < 0.5)) | ((depth > 0) & _at_rim(on_panel[part]))
        )
        flat = np.ravel_multi_index(
            (near[0] + part[0].start, near[1] + part[1].start), (rows, columns)
        )
        share = np.clip(depth[near] + 0.5, 0.0, 1.0).astype(np.float32)
        shares.append((flat, share, (at[0][near], at[1][near])))
    return _sorted_out(x, y, shares, on_panel)


_Places = tuple[NDArray[np.float32], NDArray[np.float32]]


def _at_rim(on_panel: NDArray[np.float32]) -> NDArray[np.bool_]:
    return np.asarray((on_panel > 0) & (on_panel < 1))


def _sorted_out(
    x: NDArray[np.float32],
    y: NDArray[np.float32],
    shares: Sequence[tuple[NDArray[np.intp], NDArray[np.float32], _Places]],
    on_panel: NDArray[np.float32],
) -> _Maps:
    """Return the maps; in a shared pixel the pieces together take what the panel takes of it."""
    at = np.concatenate([flat for flat, _, _ in shares])
    share = np.concatenate([one for _, one, _ in shares])
    order = np.argsort(at, kind="stable")
    at, share = at[order], share[order]
    places = [np.concatenate([p[axis] for _, _, p in shares])[order] for axis in (0, 1)]
    shared_at, first, count = np.unique(at, return_index=True, return_counts=True)
    cover = on_panel.ravel()[shared_at]
    total = np.add.reduceat(share, first) if at.size else share
    share = share * np.repeat(cover / np.maximum(total, 1e-6), count)
    folded = [_folded(place) for place in places]
    x[on_panel == 0] = y[on_panel == 0] = PAPER_AT
    whole = cv2.convertMaps(x, y, cv2.CV_16SC2)
    return _Maps(
        whole=(np.asarray(whole[0], dtype=np.int16), np.asarray(whole[1], dtype=np.uint16)),
        shared_at=shared_at,
        first=first,
        x=folded[0],
        y=folded[1],
        share=share.astype(np.float32),
        paper=(1.0 - cover).astype(np.float32),
    )


def _folded(line: NDArray[np.float32]) -> NDArray[np.float32]:
    rows = -(-line.size // FOLD) or 1
    folded = np.zeros(rows * FOLD, np.float32)
    folded[: line.size] = line
    return folded.reshape(rows, FOLD)


def _pixels_near(
    place: Placement, rows: int, columns: int, px_per_mm: float
) -> tuple[tuple[slice, slice], NDArray[np.float64], NDArray[np.float64]]:
    """Return the pixels round a piece, and the places of their middles in mm."""
    box = box_of(place.blank_mm)
    part = (
        slice(
            max(0, math.floor(box.top * px_per_mm) - 1),
            min(rows, math.ceil(box.bottom * px_per_mm) + 1),
        ),
        slice(
            max(0, math.floor(box.left * px_per_mm) - 1),
            min(columns, math.ceil(box.right * px_per_mm) + 1),
        ),
    )
    down, across = (np.arange(one.start, one.stop, dtype=np.float64) + 0.5 for one in part)
    ys, xs = np.meshgrid(down / px_per_mm, across / px_per_mm, indexing="ij")
    return part, xs, ys


def _depth(
    outline: Sequence[Point], xs: NDArray[np.float64], ys: NDArray[np.float64]
) -> NDArray[np.float32]:
    """Return how deep each place lies inside a convex polygon, mm; below zero outside."""
    side = 1.0 if area_mm2(outline) > 0 else -1.0
    deep = np.full(xs.shape, np.inf)
    for corner in range(len(outline)):
        (x0, y0), (x1, y1) = edge_of(outline, corner)
        long = side * math.hypot(x1 - x0, y1 - y0)
        np.minimum(deep, ((x1 - x0) * (ys - y0) - (y1 - y0) * (xs - x0)) / long, out=deep)
    return deep.astype(np.float32)


def _panel_cover(panel: Panel, rows: int, columns: int, px_per_mm: float) -> NDArray[np.float32]:
    """Return how much of each pixel a panel covers, 0 to 1."""
    ys, xs = np.ogrid[0:rows, 0:columns]
    x, y = (xs + 0.5) / px_per_mm, (ys + 0.5) / px_per_mm
    box = panel.box
    if panel.is_round:
        off = np.hypot(x - (box.left + box.right) / 2, y - (box.top + box.bottom) / 2)
        deep = box.width / 2 - off
    else:
        deep = np.minimum(
            np.minimum(x - box.left, box.right - x), np.minimum(y - box.top, box.bottom - y)
        )
        # a straight rim ends with the pixel it falls in
        return np.asarray(deep * px_per_mm > -0.5, dtype=np.float32)
    return np.clip(deep * px_per_mm + 0.5, 0.0, 1.0).astype(np.float32)
