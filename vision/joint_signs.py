"""Signs of where two butted leaves meet: how much each line of their picture looks like the joint.

Light and dark may reverse across the joint: fibres that lean toward the lamp on one leaf lean
away from it on the other, so stripes of fiddleback or ribbon are light on one side where they are
dark on the other, while the wood's own colour is mirrored as it is. No single sign can therefore
be trusted. Each is weighed against its own scatter over all lines that are looked at, by a law
with heavy tails, so that one sign that errs cannot outvote several that agree.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import LUMINANCE
from vision.leaf_image import LeafImage

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

COLUMNS = 400
"""Columns, at most, at which the joint is sought: a column is then 0.25 % of the width."""
ROWS = 240
BLOCKS = 24
"""Blocks along the leaf. In the mean over one, stripes across the leaf vanish; grain remains."""
SEARCH = 0.12
"""The joint is sought within this share of the pair's width either side of the middle:
neighbouring leaves are nearly of one width."""
TILTS = np.arange(-4, 5) * 0.004
"""How far the joint runs to the right from end to end against the middle line, in widths."""
EDGE_TRIM = 0.02
"""Share of the width left out at the outer edges: they mirror each other, but not the figure."""
REVERSED = 0.7
"""What a mirror image with light and dark exchanged counts for, against a true one. Beside a true
one, half a stripe off, it is always found; by itself it is rarer."""
TAIL = 3.0
"""Degrees of freedom of Student's t by which signs are weighed."""
DARKEST = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class PairPicture:
    """A pair, cropped to the rows of its wood, in `ROWS` rows and at most `COLUMNS` columns.

    Parameters
    ----------
    tone, hue : ndarray, shape (rows, columns)
        log luminance; log red over blue, which hardly changes with light and dark.
    wood : ndarray, shape (rows, columns)
        1 where the leaf covers the pixel, less `EDGE_TRIM` at the long edges, otherwise 0.
    rows : tuple of int
        First row of the pair's image, and one past the last.
    step : float
        Columns of the image to a column of this picture.
    """

    tone: Floats
    hue: Floats
    wood: Floats
    rows: tuple[int, int]
    step: float


@dataclass(frozen=True, slots=True, eq=False)
class Middle:
    """The line midway between the long edges, in columns of a `PairPicture`.

    The edges of booked neighbours are mirror images of each other, however crooked, so this line
    is close to the joint, whatever the figure shows.
    """

    at_top: float
    at_bottom: float
    scatter: float
    """How far rows depart from the line, one standard deviation, columns."""
    width: float
    """Of the pair, columns."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Lines that may be the joint, by tilt and by offset from the middle, in half columns."""

    offsets: NDArray[np.int_]
    tilts: NDArray[np.int_]
    """From the first block's middle to the last one's."""
    base: NDArray[np.int_]
    """The middle line in each block."""

    def along(self, blocks: Doubles | Floats) -> Doubles:
        """Return sums of values (blocks, half columns) along lines, shape (tilts, offsets)."""
        lean = np.linspace(-0.5, 0.5, len(self.base))
        sums = np.zeros((len(self.tilts), len(self.offsets)))
        for total, tilt in zip(sums, self.tilts, strict=True):
            starts = self.base + np.round(tilt * lean).astype(int)
            for values, start in zip(blocks, starts, strict=True):
                total += values[np.clip(start + self.offsets, 0, len(values) - 1)]
        return sums


def shrink_pair(pair: LeafImage) -> PairPicture:
    """Return the pair at the size at which its joint is sought."""
    present = np.flatnonzero(pair.on_leaf.any(axis=1))
    first, last = int(present[0]), int(present[-1]) + 1
    columns = min(COLUMNS, pair.on_leaf.shape[1])
    size = (columns, ROWS)
    shrinks = last - first >= ROWS
    method = cv2.INTER_AREA if shrinks else cv2.INTER_LINEAR
    light = cv2.resize(pair.light[first:last], size, interpolation=method)
    share = cv2.resize(
        pair.on_leaf[first:last].astype(np.uint8) * np.uint8(200), size, interpolation=method
    )
    luminance = cv2.transform(light, np.array([LUMINANCE], dtype=np.float32))
    tone = np.log(np.maximum(luminance, DARKEST))
    hue = np.log(np.maximum(light[..., 0], DARKEST) / np.maximum(light[..., 2], DARKEST))
    trim = 2 * max(1, round(EDGE_TRIM * columns)) + 1
    whole = (share >= 100).astype(np.uint8)
    wood = cv2.erode(whole, np.ones((1, trim), np.uint8)).astype(np.float32)
    return PairPicture(tone, hue, wood, (first, last), pair.on_leaf.shape[1] / columns)


