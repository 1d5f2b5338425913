"""The cells of square markers, read in a photograph at full size."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

CELLS = 6
"""Cells along the side of a marker of this dictionary, its black border included."""
ACROSS, MIDDLE = 8, slice(2, 6)
"""Places across a cell, and those of them that are read: its neighbours blur into the rest."""
LEAST_CONTRAST = 25.0
"""Levels between paper and ink below which there is no edge and no marker."""


def dictionary_of(known: Sequence[int] = ()) -> cv2.aruco.Dictionary:
    """Return the markers of 4 by 4 cells, dictionary of 250: all, or those ``known`` alone."""
    every = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    if not known:
        return every
    cells = np.ascontiguousarray(every.bytesList[list(known)])
    return cv2.aruco.Dictionary(cells, every.markerSize, every.maxCorrectionBits)


def read_cells(
    rgb: NDArray[np.uint8], quads: NDArray[np.float64], dictionary: cv2.aruco.Dictionary
) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
    """Return which squares are markers: their places in the dictionary, and their corners.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    quads : ndarray, shape (n, 4, 2)
        Corners of dark squares, photo pixels, clockwise from any.
    dictionary : cv2.aruco.Dictionary

    Returns
    -------
    places : ndarray of int, shape (m,)
    corners : ndarray, shape (m, 4, 2)
        Clockwise from the marker's own top left.
    """
    places, corners = [], []
    for quad in quads:
        bits = _bits(rgb, quad)
        if bits is None or bits[[0, -1]].any() or bits[:, [0, -1]].any():
            continue
        inner = np.ascontiguousarray(bits[1:-1, 1:-1].astype(np.uint8))
        is_known, place, quarter_turns = dictionary.identify(inner, 0.0)
        if is_known:
            places.append(place)
            corners.append(np.roll(quad, quarter_turns, axis=0))
    return np.array(places, dtype=int), np.array(corners).reshape(-1, 4, 2)


def _bits(rgb: NDArray[np.uint8], quad: NDArray[np.float64]) -> NDArray[np.bool_] | None:
    """Return which cells are white, shape (CELLS, CELLS); None without dark and light."""
    square = np.array([[0, 0], [CELLS, 0], [CELLS, CELLS], [0, CELLS]], dtype=np.float32)
    to_photo = cv2.getPerspectiveTransform(square, quad.astype(np.float32))
    one = (np.arange(CELLS * ACROSS) + 0.5) / ACROSS
    grid = np.stack(np.meshgrid(one, one), axis=2).astype(np.float32)
    at = cv2.perspectiveTransform(grid, to_photo)
    light = cv2.remap(rgb, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    grey = light.mean(axis=2).reshape(CELLS, ACROSS, CELLS, ACROSS)
    cells = grey[:, MIDDLE, :, MIDDLE].mean(axis=(1, 3))
    ink, paper = np.percentile(cells, (20, 95))
    if paper - ink < LEAST_CONTRAST:
        return None
    return np.asarray(cells > (ink + paper) / 2)
