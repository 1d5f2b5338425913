"""Open the kept picture of a leaf, the smallest that suffices, with what is leaf in it."""

from __future__ import annotations

import io

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from catalog.kept_pictures import SCREEN_LONG_PX, THUMB_LONG_PX
from catalog.leaf_views import Shown
from catalog.pictures import PictureStore
from catalog.records import PictureKeys
from vision.match_render import PlacedPicture
from vision.readings import LeafSize

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
    coded = np.frombuffer(pictures.read(_sufficient(keys, rows_wanted)), np.uint8)
    pixels = np.asarray(cv2.imdecode(coded, cv2.IMREAD_COLOR_RGB), dtype=np.uint8)
    on_leaf = _mask(pictures.read(keys.mask), rows=pixels.shape[0], columns=pixels.shape[1])
    held = np.flatnonzero(on_leaf.any(axis=1))
    length_px = int(held[-1] - held[0]) + 1 if held.size else pixels.shape[0]
    own = shown.view.size
    length = (size.length_mm or own.length_mm) if in_mm else own.length_px
    px_per_mm = length_px / (length or own.length_px)
    return PlacedPicture(pixels, on_leaf, shown.moved, px_per_mm, shown.gain)


def _sufficient(keys: PictureKeys, rows_wanted: float) -> str:
    if rows_wanted * ENOUGH <= THUMB_LONG_PX:
        return keys.thumb
    return keys.screen if rows_wanted * ENOUGH <= SCREEN_LONG_PX else keys.flat


def _mask(file: bytes, *, rows: int, columns: int) -> NDArray[np.bool_]:
    """Return the mask at the size of a smaller picture, by the pixel nearest to each."""
    with Image.open(io.BytesIO(file)) as picture:
        # Not convert("1"): its array holds True as 255, which arithmetic on views trips over.
        mask = np.asarray(picture.convert("L")) > 127
    if mask.shape == (rows, columns):
        return mask
    down = ((np.arange(rows) + 0.5) * mask.shape[0] / rows).astype(int)
    across = ((np.arange(columns) + 0.5) * mask.shape[1] / columns).astype(int)
    return np.asarray(mask[down][:, across])
