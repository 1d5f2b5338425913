"""Paint a `Layout` from one picture a leaf. Decides nothing about where a leaf goes.

Long edges are trimmed straight inside the leaf's outline, as a shop cuts a joint, so that no
board shows between two leaves. Every leaf is scaled down by averaging areas and only then moved,
so that a leaf and its booked twin are mirror images to the pixel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import linear_to_srgb8, srgb_to_linear
from vision.laying import reverses_columns, reverses_rows
from vision.match_layout import Layout, LeafExtent, Placement
from vision.picture_file import MM_PER_INCH
from vision.picture_scale import scale_cover, scale_picture
from vision.shot import Laid

PAPER: tuple[int, int, int] = (250, 249, 246)
"""What lies beside the leaves: near white, a touch warm, sRGB."""
INSET_MM = 1.0
"""Cut off each long edge beyond the outermost hollow, against shadow and blur at the edge.
A shop takes more, 3 to 6 mm a joint edge (common practice); the preview keeps the leaf whole."""
INSET_SHARE = 0.005
"""The same without a scale, as a share of the leaf's width."""
END_SHARE = 0.02
"""Share of the length at each end, where corners are rounded, that does not bind the trim."""
MOST_TRIM_SHARE = 0.08
"""Never cut more than this share of the width off one edge beyond its middle line: a deeper
hollow is a fault of the leaf and is shown."""
LEAST_WHOLE_DPI = 10
"""From here up the resolution is a whole number of dots per inch, at a cost of a tenth at most."""


@dataclass(frozen=True, slots=True)
class Trim:
    """The columns of a picture that lie between the two straightened edges, and its rows."""

    left: int
    right: int
    top: int
    bottom: int


@dataclass(frozen=True, slots=True, eq=False)
class PlacedPicture:
    """One leaf's picture, as photographed, and how to move it into its place.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB; rows run along the leaf.
    on_leaf : ndarray of bool, same rows and columns
        False beside the leaf.
    moved : Laid
        How the drawing moves into the match.
    px_per_mm : float
        Pixels of this picture per millimetre; without a scale, per pixel of the photograph.
    gain : ndarray of float, shape (slices, 3), or None
        By what to multiply its linear light in equal slices of its length, from the top of the
        match (`vision.shown_light`); None leaves it as photographed.
    """

    pixels: NDArray[np.uint8]
    on_leaf: NDArray[np.bool_]
    moved: Laid
    px_per_mm: float
    gain: NDArray[np.float64] | None = None

    def __post_init__(self) -> None:
        self.pixels.setflags(write=False)
        self.on_leaf.setflags(write=False)


def straight_edges(on_leaf: NDArray[np.bool_], *, px_per_mm: float | None) -> Trim:
    """Return where to cut a leaf so that both long edges are straight and inside its outline.

    Parameters
    ----------
    on_leaf : ndarray of bool, shape (rows, columns)
        The leaf; rows run along it.
    px_per_mm : float or None
        For `INSET_MM`; without a scale `INSET_SHARE` of the width is taken.

    Returns
    -------
    Trim
        Half-open ranges of columns and rows; the whole picture if no leaf is in it.

    Examples
    --------
    >>> leaf = np.zeros((100, 40), bool)
    >>> leaf[5:95, 4:36] = True
    >>> straight_edges(leaf, px_per_mm=1.0)
    Trim(left=5, right=35, top=5, bottom=95)
    """
    rows, columns = on_leaf.shape
    held = np.flatnonzero(on_leaf.any(axis=1))
    if held.size == 0:
        return Trim(0, columns, 0, rows)
    top, bottom = int(held[0]), int(held[-1]) + 1
    skip = int((bottom - top) * END_SHARE)
    body = on_leaf[top + skip : bottom - skip]
    body = body[body.any(axis=1)]
    first = body.argmax(axis=1)
    last = columns - body[:, ::-1].argmax(axis=1)
    width = float(np.median(last - first))
    inset = INSET_SHARE * width if px_per_mm is None else INSET_MM * px_per_mm
    most = MOST_TRIM_SHARE * width
    left = min(float(first.max()), float(np.median(first)) + most) + inset
    right = max(float(last.min()), float(np.median(last)) - most) - inset
    if right - left < 1:
        return Trim(0, columns, top, bottom)
    return Trim(int(np.ceil(left)), int(np.floor(right)), top, bottom)


def whole_leaf(on_leaf: NDArray[np.bool_]) -> Trim:
    """Return the smallest upright frame around a leaf, nothing cut off."""
    rows, columns = (np.flatnonzero(on_leaf.any(axis=axis)) for axis in (1, 0))
    if rows.size == 0:
        return Trim(0, on_leaf.shape[1], 0, on_leaf.shape[0])
    return Trim(int(columns[0]), int(columns[-1]) + 1, int(rows[0]), int(rows[-1]) + 1)


def extent_of(label: str, picture: PlacedPicture, trim: Trim) -> LeafExtent:
    """Return the size at which a trimmed leaf goes into a match."""
    scale = picture.px_per_mm
    return LeafExtent(label, (trim.right - trim.left) / scale, (trim.bottom - trim.top) / scale)


