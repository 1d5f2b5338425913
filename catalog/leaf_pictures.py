"""Open the kept picture of a leaf, the smallest that suffices, with what is leaf in it.

What was opened is kept for the next look, up to a limit: decoding a dozen leaves costs far more
than laying them in a match.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.kept_pictures import SCREEN_LONG_PX, THUMB_LONG_PX
from catalog.leaf_views import Shown, plain_view
from catalog.pictures import PictureStore
from catalog.records import LeafCard, PictureKeys
from vision.kept_arrays import KeptArrays
from vision.match_layout import LeafExtent
from vision.match_render import extent_of, straight_edges
from vision.placed_picture import PlacedPicture, Trim
from vision.readings import LeafSize

MOST_KEPT_BYTES = 128_000_000
_opened: KeptArrays[NDArray[np.uint8]] = KeptArrays(MOST_KEPT_BYTES)
_masks: KeptArrays[NDArray[np.bool_]] = KeptArrays(MOST_KEPT_BYTES // 4)
_cuts: KeptArrays[NDArray[np.int64]] = KeptArrays(1_000_000)
_lengths: KeptArrays[NDArray[np.int64]] = KeptArrays(1_000_000)
ENOUGH = 0.97
"""A picture with this share of the wanted rows is not visibly softer."""


def open_leaf(
    pictures: PictureStore, shown: Shown, size: LeafSize, *, rows_wanted: float, in_mm: bool
) -> PlacedPicture:
    """Return a leaf's picture at about the wanted size or above, if there are so many pixels.

    Parameters
    ----------
    pictures : PictureStore
    shown : Shown
        Which photograph, and how it is moved.
    size : LeafSize
        The leaf's size, for the scale.
    rows_wanted : float
        Pixels along the leaf.
    in_mm : bool
        Whether the scale is per millimetre or per pixel of the photograph.
    """
    keys = shown.view.pictures
    picture = _sufficient(keys, rows_wanted)
    pixels = _opened.get((pictures.place, picture), lambda: _pixels(pictures.read(picture)))
    rows, columns = pixels.shape[:2]
    on_leaf = _masks.get(
        (pictures.place, keys.mask, rows, columns),
        lambda: _mask(pictures.read(keys.mask), rows=rows, columns=columns),
    )
    (length_px,) = _lengths.get(
        (pictures.place, keys.mask, rows, columns), lambda: _length(on_leaf)
    )
    own = shown.view.size
    length = (size.length_mm or own.length_mm) if in_mm else own.length_px
    px_per_mm = float(length_px) / (length or own.length_px)
    name = f"{picture} {keys.mask}"
    return PlacedPicture(pixels, on_leaf, shown.moved, px_per_mm, shown.gain, name=name)


def straight_cut(picture: PlacedPicture) -> Trim:
    """Return where a leaf's long edges are cut straight; see `vision.match_render`."""

    def cut() -> NDArray[np.int64]:
        trim = straight_edges(picture.on_leaf, px_per_mm=picture.px_per_mm)
        return np.array([trim.left, trim.right, trim.top, trim.bottom])

    key = (picture.name, picture.on_leaf.shape, picture.px_per_mm)
    left, right, top, bottom = (int(side) for side in _cuts.get(key, cut))
    return Trim(left, right, top, bottom)


def leaf_extent(pictures: PictureStore, card: LeafCard, *, in_mm: bool) -> LeafExtent:
    """Return the size of a leaf between straight edges, by its plain picture, and its colour."""
    rows = float(SCREEN_LONG_PX)
    plain = open_leaf(pictures, plain_view(card), card.size, rows_wanted=rows, in_mm=in_mm)
    size = extent_of(card.label, plain, straight_cut(plain))
    colour = card.colour
    return replace(size, lab=(colour.lightness, colour.a, colour.b))


def fitted(picture: PlacedPicture, trim: Trim, extent: LeafExtent) -> PlacedPicture:
    """Return a picture with its scale set so that it shows the leaf at the size laid out."""
    return replace(
        picture,
        px_per_mm=trim.height / extent.length_mm,
        across=trim.width / extent.width_mm,
    )


def _pixels(file: bytes) -> NDArray[np.uint8]:
    coded = np.frombuffer(file, np.uint8)
    pixels = np.asarray(cv2.imdecode(coded, cv2.IMREAD_COLOR_RGB), dtype=np.uint8)
    pixels.setflags(write=False)
    return pixels


def _length(on_leaf: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return how many rows a leaf takes from end to end; all of them where there is no leaf."""
    held = np.flatnonzero(on_leaf.any(axis=1))
    return np.array([held[-1] - held[0] + 1 if held.size else len(on_leaf)], dtype=np.int64)


def _sufficient(keys: PictureKeys, rows_wanted: float) -> str:
    if rows_wanted * ENOUGH <= THUMB_LONG_PX:
        return keys.thumb
    return keys.screen if rows_wanted * ENOUGH <= SCREEN_LONG_PX else keys.flat


def _mask(file: bytes, *, rows: int, columns: int) -> NDArray[np.bool_]:
    """Return the mask at the size of a smaller picture, by the pixel nearest to each."""
    coded = np.frombuffer(file, np.uint8)
    mask = np.asarray(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE))
    if mask.shape != (rows, columns):
        down = ((np.arange(rows) + 0.5) * mask.shape[0] / rows).astype(int)
        across = ((np.arange(columns) + 0.5) * mask.shape[1] / columns).astype(int)
        mask = mask[down][:, across]
    on_leaf = mask > 127
    on_leaf.setflags(write=False)
    return on_leaf
