"""Paint a `Layout` from one picture a leaf. Decides nothing about where a leaf goes.

Long edges are trimmed straight inside the leaf's outline, as a shop cuts a joint, so that no
board shows between two leaves. Upright pieces are scaled down by averaging areas and only then
moved, so that a leaf and its booked twin are mirror images to the pixel; what lies at a slant is
painted by `vision.piece_render`.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.gain_tables import relit
from vision.kept_arrays import KeptArrays
from vision.laying import compose, reverses_columns, reverses_rows
from vision.layout import Layout, LeafExtent, Placement
from vision.picture_file import MM_PER_INCH
from vision.picture_scale import scale_cover, scale_picture
from vision.piece import box_of
from vision.piece_render import paint_pieces
from vision.placed_picture import PlacedPicture, Trim
from vision.shot import Laid

PAPER = (250, 249, 246)
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


MOST_KEPT_BYTES = 96_000_000
"""Of painted leaves kept for the next look at them: a dozen at print size."""


MOST_OFF = 0.001
"""Share by which a face may be painted too large or too small for the sake of equal pieces."""
Paper = tuple[int, int, int]
_painted: KeptArrays[NDArray[np.uint8]] = KeptArrays(MOST_KEPT_BYTES)


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
    return LeafExtent(label, trim.width / picture.across_px_per_mm, trim.height / picture.px_per_mm)


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
    paper: Paper = PAPER,
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
        sRGB.

    Raises
    ------
    ValueError
        If there is not one picture and one trim a placement.
    """
    if not layout.is_upright:
        return paint_pieces(layout, pictures, trims=trims, px_per_mm=px_per_mm, paper=paper)
    boxes = pixel_boxes(layout, px_per_mm)
    rows = max(1, round(layout.length_mm * px_per_mm), *(box.bottom for box in boxes))
    canvas = np.empty((rows, max(box.right for box in boxes), 3), np.uint8)
    if sum(box.width * box.height for box in boxes) < canvas.shape[0] * canvas.shape[1]:
        canvas[:] = np.tile(np.array(paper, np.uint8), (canvas.shape[1], 1))
    for place, picture, trim, box in zip(layout.placements, pictures, trims, boxes, strict=True):
        piece = _piece(place, picture, trim, size=(box.height, box.width), paper=paper)
        canvas[box.top : box.bottom, box.left : box.right] = piece
    canvas.setflags(write=False)
    return canvas


def pixel_boxes(layout: Layout, px_per_mm: float) -> tuple[Trim, ...]:
    """Return the pixels that each upright piece takes.

    Equal pieces take equally many, each starting where the pieces to its left, and above it, end.
    Where rounding so often would make the face too wide or too long, by more than a pixel and
    `MOST_OFF`, every edge is rounded by itself instead, from the rim that is nearer, which keeps
    the face symmetric.
    """
    alike = _equal_boxes(layout, px_per_mm)
    found = (max(box.right for box in alike), max(box.bottom for box in alike))
    wanted = (layout.width_mm * px_per_mm, layout.length_mm * px_per_mm)
    if all(abs(f - w) <= max(1.0, MOST_OFF * w) for f, w in zip(found, wanted, strict=True)):
        return alike
    places = layout.placements
    return tuple(
        Trim(
            *_edges_px(place.x_mm, place.width_mm, layout.width_mm, px_per_mm),
            *_edges_px(place.y_mm, place.length_mm, layout.length_mm, px_per_mm),
        )
        for place in places
    )


def _edges_px(start_mm: float, size_mm: float, whole_mm: float, px_per_mm: float) -> list[int]:
    whole = max(1, round(whole_mm * px_per_mm))
    edges = []
    for edge in (start_mm, start_mm + size_mm):
        from_start = round(edge * px_per_mm)
        near_end = edge > whole_mm / 2
        edges.append(whole - round((whole_mm - edge) * px_per_mm) if near_end else from_start)
    return [edges[0], max(edges[1], edges[0] + 1)]


