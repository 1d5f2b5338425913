"""How much of each pixel is wood, and the line where it is one half."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

NEAR_STEP = 4
"""Fine pixels between places where the wood nearby is worked out; it changes slowly."""
SPREAD_PX = 8000
"""Pixels of wood, about, from which the spread of figure is told: more only take longer."""
NEAR_REACH = 1.5
"""Standard deviation of the local mean of wood, in those steps."""
BOARD_LIKE = 3.0
"""Standard deviations of the board within which a pixel inside the leaf may be board seen through
a hole, and counts little for the wood nearby."""
SHADE_LIKE = 0.35
"""How much darker than the open board, log light, board in a hole or beside a leaf may be."""
BOARD_LIKE_WEIGHT = 0.01
OVERALL_WEIGHT = 0.02
"""Weight of the leaf's wood as a whole, which stands in where a wide hole has no wood nearby."""
LEAST_CONTRAST = 0.02
"""Log contrast below which light and its logarithm mix alike, to a hundredth of a pixel."""
LEAST_APART = 6.0
"""Standard deviations between wood and board from which single pixels tell one from the other."""

_TO_HUES = np.array(
    [[1 / 3, 1 / 3, 1 / 3], [1 / 2, 0, -1 / 2], [-1 / 4, 1 / 2, -1 / 4]], dtype=np.float64
)
"""log RGB -> log lightness, red-blue and green-magenta; the last two do not see shadows."""
_FROM_HUES = np.linalg.inv(_TO_HUES)

_CONTRASTS = np.linspace(-5.0, 5.0, 200)
_HALF_MIXED = np.log((np.exp(_CONTRASTS) + 1) / 2) / _CONTRASTS
"""Log of wood over board, and what part of that log a pixel shows which is half wood."""


def to_hues(ratio: Floats, *, noise: NDArray[np.float64] | None = None) -> Floats:
    """Return log lightness and the two log hues of log(photo / board), in ``noise`` if given."""
    matrix = _TO_HUES if noise is None else _TO_HUES / noise[:, None]
    return np.asarray(cv2.transform(ratio, matrix.astype(np.float32)), dtype=np.float32)


