"""Two leaves of one register in one frame: where each comes to lie, and its picture there."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import srgb_to_linear
from vision.gain_tables import relit
from vision.laying import lay_pixels
from vision.leaf_image import LeafImage
from vision.leaf_register import Register
from vision.match_render import PAPER
from vision.picture_scale import scale_cover, scale_picture
from vision.placed_picture import PlacedPicture
from vision.register_fits import leaf_box

FINER = 2
"""Leaves are moved on a grid so many times finer and then averaged: a move by half a pixel would
else soften one of the two, and they would differ where the wood does not."""
MOST_GAIN = 2.0
"""Two leaves are brought to one mean colour by no more than this factor."""
NO_MOVE = Register(0.0, 0.0)


@dataclass(frozen=True, slots=True)
class BlinkFrame:
    """An upright frame round both leaves; mm (or pixels of the photographs) from the middle of the
    first leaf, to the right and toward the lower end."""

    left: float
    top: float
    width: float
    length: float

    def stretch(self, start: float, end: float) -> BlinkFrame:
        """Return the part of the frame between two shares (0 to 1) of its length.

        Examples
        --------
        >>> BlinkFrame(-100.0, -1000.0, 200.0, 2000.0).stretch(0.5, 0.75)
        BlinkFrame(left=-100.0, top=0.0, width=200.0, length=500.0)
        """
        return BlinkFrame(
            self.left, self.top + start * self.length, self.width, (end - start) * self.length
        )


@dataclass(frozen=True, slots=True)
class PictureSpan:
    """How a leaf lies in its picture, the same for all resolutions at which the picture is kept."""

    middle: tuple[float, float]
    """Of the leaf as laid in the frame: shares of the picture's width and height."""
    height: float
    """Of the whole picture, in mm or pixels of the photographs."""


def span_of(picture: PlacedPicture) -> PictureSpan:
    """Return how a leaf lies in its picture."""
    on_leaf = lay_pixels(picture.on_leaf, picture.moved)
    rows, columns = leaf_box(on_leaf)
    middle = (columns.start + columns.stop) / 2, (rows.start + rows.stop) / 2
    return PictureSpan(
        (middle[0] / on_leaf.shape[1], middle[1] / on_leaf.shape[0]),
        on_leaf.shape[0] / picture.px_per_mm,
    )


def as_laid(picture: PlacedPicture) -> LeafImage:
    """Return a leaf as it lies in the frame, for `vision.leaf_register.register`."""
    light = srgb_to_linear(np.ascontiguousarray(lay_pixels(picture.pixels, picture.moved)))
    on_leaf = np.ascontiguousarray(lay_pixels(picture.on_leaf, picture.moved))
    return LeafImage(light, on_leaf, picture.px_per_mm)


def frame_of(first: PlacedPicture, second: PlacedPicture, register: Register | None) -> BlinkFrame:
    """Return the smallest frame that holds both leaves, the second moved as registered."""
    corners = [_corners(first, NO_MOVE), _corners(second, register or NO_MOVE)]
    low, high = np.concatenate(corners).min(axis=0), np.concatenate(corners).max(axis=0)
    return BlinkFrame(float(low[0]), float(low[1]), *(float(side) for side in high - low))


def mean_light(picture: PlacedPicture) -> NDArray[np.float64]:
    """Return the mean linear R, G, B of a leaf, shape (3,)."""
    wood = picture.pixels[:: max(1, len(picture.pixels) // 800)]
    held = picture.on_leaf[:: max(1, len(picture.pixels) // 800)]
    return np.asarray(srgb_to_linear(wood[held]).mean(axis=0), np.float64)


def paint_in_frame(
    picture: PlacedPicture,
    span: PictureSpan,
    frame: BlinkFrame,
    *,
    px_per_mm: float,
    register: Register | None = None,
    gain: NDArray[np.float64] | None = None,
) -> NDArray[np.uint8]:
    """Return a leaf where it lies in a frame, on paper.

    Parameters
    ----------
    picture : PlacedPicture
        At any resolution; its own scale is not asked.
    span : PictureSpan
        Of the picture in which the register was found.
    frame : BlinkFrame
    px_per_mm : float
        Of the picture returned.
    register : Register or None
        How it is moved; None for the first leaf of a pair and where nothing is registered.
    gain : ndarray of float, shape (3,), or None
        By what to multiply its linear R, G, B.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB; the same shape for both leaves of a frame.
    """
    rows, columns = (max(1, round(side * px_per_mm)) for side in (frame.length, frame.width))
    pixels = np.ascontiguousarray(lay_pixels(picture.pixels, picture.moved))
    on_leaf = np.ascontiguousarray(lay_pixels(picture.on_leaf, picture.moved))
    fine = px_per_mm * FINER
    share = span.height * fine / len(pixels)
    if share < 1:
        small = [max(1, round(side * share)) for side in on_leaf.shape]
        pixels = scale_picture(pixels, rows=small[0], columns=small[1])
        cover = scale_cover(on_leaf, rows=small[0], columns=small[1])
    else:
        cover = on_leaf.view(np.uint8) * np.uint8(255)
    if gain is not None:
        pixels = relit(pixels, np.clip(gain, 1 / MOST_GAIN, MOST_GAIN)[np.newaxis])
    width = span.height * on_leaf.shape[1] / on_leaf.shape[0]
    per_px = np.diag([width / cover.shape[1], span.height / cover.shape[0]])
    move = register or NO_MOVE
    turn = fine * _turn(move) @ per_px
    middle = np.array(span.middle) * cover.shape[1::-1] - 0.5
    at = (_shift(move) - (frame.left, frame.top)) * fine - 0.5
    to_frame = np.column_stack([turn, at - turn @ middle])
    size = (columns * FINER, rows * FINER)
    rim = cv2.BORDER_REPLICATE
    laid = cv2.warpAffine(pixels, to_frame, size, flags=cv2.INTER_LINEAR, borderMode=rim)
    seen = cv2.warpAffine(cover, to_frame, size, flags=cv2.INTER_LINEAR)
    laid = scale_picture(np.asarray(laid, np.uint8), rows=rows, columns=columns)
    wood = cv2.resize(seen, (columns, rows), interpolation=cv2.INTER_AREA)[..., np.newaxis] / 255.0
    return np.asarray(np.rint(laid * wood + np.array(PAPER) * (1 - wood)), np.uint8)


def _turn(register: Register) -> NDArray[np.float64]:
    """Return what a leaf's own places, right and down from its middle, are multiplied by."""
    lean = np.deg2rad(register.lean_deg)
    turn = np.array([[np.cos(lean), -np.sin(lean)], [np.sin(lean), np.cos(lean)]])
    return np.asarray(turn @ np.diag([1.0, 1.0 + register.lengthening]))


def _shift(register: Register) -> NDArray[np.float64]:
    return np.array([register.across_mm or 0.0, register.along_mm or 0.0])


def _corners(picture: PlacedPicture, register: Register) -> NDArray[np.float64]:
    rows, columns = leaf_box(picture.on_leaf)
    half = np.array([columns.stop - columns.start, rows.stop - rows.start]) / picture.px_per_mm / 2
    signs = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    return np.asarray(signs * half @ _turn(register).T + _shift(register))