def _equal_boxes(layout: Layout, px_per_mm: float) -> tuple[Trim, ...]:
    boxes: dict[int, Trim] = {}
    places = layout.placements
    for at in sorted(range(len(places)), key=lambda at: (places[at].x_mm, places[at].y_mm)):
        place = places[at]
        panel = layout.panels[place.panel].box if layout.panels else box_of(place.outline_mm)
        left, top = round(panel.left * px_per_mm), round(panel.top * px_per_mm)
        for beside, box in boxes.items():
            other = places[beside]
            if other.panel != place.panel:
                continue
            if _is_next(other.x_mm + other.width_mm, place.x_mm) and _overlap(
                (other.y_mm, other.length_mm), (place.y_mm, place.length_mm)
            ):
                left = box.right
            if _is_next(other.y_mm + other.length_mm, place.y_mm) and _overlap(
                (other.x_mm, other.width_mm), (place.x_mm, place.width_mm)
            ):
                top = box.bottom
        wide = max(1, round(place.width_mm * px_per_mm))
        high = max(1, round(place.length_mm * px_per_mm))
        boxes[at] = Trim(left, left + wide, top, top + high)
    return tuple(boxes[at] for at in range(len(places)))


def _is_next(end: float, start: float) -> bool:
    return abs(end - start) < 1e-3


def _overlap(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return min(one[0] + one[1], other[0] + other[1]) - max(one[0], other[0]) > 1e-3


def _piece(
    place: Placement, picture: PlacedPicture, trim: Trim, *, size: tuple[int, int], paper: Paper
) -> NDArray[np.uint8]:
    """Return one piece painted at its size, kept from before if the picture has a name."""
    window = _window(place, picture, trim)
    if not picture.name:
        return _paint(picture, trim, window, size=size, paper=paper)
    gain = None if picture.gain is None else picture.gain.tobytes()
    key = (picture.name, window, trim, picture.moved, size, gain, paper)
    return _painted.get(key, lambda: _paint(picture, trim, window, size=size, paper=paper))


def _window(place: Placement, picture: PlacedPicture, trim: Trim) -> Trim:
    """Return the pixels of the photograph from which an upright piece is cut."""
    as_lies = box_of(place.on_leaf_mm)
    photographed = compose(picture.moved, place.laid)
    across, along = picture.across_px_per_mm, picture.px_per_mm
    left, right = (round(side * across) for side in (as_lies.left, as_lies.right))
    top, bottom = (round(side * along) for side in (as_lies.top, as_lies.bottom))
    if reverses_columns(photographed):
        left, right = trim.width - right, trim.width - left
    if reverses_rows(photographed):
        top, bottom = trim.height - bottom, trim.height - top
    return Trim(
        trim.left + max(0, left),
        trim.left + min(trim.width, max(right, left + 1)),
        trim.top + max(0, top),
        trim.top + min(trim.height, max(bottom, top + 1)),
    )


def _paint(
    picture: PlacedPicture, trim: Trim, window: Trim, *, size: tuple[int, int], paper: Paper
) -> NDArray[np.uint8]:
    """Return one piece at its size and laid its way, on paper where the leaf has a hole."""
    rows, columns = size
    part = np.s_[window.top : window.bottom, window.left : window.right]
    pixels = _moved(scale_picture(picture.pixels[part], rows=rows, columns=columns), picture.moved)
    if picture.gain is not None:
        start, end = ((row - trim.top) / trim.height for row in (window.top, window.bottom))
        if reverses_rows(picture.moved):
            start, end = 1.0 - end, 1.0 - start
        pixels = relit(pixels, picture.gain, start=start, end=end)
    on_leaf = picture.on_leaf[part]
    if on_leaf.all():
        return pixels
    cover = _moved(scale_cover(on_leaf, rows=rows, columns=columns), picture.moved)
    return _on_paper(pixels, cover, paper)


def _moved(image: NDArray[np.uint8], laid: Laid) -> NDArray[np.uint8]:
    """Return what `vision.laying.lay_pixels` gives, copied row by row, which is faster here."""
    rows, columns = reverses_rows(laid), reverses_columns(laid)
    if not (rows or columns):
        return image
    return np.asarray(cv2.flip(image, 1 if not rows else -1 if columns else 0), dtype=np.uint8)


def _on_paper(
    pixels: NDArray[np.uint8], cover: NDArray[np.uint8], paper: Paper
) -> NDArray[np.uint8]:
    """Return a piece blended with the paper by its cover; only rows with an edge in them are."""
    edged = np.flatnonzero(cover.min(axis=1) < 255)
    share = cover[edged].astype(np.float32)[..., np.newaxis] / 255.0
    blend = pixels[edged] * share + np.array(paper, np.float32) * (1.0 - share)
    done = pixels.copy()
    done[edged] = np.rint(blend).astype(np.uint8)
    return done