def hue_noise(covariance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the standard deviations of log lightness and log hues of a covariance in log RGB."""
    return np.asarray(np.sqrt(np.diag(_TO_HUES @ covariance @ _TO_HUES.T)))


@dataclass(frozen=True, slots=True, eq=False)
class WoodScale:
    """How board and the wood nearby are told apart, every `NEAR_STEP` pixels of a window.

    Parameters
    ----------
    toward : ndarray of float32, shape (rows, columns, 3)
        Direction in hues from board to wood: 0 on the board, 1 at the wood.
    bend : ndarray of float32, shape (rows, columns, 2)
        Log contrast along it, and how far wood and board lie apart in standard deviations of
        both.
    near : ndarray of float32, shape (rows, columns, 3)
        The wood nearby, in hues.
    """

    toward: Floats
    bend: Floats
    near: Floats

    def share(self, hues: Floats) -> Floats:
        """Return how much of each pixel is wood: 0 on the board, about 1 on the leaf.

        ``hues`` shows the same window, at whatever scale. Light mixes, not its logarithm: a pixel
        half on a pale leaf and half on a dark board is nearer the leaf in log light.
        """
        full = hues.shape[1::-1]
        direction = cv2.resize(self.toward, full, interpolation=cv2.INTER_LINEAR)
        share = cv2.transform(cv2.multiply(direction, hues), np.ones((1, 3), np.float32))
        np.clip(share, -1.0, 2.0, out=share)
        contrast = _widen(self.bend[..., 0], full)
        # Wood as light as the board: nothing bends, and 0 / 0 would be taken.
        np.copyto(contrast, np.float32(LEAST_CONTRAST), where=np.abs(contrast) < LEAST_CONTRAST)
        grown = cv2.exp(cv2.multiply(share, contrast)) - 1
        return np.asarray(grown / (cv2.exp(contrast) - 1), dtype=np.float32)

    def apart(self, size: tuple[int, int]) -> Floats:
        """Return how far wood and board lie apart, standard deviations, columns and rows given."""
        return _widen(self.bend[..., 1], size)

    def window(self, rows: slice, columns: slice) -> WoodScale:
        """Return the scale of a part of the window, in steps."""
        at = (rows, columns)
        return WoodScale(self.toward[at], self.bend[at], self.near[at])


def _widen(plane: Floats, size: tuple[int, int]) -> Floats:
    wide = cv2.resize(np.ascontiguousarray(plane), size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(wide, dtype=np.float32)


def like_board(hues: Floats, noise: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Mark the pixels (255) that may well be board, in the open or in a shadow."""
    limit = BOARD_LIKE * noise
    low, high = (-SHADE_LIKE, -limit[1], -limit[2]), (limit[0], limit[1], limit[2])
    return np.asarray(cv2.inRange(hues, low, high), dtype=np.uint8)


def scale_wood(
    hues: Floats, core: NDArray[np.uint8], board: NDArray[np.uint8], noise: NDArray[np.float64]
) -> WoodScale:
    """Return how to tell board from wood, place by place.

    Between the board (0) and the wood nearby (a local mean) the share is read along the
    direction that parts the two best, Fisher's linear discriminant, with the spread of board and
    of wood figure as the within-class scatter.

    Parameters
    ----------
    hues : ndarray of float32, shape (rows, columns, 3)
        See `to_hues`.
    core : ndarray of uint8, shape (rows, columns)
        1 on what is surely within the leaf's outline, openings included.
    board : ndarray of uint8, shape (rows, columns)
        See `like_board`.
    noise : ndarray, shape (3,)
        Standard deviations of the board in ``hues``.
    """
    rows, columns = core.shape
    weight = core.astype(np.float32)
    weight[(core & board) > 0] = BOARD_LIKE_WEIGHT
    size = (-(-columns // NEAR_STEP), -(-rows // NEAR_STEP))
    total = _calm(np.asarray(cv2.multiply(hues, cv2.merge([weight] * 3)), np.float32), size)
    count = _calm(weight, size)
    is_inner = count > 0.5
    if is_inner.any():
        overall = np.median([one[is_inner] / count[is_inner] for one in cv2.split(total)], axis=1)
        reached = OVERALL_WEIGHT * (count > 1e-5).astype(np.float32)
        total += reached[..., None] * overall
        count += reached
    near = np.asarray(total / np.maximum(count, np.float32(1e-6))[..., None], np.float32)
    toward, bend = _toward_wood(hues, near, core, noise)
    toward[count < 1e-5] = 0
    return WoodScale(toward.astype(np.float32), bend.astype(np.float32), near)


def _calm(picture: Floats, size: tuple[int, int]) -> Floats:
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.GaussianBlur(small, (0, 0), NEAR_REACH), dtype=np.float32)


def _toward_wood(
    hues: Floats, near: Floats, core: NDArray[np.uint8], noise: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return `WoodScale.toward` and `WoodScale.bend`."""
    y, x = np.nonzero(core[::2, ::2])
    some = slice(None, None, max(2, len(y) // SPREAD_PX))
    y, x = y[some] * 2, x[some] * 2
    spread = (hues[y, x] - near[y // NEAR_STEP, x // NEAR_STEP]).astype(np.float64)
    spread -= spread.mean(axis=0)
    scatter = spread.T @ spread / max(1, len(spread) - 1) + np.diag(noise**2)
    direction = near.astype(np.float64) @ np.linalg.inv(scatter)
    whole = np.maximum((direction * near).sum(axis=-1), 1e-6)
    mixed = np.log((np.exp(near @ _FROM_HUES.T) + 1) / 2) @ _TO_HUES.T
    half = (direction * mixed).sum(axis=-1) / whole
    contrast = np.interp(half, _HALF_MIXED, _CONTRASTS)
    bend = np.stack([contrast, np.sqrt(whole)], axis=-1)
    return direction / whole[..., None], bend


def trace(soft: Floats, level: float = 0.5) -> NDArray[np.float64] | None:
    """Return the longest closed line on which a picture passes ``level``, x and y in its pixels.

    Marching squares; what lies above the level is to the left of the line's run. None if there
    is no such line.

    Examples
    --------
    >>> soft = np.zeros((4, 5), np.float32)
    >>> soft[1:3, 1:4] = 1.0
    >>> trace(soft).min(axis=0).tolist(), trace(soft).max(axis=0).tolist()
    ([0.5, 0.5], [3.5, 2.5])
    """
    padded = np.pad(soft, 1)
    above = (padded > level).view(np.uint8)
    code = above[:-1, :-1] + 2 * above[:-1, 1:] + 4 * above[1:, 1:] + 8 * above[1:, :-1]
    at = np.flatnonzero(code - np.uint8(1) < 14)
    y, x = np.divmod(at, code.shape[1])
    line = _longest_line(*_links(code.ravel()[at], y, x, padded.shape[1]))
    return _crossings(padded, line, level) - 1 if len(line) else None


_IS_CROSSED = np.array([0 < code < 15 for code in range(16)])
_SIDES = {
    1: ((0, 3),), 2: ((1, 0),), 3: ((1, 3),), 4: ((2, 1),), 5: ((0, 1), (2, 3)), 6: ((2, 0),),
    7: ((2, 3),), 8: ((3, 2),), 9: ((0, 2),), 10: ((1, 2), (3, 0)), 11: ((1, 2),), 12: ((3, 1),),
    13: ((0, 1),), 14: ((3, 0),),
}  # fmt: skip
"""Corners above the level (1 upper left, 2 upper right, 4 lower right, 8 lower left) -> sides of
the square (0 upper, 1 right, 2 lower, 3 left) by which the line comes in and goes out."""


def _links(
    code: NDArray[np.uint8], y: NDArray[np.intp], x: NDArray[np.intp], columns: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return sides of squares, and which side follows each; a side is 2 * place, + 1 if upright."""
    place = 2 * (y * columns + x)
    sides = np.stack([place, place + 3, place + 2 * columns, place + 1])
    come, go = [], []
    for value, runs in _SIDES.items():
        here = np.flatnonzero(code == value)
        for first, second in runs:
            come.append(sides[first, here])
            go.append(sides[second, here])
    return np.concatenate(come), np.concatenate(go)


def _longest_line(come: NDArray[np.intp], go: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the sides of the longest closed line in its order, from its first side in rows on.

    Each side is asked for the least side within 1, 2, 4 ... steps ahead and how far off that is:
    the least of a whole line tells one line from another, and the way to it gives the order.
    """
    order = np.argsort(come)
    names = come[order]
    onward = np.searchsorted(names, go[order])
    least, away = np.arange(len(names)), np.zeros(len(names), np.intp)
    for power in range(len(names).bit_length()):
        ahead = least[onward]
        is_less = ahead < least
        away = np.where(is_less, away[onward] + (1 << power), away)
        least = np.where(is_less, ahead, least)
        onward = onward[onward]
    sizes = np.bincount(least, minlength=1)
    line = np.flatnonzero(least == sizes.argmax())
    steps = (len(line) - away[line]) % max(1, len(line))
    found = np.empty_like(line)
    found[steps] = line
    return names[found]


def _crossings(soft: Floats, sides: NDArray[np.intp], level: float) -> NDArray[np.float64]:
    place, upright = sides // 2, sides % 2
    flat = soft.ravel()
    first = flat[place].astype(np.float64)
    second = flat[place + np.where(upright, soft.shape[1], 1)]
    part = (level - first) / (second - first)
    y, x = np.divmod(place, soft.shape[1])
    return np.stack([x + part * (1 - upright), y + part * upright], axis=1)
