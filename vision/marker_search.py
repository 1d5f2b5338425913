"""Square markers found in a photograph, and their centres to a few hundredths of a pixel.

They are sought in a reduced picture, which takes a tenth of the time, and measured in small windows
of the full one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from vision.board import FINE_LONG_PX, shrink
from vision.marker_cells import CELLS, LEAST_CONTRAST, dictionary_of, read_cells

SEARCH_LONG_PX = FINE_LONG_PX
"""Long side, px, of the picture that is searched: a 40 mm marker then is 17 px wide in a view of
3.5 m, and is read."""
WINDOWS, FIRST_WINDOWS = (7, 23), (15,)
"""Sides, px, of the squares whose mean parts dark from light, in a full search and a first look."""
LIKE = (0.5, 2.0)
"""Sides of squares that may be markers, over the usual side of the markers read."""
REACHES = ((0.75, 1e9), (0.6, 6.0))
"""How far an edge is looked for to either side, first and second time: in cells, for the border is
one cell wide inside and the paper white for more than one outside; and at most, px."""
ALONG = (0.06, 0.94)
"""Part of a side along which its edge is read: the corners themselves are rounded by the lens."""
LINES, PLACES = (8, 16), 15
"""Lines across each side, first and second time, and places on each."""
LOOSE_CELLS = 0.12
"""RMS, in cells, by which an edge may leave its straight line."""


@dataclass(frozen=True, slots=True, eq=False)
class Markers:
    """Markers in view, each id once.

    Parameters
    ----------
    ids : ndarray of int, shape (n,)
    centres_px : ndarray, shape (n, 2)
        Where the diagonals cross, photo pixels. Corners are drawn inwards when they are set, by
        half a pixel and more; the crossing is not.
    corners_px : ndarray, shape (n, 4, 2)
        As set: clockwise from the marker's own top left.
    """

    ids: NDArray[np.int_]
    centres_px: NDArray[np.float64]
    corners_px: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.ids)


def find_markers(
    rgb: NDArray[np.uint8],
    *,
    reduced: tuple[NDArray[np.uint8], float] | None = None,
    wanted: Sequence[int] = (),
    together: Sequence[int] = (),
) -> Markers:
    """Return the markers (4 by 4 cells, dictionary of 250) of a photograph.

    Most of the time goes into holding every dark square against every marker of the dictionary.
    Where it is known which should be in view, a first look asks for those alone; if it misses one,
    the picture is searched as if nothing were known.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        The photograph at full size.
    reduced : tuple of ndarray and float, or None
        The same picture made smaller, and photo pixels to one of its pixels, if it is at hand
        (``board.fine, board.fine_step``).
    wanted : sequence of int
        Ids that should all be in view, if they are known.
    together : sequence of int
        Ids that are in view all or none of them.
    """
    picture = _Picture(rgb, *(reduced if reduced is not None else shrink(rgb, SEARCH_LONG_PX)))
    if wanted:
        ids, quads = _search(picture, windows=FIRST_WINDOWS, known=(*wanted, *together))
        found = set(ids.tolist())
        is_whole = len(found.intersection(together)) in (0, len(together))
        if is_whole and found.issuperset(wanted):
            return _each_once(ids, quads)
    return _each_once(*_search(picture, windows=WINDOWS))


@dataclass(frozen=True, slots=True, eq=False)
class _Picture:
    """A photograph, the same made smaller, and photo pixels to one of its pixels."""

    rgb: NDArray[np.uint8]
    small: NDArray[np.uint8]
    step: float


def _search(
    picture: _Picture, *, windows: tuple[int, ...], known: Sequence[int] = ()
) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
    """Return ids and corners, photo pixels, of markers: of any, or of those ``known`` alone.

    One small marker in forty shows its outline in the reduced picture, but not all its cells;
    squares of a marker's size that could not be read there are read at full size.
    """
    dictionary = dictionary_of(known)
    grey = np.asarray(cv2.cvtColor(picture.small, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    places, read, unread = _detect(grey, windows, dictionary)
    more, again = read_cells(
        picture.rgb, _set(picture, unread[_are_as_large(unread, read)])[0], dictionary
    )
    new = ~np.isin(more, places)
    read, good = _set(picture, read)
    places = np.concatenate([places[good], more[new]])
    ids = np.array(known)[places] if known else places
    return ids, np.concatenate([read, again[new]])


def _detect(
    grey: NDArray[np.uint8], windows: tuple[int, ...], dictionary: cv2.aruco.Dictionary
) -> tuple[NDArray[np.int_], NDArray[np.float64], NDArray[np.float64]]:
    """Return places in the dictionary, their corners, and squares that could not be read."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    # Of the long side: 11 px to a side. Cells below 2 px are not read, and take half the time.
    parameters.minMarkerPerimeterRate = 0.03
    # Small markers are read cell by cell at this size; at the usual 4 one in thirty was lost.
    parameters.perspectiveRemovePixelPerCell = 8
    parameters.adaptiveThreshWinSizeMin = windows[0]
    parameters.adaptiveThreshWinSizeMax = windows[-1]
    parameters.adaptiveThreshWinSizeStep = max(1, windows[-1] - windows[0])
    detector = cv2.aruco.ArucoDetector(dictionary, parameters)
    corners, ids, unread = detector.detectMarkers(grey)
    places = np.ravel(ids).astype(int) if len(corners) else np.zeros(0, int)
    return places, _quads(corners), _quads(unread)


def _quads(corners: Sequence[MatLike]) -> NDArray[np.float64]:
    return np.asarray(corners, dtype=np.float64).reshape(-1, 4, 2)