def px_per_mm_to_fit(layout: Layout, long_px: int) -> float:
    """Return the scale at which a layout's longer side takes at most ``long_px`` pixels.

    With millimetres it is a whole number of dots per inch (from `LEAST_WHOLE_DPI` up), because a
    JPEG file holds no fraction of one and would otherwise print at not quite its real size.

    Examples
    --------
    >>> from vision.match_layout import Match, lay_out
    >>> door = lay_out([LeafExtent("01", 240.0, 2000.0)], Match.SLIP)
    >>> round(px_per_mm_to_fit(door, 1600) * MM_PER_INCH, 6)
    20.0
    """
    exact = long_px / max(layout.width_mm, layout.length_mm)
    dpi = exact * MM_PER_INCH
    if layout.unit != "mm" or dpi < LEAST_WHOLE_DPI:
        return exact
    return int(dpi + 1e-9) / MM_PER_INCH


def render(
    layout: Layout,
    pictures: Sequence[PlacedPicture],
    *,
    trims: Sequence[Trim],
    px_per_mm: float,
    paper: tuple[int, int, int] = PAPER,
) -> NDArray[np.uint8]:
    """Return a layout as a picture.

    Parameters
    ----------
    layout : Layout
        Where each leaf goes.
    pictures, trims : sequence
        One of each a placement, in its order.
    px_per_mm : float
        Pixels of the result per unit of the layout; see `px_per_mm_to_fit`.
    paper : tuple of int
        sRGB of what lies beside the leaves.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. Leaves of equal width are equally many pixels wide.

    Raises
    ------
    ValueError
        If there is not one picture and one trim a placement.
    """
    widths = [max(1, round(place.width_mm * px_per_mm)) for place in layout.placements]
    rows = max(1, round(layout.length_mm * px_per_mm))
    canvas = np.empty((rows, sum(widths), 3), np.uint8)
    colour = np.array(paper, np.uint8)
    start = 0
    for place, picture, trim, width in zip(layout.placements, pictures, trims, widths, strict=True):
        leaf, cover = _scaled(picture, trim, width=width, place=place, px_per_mm=px_per_mm)
        top = round(place.y_mm * px_per_mm)
        _lay_on(canvas[:, start : start + width], leaf, cover, top=top, paper=colour)
        start += width
    canvas.setflags(write=False)
    return canvas


def _scaled(
    picture: PlacedPicture, trim: Trim, *, width: int, place: Placement, px_per_mm: float
) -> tuple[NDArray[np.uint8], NDArray[np.uint8] | None]:
    """Return one trimmed leaf at its size and laid its way, and its cover (0-255) if not whole."""
    rows = max(1, round(place.length_mm * px_per_mm))
    part = np.s_[trim.top : trim.bottom, trim.left : trim.right]
    pixels = _moved(scale_picture(picture.pixels[part], rows=rows, columns=width), picture.moved)
    if picture.gain is not None:
        pixels = _relit(pixels, picture.gain)
    on_leaf = picture.on_leaf[part]
    if on_leaf.all():
        return pixels, None
    cover = scale_cover(on_leaf, rows=rows, columns=width)
    return pixels, _moved(cover, picture.moved)


def _relit(rgb: NDArray[np.uint8], gain: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return a leaf with its light multiplied along its length, evenly from slice to slice."""
    slices = (np.arange(len(gain)) + 0.5) / len(gain)
    rows = (np.arange(len(rgb)) + 0.5) / len(rgb)
    each_row = [np.interp(rows, slices, one) for one in np.log(gain).T]
    factor = np.exp(np.stack(each_row, axis=1)).astype(np.float32)
    return linear_to_srgb8(srgb_to_linear(rgb) * factor[:, np.newaxis])


def _moved(image: NDArray[np.uint8], laid: Laid) -> NDArray[np.uint8]:
    """Return what `vision.laying.lay_pixels` gives, copied row by row, which is faster here."""
    rows, columns = reverses_rows(laid), reverses_columns(laid)
    if not (rows or columns):
        return image
    return np.asarray(cv2.flip(image, 1 if not rows else -1 if columns else 0), dtype=np.uint8)


def _lay_on(
    ground: NDArray[np.uint8],
    leaf: NDArray[np.uint8],
    cover: NDArray[np.uint8] | None,
    *,
    top: int,
    paper: NDArray[np.uint8],
) -> None:
    """Paint a leaf and the paper around it; only rows with an edge in them are blended."""
    leaf = leaf[: len(ground) - top]
    end = top + len(leaf)
    ground[:top] = paper
    ground[top:end] = leaf
    ground[end:] = paper
    if cover is None:
        return
    cover = cover[: len(leaf)]
    edged = np.flatnonzero(cover.min(axis=1) < 255)
    share = cover[edged].astype(np.float32)[..., np.newaxis] / 255.0
    blend = leaf[edged] * share + paper.astype(np.float32) * (1.0 - share)
    ground[top + edged] = np.rint(blend).astype(np.uint8)