def find_middle(picture: PairPicture) -> Middle:
    """Return the line midway between the long edges; chips and torn edges do not move it."""
    trim = ROWS // 16
    y = np.arange(trim, ROWS - trim)
    solid = picture.wood[y] > 0
    seen = solid.any(axis=1)
    y, solid = y[seen], solid[seen]
    left = solid.argmax(axis=1).astype(np.float64)
    right = solid.shape[1] - 1.0 - solid[:, ::-1].argmax(axis=1)
    middle = (left + right) / 2
    kept = np.ones(len(y), dtype=bool)
    scatter, line = 0.0, np.zeros(2)
    for _ in range(4):
        line = np.polyfit(y[kept], middle[kept], 1)
        off = np.abs(middle - np.polyval(line, y))
        scatter = 1.4826 * float(np.median(off)) + 0.3
        kept = off < 2.5 * scatter
    ends = np.polyval(line, (0, ROWS - 1))
    return Middle(float(ends[0]), float(ends[1]), scatter, float(np.median(right - left)) + 1)


def list_candidates(middle: Middle) -> Candidates:
    """Return the lines near the middle one, half a column apart."""
    span = int(2 * SEARCH * middle.width)
    centres = (np.arange(BLOCKS) + 0.5) / BLOCKS
    base = middle.at_top + (middle.at_bottom - middle.at_top) * centres
    return Candidates(
        np.arange(-span, span + 1),
        np.unique(np.round(2 * TILTS * middle.width).astype(int)),
        np.round(2 * base).astype(int),
    )


def read_signs(picture: PairPicture, lines: Candidates, *, width: float) -> dict[str, Doubles]:
    """Return the evidence of each sign for each line, in nats, shape (tilts, offsets).

    Parameters
    ----------
    picture : PairPicture
    lines : Candidates
    width : float
        Of the pair, columns.
    """
    grain = _blocks(picture.tone * picture.wood) / np.maximum(_blocks(picture.wood), 0.5)
    tint = _blocks(picture.hue * picture.wood) / np.maximum(_blocks(picture.wood), 0.5)
    full = (_blocks(picture.wood) > 0.7 * ROWS / BLOCKS).astype(np.float32)
    along = cv2.GaussianBlur(picture.tone, (0, 0), sigmaX=1e-3, sigmaY=ROWS / 60)
    specks = np.asarray((picture.tone - along) * picture.wood, dtype=np.float32)
    fine, coarse = max(0.6, 0.0012 * width), 0.005 * width
    hue_fine = _band(tint, full, fine, 0.006 * width)
    wide = _band(tint, full, 0.015 * width, 0.08 * width)
    return {
        "grain": _mirrored(_band(grain, full, fine, 0.006 * width), lines, REVERSED),
        "growth rings": _mirrored(_band(grain, full, coarse, 0.025 * width), lines, REVERSED),
        "fine colour": _mirrored(hue_fine, lines, 0.0),
        "colour": _mirrored(_band(tint, full, coarse, 0.025 * width), lines, 0.0),
        "broad colour": _mirrored(wide, lines, 0.0),
        "specks": _mirrored(_band(specks, picture.wood, fine, 0.01 * width), lines, REVERSED),
        "step": _student(_z(lines.along(_doubled(_step(grain, width))))),
        "line": _student(_z(lines.along(_doubled(_line(grain, width))))),
        "line of colour": _student(_z(lines.along(_doubled(_line(tint, width))))),
        "break": _broken(specks, lines, width=width),
    }


def _blocks(rows: Floats) -> Floats:
    """Return sums over the rows of each block, shape (blocks, columns)."""
    return np.asarray(rows.reshape(BLOCKS, -1, rows.shape[1]).sum(axis=1))


def _band(values: Floats | Doubles, weight: Floats, least: float, most: float) -> Floats:
    """Return what changes across over between two lengths, columns; zero beside the wood."""
    smooth = []
    for sigma in (least, most):
        total, share = (
            cv2.GaussianBlur(field, (0, 0), sigmaX=sigma, sigmaY=1e-3)
            for field in (values * weight, weight)
        )
        smooth.append(total / np.maximum(share, 1e-3))
    return np.asarray((smooth[0] - smooth[1]) * weight, dtype=np.float32)