def _are_as_large(quads: NDArray[np.float64], markers: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which squares have sides like those of the markers; none where there are no markers."""
    if len(markers) == 0:
        return np.zeros(len(quads), bool)
    sides, usual = _sides(quads), float(np.median(_sides(markers)))
    return np.asarray(((sides > LIKE[0] * usual) & (sides < LIKE[1] * usual)).all(axis=1))


def _sides(quads: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.linalg.norm(np.roll(quads, -1, axis=1) - quads, axis=2))


def _set(
    picture: _Picture, quads: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int_]]:
    """Return quads set onto their edges in the full picture, and which of those given they are."""
    quads, kept = (quads + 0.5) * picture.step - 0.5, np.arange(len(quads))
    for reach, lines in zip(REACHES, LINES, strict=True):
        quads, good = _set_corners(picture.rgb, quads, reach, lines)
        quads, kept = quads[good], kept[good]
    return quads, kept


def _set_corners(
    rgb: NDArray[np.uint8],
    quads: NDArray[np.float64],
    reach_most: tuple[float, float],
    lines: int,
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return quads moved onto their edges, and which of them have four clear edges.

    Each side is crossed by short lines; on each the edge lies where the light, added up from the
    ink outwards, says that paper begins. What blurs both sides alike does not move it. A straight
    line is laid through a side's edges, and the corners are where the lines cross.
    """
    if len(quads) == 0:
        return quads, np.zeros(0, bool)
    start, side = quads, np.roll(quads, -1, axis=1) - quads
    length = np.linalg.norm(side, axis=2, keepdims=True)
    outward = np.stack([side[..., 1], -side[..., 0]], axis=2) / length
    cells, most_px = reach_most
    reach = np.minimum(cells * length.mean(axis=1, keepdims=True) / CELLS, most_px)
    t = np.linspace(*ALONG, lines)[:, None]
    d = ((np.arange(PLACES) + 0.5) / PLACES * 2 - 1)[None, :]
    at = (
        start[:, :, None, None, :]
        + t[..., None] * side[:, :, None, None, :]
        + (d[..., None] * reach[:, :, None, None, :]) * outward[:, :, None, None, :]
    )
    light = _read(rgb, at)
    third = PLACES // 3
    sides = light.shape[:2]
    ink, paper = (
        np.sort(part.reshape(*sides, -1), axis=2)[..., third * lines // 2, None, None]
        for part in (light[..., :third], light[..., -third:])
    )
    contrast = np.maximum(paper - ink, 1e-6)
    white = np.clip((light - ink) * (1 / contrast), -0.3, 1.3).mean(axis=3)
    edge = (1 - 2 * white) * reach
    offset, slope, loose = _straight(t[:, 0], edge)
    moved = _cross(start, side, outward, offset, slope)
    good = (contrast[..., 0, 0] > LEAST_CONTRAST) & (loose < LOOSE_CELLS * length[..., 0] / CELLS)
    return moved, np.asarray(good.all(axis=1) & np.isfinite(moved).all(axis=(1, 2)))


def _read(rgb: NDArray[np.uint8], at: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return the mean of the three channels at places of the photograph."""
    flat = at.reshape(-1, at.shape[-2], 2).astype(np.float32)
    read = cv2.remap(
        rgb,
        np.ascontiguousarray(flat[..., 0]),
        np.ascontiguousarray(flat[..., 1]),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    mean = cv2.transform(read.astype(np.float32), np.full((1, 3), 1 / 3, np.float32))
    return np.asarray(mean.reshape(at.shape[:-1]))


def _straight(
    t: NDArray[np.float64], edge: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return where a line through each side's edges begins, its slope, and the RMS beside it.

    Lines that lie far from the others of their side (dirt, a glued seam) count for nothing.
    """
    weight = np.ones_like(edge)
    for _ in range(3):
        total = weight.sum(axis=2)
        mean_t, mean_e = (weight * t).sum(axis=2) / total, (weight * edge).sum(axis=2) / total
        dt = t - mean_t[..., None]
        slope = (weight * dt * edge).sum(axis=2) / (weight * dt * dt).sum(axis=2)
        off = edge - mean_e[..., None] - slope[..., None] * dt
        spread = 1.4826 * np.median(np.abs(off), axis=2, keepdims=True) + 0.02
        weight = 1.0 / (1.0 + (off / (2.5 * spread)) ** 4)
    loose = np.sqrt((weight * off**2).sum(axis=2) / total)
    return mean_e - slope * mean_t, slope, loose


def _cross(
    start: NDArray[np.float64],
    side: NDArray[np.float64],
    outward: NDArray[np.float64],
    offset: NDArray[np.float64],
    slope: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return where each moved side crosses the one before it: the corners, in their old order."""
    point = start + outward * offset[..., None]
    way = side + outward * slope[..., None]
    before, way_before = np.roll(point, 1, axis=1), np.roll(way, 1, axis=1)
    gap = point - before
    turn = way_before[..., 0] * way[..., 1] - way_before[..., 1] * way[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (gap[..., 0] * way[..., 1] - gap[..., 1] * way[..., 0]) / turn
    return np.asarray(before + s[..., None] * way_before)


def centres_of(quads: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where the diagonals of quadrangles (n, 4, 2) cross, (n, 2)."""
    a, b, c, d = (quads[:, corner] for corner in range(4))
    one, other, gap = c - a, d - b, b - a
    s = (gap[:, 0] * other[:, 1] - gap[:, 1] * other[:, 0]) / (
        one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    )
    return np.asarray(a + s[:, None] * one)


def _each_once(ids: NDArray[np.int_], quads: NDArray[np.float64]) -> Markers:
    """Leave out numbers seen at two places: one is not what it seems, and nothing tells which."""
    numbers, first, count = np.unique(ids, return_index=True, return_counts=True)
    once = first[count == 1]
    return Markers(numbers[count == 1], centres_of(quads[once]), quads[once])
