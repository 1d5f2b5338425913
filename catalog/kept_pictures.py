"""The pictures kept of a leaf in one photograph: flat, for the screen, for lists, and its mask."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.pictures import PictureStore
from catalog.records import PictureKeys
from vision.colour_space import linear_to_srgb8
from vision.leaf_image import LeafImage
from vision.picture_file import PictureKind, encode_picture

FLAT_LONG_PX = 6000
"""No longer than this: above what a 24-megapixel camera gives, below what fills a disk."""
SCREEN_LONG_PX = 1600
THUMB_LONG_PX = 400
QUALITY = 92
"""Of JPEG, without colour subsampling: fine grain survives, at a fifth of the size of a PNG."""
BORDER_PX = 8
"""Width of the rim of the leaf from which the colour beside it is taken."""


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
        mask=_bilevel_png(on_leaf, rows=flat.shape[0], columns=flat.shape[1]),
    )


def _fill_beside(rgb: NDArray[np.uint8], on_leaf: NDArray[np.uint8]) -> None:
    """Paint what is beside the leaf in the mean colour of its rim, in place."""
    if on_leaf.all() or not on_leaf.any():
        return
    side = 2 * BORDER_PX + 1
    inner = cv2.erode(on_leaf, np.ones((side, side), np.uint8), borderValue=0)
    rim = cv2.mean(rgb, on_leaf - inner)[:3]
    beside = np.flatnonzero(on_leaf.ravel() == 0)
    rgb.reshape(-1, 3)[beside] = np.round(rim).astype(np.uint8)


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
    return encode_picture(rgb, PictureKind.JPEG, quality=QUALITY)


def _bilevel_png(on_leaf: NDArray[np.uint8], *, rows: int, columns: int) -> bytes:
    mask = on_leaf * np.uint8(255)
    if mask.shape != (rows, columns):
        mask = np.asarray(
            cv2.resize(mask, (columns, rows), interpolation=cv2.INTER_NEAREST), dtype=np.uint8
        )
    written, png = cv2.imencode(".png", mask, [cv2.IMWRITE_PNG_BILEVEL, 1])
    if not written:
        raise ValueError(f"A mask of {columns} x {rows} pixels could not be written as PNG.")
    return png.tobytes()
