"""A match under a lamp that can be moved: everything the screen needs to light it anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.catalog import Catalog
from catalog.errors import LampFixed
from catalog.leaf_pictures import open_leaf, straight_cut
from catalog.leaf_views import Shown, leaf_views
from catalog.pictures import PictureStore
from catalog.records import BundleId
from catalog.relit_lamps import LampGrid, Mark, lamp_grid, marks_of, place_eye, standing_over
from catalog.relit_views import LitTwice, lit_twice
from vision.colour_space import srgb_to_linear
from vision.laying import lay_pixels
from vision.layout import Layout, Placement
from vision.light_profile import LUMINANCE
from vision.local_slope import find_local_slope
from vision.match_render import PAPER
from vision.picture_scale import scale_cover, scale_picture
from vision.readings import LeafSize
from vision.relight import RelitLeaf, Standing, code_figure, relight

LONG_PX = 1000
"""Rows of a whole leaf: two pixels to the least pitch of fiddleback on two metres."""
WIDE_PX = 1800
MOST_PX = 1_200_000
"""So many are lit anew sixty times a second."""
MOST_ACROSS_PX, MOST_ALONG_PX = 2.5, 1.2
"""Two cut-outs of one unmoved leaf lie over each other to this. Along the leaf a larger shift is
fiddleback, whose stripes change places with the lamp, mistaken for one."""
DETAIL_PX, SOFTENED_PX = 3.0, 0.7
LEAST_LIGHT = 1e-4
NOT_WHOLE = (
    "The lamp is moved over whole leaves that stand side by side; this match turns, cuts, moves or "
    "stacks them. Among the lights above choose “a lamp and an eye where I place them”, or take a "
    "book or slip match of the same leaves to see light and dark travel."
)
MOVED_SHARE = 0.002
"""Leaves moved along their grain by more than this share of the face are not whole leaves."""
CUT_SHARE = 0.03
"""A piece cut by less than this share of its size is shown as the whole leaf."""


@dataclass(frozen=True, slots=True, eq=False)
class RelitPlace:
    """One leaf, and where it goes on the picture."""

    leaf: RelitLeaf
    left_px: int
    top_px: int
    placement: Placement
    face_seen: bool


@dataclass(frozen=True, slots=True, eq=False)
class RelitMatch:
    """A match whose lamp can be moved along the grain and up and down.

    Lengths are in the layout's unit from the top of the match; heights over the leaves. Lamp and
    eye stand over the middle line of each leaf, as they did in its photographs.
    """

    places: tuple[RelitPlace, ...]
    width_px: int
    height_px: int
    layout: Layout
    eye_along: float
    eye_height: float
    marks: tuple[Mark, ...]
    grid: LampGrid

    def standing(self, place: RelitPlace, lamp_along: float, lamp_height: float) -> Standing:
        """Return where lamp and eye stand over one leaf, in its own lengths."""
        eye = (self.eye_along, self.eye_height)
        return standing_over(place.placement, eye, (lamp_along, lamp_height))

    def lit(self, lamp_along: float, lamp_height: float) -> NDArray[np.uint8]:
        """Return the match under a lamp, sRGB; what the screen shows."""
        canvas = np.empty((self.height_px, self.width_px, 3), np.uint8)
        canvas[:] = PAPER
        for place in self.places:
            seen = relight(place.leaf, self.standing(place, lamp_along, lamp_height))
            cover = place.leaf.figure[..., 2:].astype(np.float32) / 255
            rows, columns = seen.shape[:2]
            part = np.s_[
                place.top_px : place.top_px + rows, place.left_px : place.left_px + columns
            ]
            blend = seen * cover + np.array(PAPER, np.float32) * (1 - cover)
            canvas[part] = np.rint(blend).astype(np.uint8)
        return canvas


def relit_match(catalog: Catalog, bundle_id: BundleId, layout: Layout) -> RelitMatch:
    """Return a match of leaves of a bundle whose lamp can be moved.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    layout : Layout
        Where each leaf goes, as a preview of the match has it.

    Raises
    ------
    LampFixed
        If leaves do not stand whole, side by side, or one lacks two photographs that show its
        slope from both sides.
    """
    _check_layout(layout)
    twice = lit_twice(layout.placements, leaf_views(catalog.photos(bundle_id)))
    sizes = {card.label: card.size for card in catalog.leaves(bundle_id)}
    scale = min(
        LONG_PX / max(one.length_mm for one in layout.placements),
        WIDE_PX / max(layout.width_mm, layout.length_mm),
        float(np.sqrt(MOST_PX / (layout.width_mm * layout.length_mm))),
    )
    eye = place_eye(twice, layout)
    return RelitMatch(
        places=tuple(
            _placed(catalog.pictures, one, sizes[one.placement.leaf], layout.unit, scale)
            for one in twice
        ),
        width_px=max(1, round(layout.width_mm * scale)),
        height_px=max(1, round(layout.length_mm * scale)),
        layout=layout,
        eye_along=eye[0],
        eye_height=eye[1],
        marks=marks_of(twice, eye),
        grid=lamp_grid(twice, eye),
    )


def _check_layout(layout: Layout) -> None:
    """Refuse what the lamp is not moved over: pieces that are slanted, stacked or cut out."""
    whole = all(_is_whole(one) for one in layout.placements)
    tops = [min(y for _, y in one.on_leaf_mm) for one in layout.placements]
    moved = max(tops) - min(tops) > MOVED_SHARE * layout.length_mm
    if layout.trims or moved or not (layout.is_one_row and whole):
        raise LampFixed(NOT_WHOLE)


def _is_whole(one: Placement) -> bool:
    left, top = (min(point[axis] for point in one.on_leaf_mm) for axis in (0, 1))
    return max(abs(left) / one.width_mm, abs(top) / one.length_mm) < CUT_SHARE


@lru_cache(maxsize=48)
def _placed(
    kept: PictureStore, one: LitTwice, leaf_size: LeafSize, unit: str, scale: float
) -> RelitPlace:
    place = one.placement
    left, right = round(place.x_mm * scale), round((place.x_mm + place.width_mm) * scale)
    top, bottom = round(place.y_mm * scale), round((place.y_mm + place.length_mm) * scale)
    size = (max(1, bottom - top), max(1, right - left))
    opened = [_opened(kept, one, leaf_size, index, size=size, unit=unit) for index in range(2)]
    pictures = (opened[0][0], _laid_over(opened[0][0], opened[1][0]))
    strength, width = one.fit.lobe_of_slices()
    found = find_local_slope(
        _log_ratio(pictures),
        one.seen,
        slope=one.slope,
        strength=strength,
        width=width,
    )
    figure = code_figure(found.slope, found.spread, opened[0][1])
    return RelitPlace(
        leaf=RelitLeaf(pictures, figure, one.seen, found.strength, found.width),
        left_px=left,
        top_px=top,
        placement=place,
        face_seen=one.face_seen,
    )


def _opened(
    kept: PictureStore,
    one: LitTwice,
    leaf_size: LeafSize,
    index: int,
    *,
    size: tuple[int, int],
    unit: str,
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Return one photograph's picture and cover, trimmed and moved into the match."""
    moved = one.moved[index]
    shown = Shown(one.views[index], moved, one.face_seen)
    picture = open_leaf(kept, shown, leaf_size, rows_wanted=size[0], in_mm=unit == "mm")
    trim = straight_cut(picture)
    whole = np.array([trim.height, trim.width]) / picture.px_per_mm
    piece = np.array([one.placement.length_mm, one.placement.width_mm])
    if (piece < (1 - CUT_SHARE) * whole).any():
        raise LampFixed(NOT_WHOLE)
    part = np.s_[trim.top : trim.bottom, trim.left : trim.right]
    rgb = scale_picture(picture.pixels[part], rows=size[0], columns=size[1])
    cover = scale_cover(picture.on_leaf[part], rows=size[0], columns=size[1])
    return np.ascontiguousarray(lay_pixels(rgb, moved)), np.ascontiguousarray(
        lay_pixels(cover, moved)
    )


