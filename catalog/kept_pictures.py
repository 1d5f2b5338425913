"""The pictures kept of a leaf in one photograph: flat, for the screen, for lists, and its mask."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.pictures import PictureStore
from catalog.records import PictureKeys
from vision.colour_space import linear_to_srgb8
from vision.leaf_image import LeafImage
from vision.picture_file import PictureKind, encode_mask, encode_picture

FLAT_LONG_PX = 6000
"""No longer than this: above what a 24-megapixel camera gives, below what fills a disk."""
SCREEN_LONG_PX = 1600
THUMB_LONG_PX = 400
QUALITY = 92
"""Of JPEG: fine grain survives, at an eighth of the size of a PNG. Hue is kept at every fourth
pixel, which is all that most cameras' files hold."""
STRIP_ROWS = 128
BORDER_PX = 8
"""Width of the rim of the leaf from which the colour beside it is taken; rows so far apart tell."""


@dataclass(frozen=True, slots=True)
class KeptPictures:
    """Picture files of one leaf; see `PictureKeys`."""

    flat: bytes
    screen: bytes
    thumb: bytes
    mask: bytes


def keep_leaf(leaf: LeafImage, *, store: PictureStore) -> PictureKeys:
    """Put the pictures of a leaf into the store and return their names."""
    files = encode_leaf(leaf)
    return PictureKeys(
        flat=store.put(files.flat),
        screen=store.put(files.screen),
        thumb=store.put(files.thumb),
        mask=store.put(files.mask),
    )


def encode_leaf(leaf: LeafImage) -> KeptPictures:
    """Return the picture files of a leaf.

    The JPEG files carry an sRGB profile and no camera data. Beside the leaf they show the mean
    colour of its rim: a black surround would bleed into the edge when the picture is made smaller.
    The same leaf gives the same bytes.
    """
    rgb = linear_to_srgb8(leaf.light)
    on_leaf = np.asarray(leaf.on_leaf).view(np.uint8)
    _fill_beside(rgb, on_leaf)
    flat = _at_most(rgb, FLAT_LONG_PX)
    screen = _at_most(flat, SCREEN_LONG_PX)
    thumb = _at_most(screen, THUMB_LONG_PX)
    return KeptPictures(
        flat=_jpeg(flat),
        screen=_jpeg(screen),
        thumb=_jpeg(thumb),
        mask=encode_mask(_resized(on_leaf, rows=flat.shape[0], columns=flat.shape[1])),
    )


def _fill_beside(rgb: NDArray[np.uint8], on_leaf: NDArray[np.uint8]) -> None:
    """Paint what is beside the leaf in the mean colour of its rim, in place."""
    if on_leaf.all() or not on_leaf.any():
        return
    some = on_leaf[::BORDER_PX]
    inner = cv2.erode(some, np.ones((3, 2 * BORDER_PX + 1), np.uint8), borderValue=0)
    rim = cv2.mean(rgb[::BORDER_PX], some - inner)[:3]
    plain = np.empty((STRIP_ROWS, *rgb.shape[1:]), np.uint8)
    plain[:] = np.round(rim)
    for first in range(0, len(rgb), STRIP_ROWS):
        rows = slice(first, first + STRIP_ROWS)
        wood = on_leaf[rows]
        for columns in _runs(wood.min(axis=0) == 0):
            beside = np.uint8(1) - wood[:, columns]
            cv2.copyTo(plain[: len(wood), columns], beside, rgb[rows, columns])


def _runs(marked: NDArray[np.bool_]) -> Iterator[slice]:
    """Yield where a row of marks is set, run by run."""
    ends = np.flatnonzero(np.diff(marked, prepend=False, append=False))
    for first, last in ends.reshape(-1, 2).tolist():
        yield slice(first, last)


def _at_most(rgb: NDArray[np.uint8], long_px: int) -> NDArray[np.uint8]:
    rows, columns = rgb.shape[:2]
    scale = long_px / max(rows, columns)
    if scale >= 1.0:
        return rgb
    width, height = max(1, round(columns * scale)), max(1, round(rows * scale))
    while rgb.shape[0] >= 2 * height and rgb.shape[1] >= 2 * width:
        rgb = _halved(rgb)
    if rgb.shape[:2] != (height, width):
        doubled = cv2.resize(rgb, (2 * width, 2 * height), interpolation=cv2.INTER_LINEAR)
        rgb = _halved(np.asarray(doubled, dtype=np.uint8))
    return rgb


def _halved(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the picture at half its size; an odd row or column at the end is left out.

    Whole blocks are averaged many times faster than areas with fractions of pixels.
    """
    rows, columns = rgb.shape[0] // 2, rgb.shape[1] // 2
    even = rgb[: 2 * rows, : 2 * columns]
    half = cv2.resize(even, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(half, dtype=np.uint8)


def _jpeg(rgb: NDArray[np.uint8]) -> bytes:
    return encode_picture(rgb, PictureKind.JPEG, quality=QUALITY, half_colour=True)


def _resized(on_leaf: NDArray[np.uint8], *, rows: int, columns: int) -> NDArray[np.bool_]:
    if on_leaf.shape != (rows, columns):
        nearest = cv2.resize(on_leaf, (columns, rows), interpolation=cv2.INTER_NEAREST)
        on_leaf = np.asarray(nearest, dtype=np.uint8)
    return on_leaf.view(np.bool_)
