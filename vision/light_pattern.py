"""What varies within a slice of a leaf, kept in few numbers that two photographs can be told by.

Where light and dark lie within a slice is laid onto fixed patterns of plus and minus. The numbers
that come out add like the pictures they stand for, so that the difference of two photographs'
numbers is that of their log ratio, in which the wood's own lines cancel; their squares add up to
the variance, right to about a quarter (a sketch by random signs: Alon, Matias and Szegedy 1996,
doi 10.1145/237814.237823). Patterns are even or odd in both directions: of a leaf that lay turned
over or end for end some numbers change their sign, and the rest stand.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

import cv2
import numpy as np
from numpy.typing import NDArray

Doubles = NDArray[np.float64]

ROWS, COLUMNS = 48, 32
"""Cells of a slice along and across the leaf: some 3 by 10 mm on a leaf of 2 m by 240 mm, so that
fiddleback is told apart along, ribbon across, and fine lines that lie a little off are not."""
EACH = 8
"""Patterns of each kind: even or odd along, even or odd across."""
PATTERNS = 4 * EACH
ALONG = np.repeat([1.0, 1.0, -1.0, -1.0], EACH)
ACROSS = np.repeat([1.0, -1.0, 1.0, -1.0], EACH)
"""By what each number is multiplied when rows, or columns, come in the other order."""
WHOLE = 250
"""Of 255: a cell of so much wood counts."""
LEAST_CELLS = ROWS * COLUMNS // 4
FINE = 3
"""Pixels a cell that are looked at each way; more tell no more."""


def pattern_of(
    light: NDArray[np.float32], wood: NDArray[np.bool_], weights: NDArray[np.float32]
) -> tuple[float, ...]:
    """Return the numbers of one slice; none where too little of it is wood.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, 3)
        Linear, of the slice, from the leaf's leftmost to its rightmost column.
    wood : ndarray of bool, shape (rows, columns)
    weights : ndarray of float32, shape (3,)
        Of R, G, B in luminance.

    Returns
    -------
    tuple of float
        Of length `PATTERNS`: natural log of luminance, less its mean and its trend along the rows.
    """
    step = tuple(
        max(1, int(pixels / cells / FINE))
        for pixels, cells in zip(wood.shape, (ROWS, COLUMNS), strict=True)
    )
    luminance = cv2.transform(light, weights[None]).reshape(wood.shape)
    luminance, wood = luminance[:: step[0], :: step[1]], wood[:: step[0], :: step[1]]
    size = (COLUMNS, ROWS)
    share = cv2.resize(
        np.ascontiguousarray(wood).view(np.uint8) * 255, size, interpolation=cv2.INTER_AREA
    )
    seen = cv2.resize(np.ascontiguousarray(luminance), size, interpolation=cv2.INTER_AREA)
    known = share >= WHOLE
    if np.count_nonzero(known) < LEAST_CELLS:
        return ()
    cells = np.log(np.maximum(seen, 1e-4)).astype(np.float64)
    off = np.where(known, _off_trend(cells, known), 0.0)
    kinds = _kinds(off) / np.sqrt(np.count_nonzero(known))
    return tuple(np.round((kinds @ SIGNS.T).ravel(), 5).tolist())


def _off_trend(cells: Doubles, known: NDArray[np.bool_]) -> Doubles:
    """Return cells less the straight line down the rows that is nearest to those known."""
    count = np.count_nonzero(known, axis=1)
    row = np.arange(ROWS) - (ROWS - 1) / 2
    row -= count @ row / count.sum()
    sums = np.einsum("rc,rc->r", cells, known.astype(np.float64))
    spread = count @ row**2
    slope = sums @ row / spread if spread > 0 else 0.0
    return np.asarray(cells - sums.sum() / count.sum() - slope * row[:, None])


def as_it_lies(pattern: Sequence[float], *, rows_turned: bool, columns_turned: bool) -> Doubles:
    """Return the numbers as if the leaf had not been turned over or end for end."""
    found = np.asarray(pattern, np.float64)
    found = found * ALONG if rows_turned else found
    return np.asarray(found * ACROSS if columns_turned else found)


def variance_of(pattern: Doubles) -> Doubles:
    """Return the variance that numbers stand for, or their difference; the last axis is theirs."""
    return np.asarray(np.square(pattern).sum(axis=-1) / EACH)


def _kinds(cells: Doubles) -> Doubles:
    """Return the even and odd parts of cells, shape (4, ROWS * COLUMNS / 4); squares add up."""
    top, bottom = cells[: ROWS // 2], cells[ROWS // 2 :][::-1]
    parts = []
    for along in (top + bottom, top - bottom):
        left, right = along[:, : COLUMNS // 2], along[:, COLUMNS // 2 :][:, ::-1]
        parts += [(left + right).ravel() / 2, (left - right).ravel() / 2]
    return np.array(parts)


def _signs() -> Doubles:
    """Return plus and minus ones, shape (EACH, ROWS * COLUMNS / 4), the same for ever."""
    count = EACH * ROWS * COLUMNS // 4
    blocks = -(-count // 256)
    drawn = b"".join(sha256(f"leaf light {block}".encode()).digest() for block in range(blocks))
    bits = np.unpackbits(np.frombuffer(drawn, np.uint8))[:count]
    return np.asarray((2.0 * bits - 1.0).reshape(EACH, -1), np.float64)


SIGNS = _signs()