def _mirrored(field: Floats, lines: Candidates, reverse: float) -> Doubles:
    """Return the evidence of how well the two sides of each line are mirror images.

    ``reverse`` is what a mirror image with light and dark exchanged counts for, 0 to 1.
    """
    products, energy = _mirror_sums(field)
    if len(field) != BLOCKS:
        products, energy = _blocks(products), _blocks(energy)
    correlation = lines.along(products) / np.maximum(lines.along(energy), 1e-9)
    z = _z(correlation)
    return np.where(z > 0, _student(z), _student(reverse * z))


def _mirror_sums(field: Floats) -> tuple[Floats, Floats]:
    """Return, for every half column, the sum of products of the pixels mirrored about it, and what
    it would be if they were alike; shape (rows, half columns)."""
    columns = field.shape[1]
    length = cv2.getOptimalDFTSize(2 * columns)
    spectrum = np.fft.rfft(field, length, axis=1)
    products = np.fft.irfft(spectrum * spectrum, length, axis=1)[:, : 2 * columns - 1]
    squares = field * field
    products[:, ::2] -= squares
    axis = np.arange(2 * columns - 1)
    last_left = (axis - 1) // 2
    first_right = axis - last_left
    count = np.minimum(last_left + 1, columns - first_right)
    sums = np.pad(np.cumsum(squares, axis=1, dtype=np.float64), ((0, 0), (1, 0)))
    left = sums[:, last_left + 1] - sums[:, last_left + 1 - count]
    right = sums[:, first_right + count] - sums[:, first_right]
    energy = np.sqrt(np.maximum(left * right, 0))
    return np.asarray(products / 2, dtype=np.float32), np.asarray(energy, dtype=np.float32)


def _box(field: Floats | Doubles, first: int, last: int) -> Doubles:
    """Return the mean of columns ``first`` to ``last`` counted from each column."""
    sums = np.pad(np.cumsum(field, axis=1, dtype=np.float64), ((0, 0), (1, 0)))
    columns = field.shape[1]
    x = np.arange(columns)
    low, high = np.clip(x + first, 0, columns), np.clip(x + last + 1, 0, columns)
    return np.asarray((sums[:, high] - sums[:, low]) / np.maximum(high - low, 1))


def _sides(field: Floats | Doubles, width: float, reach: float) -> tuple[Doubles, Doubles]:
    """Return the means left and right of each column, a little away from it."""
    gap, far = max(1, round(0.003 * width)), max(2, round(reach * width))
    return _box(field, -gap - far, -gap), _box(field, gap, gap + far)


def _step(field: Floats | Doubles, width: float) -> Doubles:
    left, right = _sides(field, width, 0.02)
    return right - left


def _line(field: Floats | Doubles, width: float) -> Doubles:
    """Return how far each column stands out: a slit of board, a shadow, a raised edge."""
    left, right = _sides(field, width, 0.01)
    return np.clip(field - (left + right) / 2, -0.5, 0.5)


def _broken(specks: Floats, lines: Candidates, *, width: float) -> Doubles:
    """Return the evidence of stripes across the leaf that end or reverse at a line."""
    left, right = _sides(specks, width, 0.01)
    products, lefts, rights = (
        lines.along(_doubled(_blocks(np.asarray(field, dtype=np.float32))))
        for field in (left * right, left * left, right * right)
    )
    z = _z(products / np.sqrt(np.maximum(lefts * rights, 1e-18)))
    return np.where(z < 0, _student(z), 0.0)


def _doubled(field: Doubles | Floats) -> Doubles:
    """Return values at half columns, straight between columns."""
    between = np.empty((field.shape[0], 2 * field.shape[1] - 1))
    between[:, ::2] = field
    between[:, 1::2] = (field[:, 1:] + field[:, :-1]) / 2
    return between


def _z(values: Doubles) -> Doubles:
    """Return values in standard deviations of those on upright lines, robust."""
    upright = values[len(values) // 2]
    middle = float(np.median(upright))
    spread = 1.4826 * float(np.median(np.abs(upright - middle)))
    return np.asarray((values - middle) / max(spread, 1e-9))


def _student(z: Doubles) -> Doubles:
    """Return how much less likely such a departure is than none, in nats, by Student's t."""
    return np.asarray((TAIL + 1) / 2 * np.log1p(z * z / TAIL))