def _laid_over(first: NDArray[np.uint8], second: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the second picture moved by the part of a pixel by which it lies off the first."""
    rows, columns = first.shape[:2]
    window = cv2.createHanningWindow((columns, rows), cv2.CV_32F)
    fine: list[Any] = [_detail(_luminance(one)) for one in (first, second)]
    (across, down), _ = cv2.phaseCorrelate(fine[0], fine[1], window)
    across = across if abs(across) <= MOST_ACROSS_PX else 0.0
    down = down if abs(down) <= MOST_ALONG_PX else 0.0
    back = np.array([[1, 0, -across], [0, 1, -down]], dtype=np.float32)
    moved = cv2.warpAffine(
        second, back, (columns, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(moved, dtype=np.uint8)


def _detail(luminance: NDArray[np.float32]) -> NDArray[np.float32]:
    log = np.log(luminance)
    return np.asarray(log - cv2.GaussianBlur(log, (0, 0), DETAIL_PX), dtype=np.float32)


def _luminance(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    light = srgb_to_linear(rgb) @ LUMINANCE
    return np.asarray(np.maximum(light, np.float32(LEAST_LIGHT)), dtype=np.float32)


def _log_ratio(pictures: Sequence[NDArray[np.uint8]]) -> NDArray[np.float32]:
    soft = [np.log(cv2.GaussianBlur(_luminance(one), (0, 0), SOFTENED_PX)) for one in pictures]
    return np.asarray(soft[0] - soft[1], dtype=np.float32)
