"""Compression so coarse that figure and grain are lost: the file's own tables, and its traces."""

from __future__ import annotations

import io

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

Floats = NDArray[np.float32]

STANDARD_MEAN = 57.6
"""Mean of the example table for lightness in ITU-T T.81, annex K.1, which encoders scale."""
STANDARD_STEPS = (11.0, 12.0, 12.0)
"""Its steps for the waves (row, column) of `WAVES`."""
WAVES = ((0, 1), (1, 0), (1, 1))
BLOCK = 8
STRIPS = 36
"""Rows and columns of blocks that are looked at: in quiet wood few waves are left to read."""
CANDIDATES = np.geomspace(5.0, 80.0, 64, dtype=np.float32)
"""Steps that are tried."""
LEAST_FOUND = 16
"""Waves that must not be nought, for a step to be read from them."""
WINDOW_PX = 1600
"""Side of the middle part that is read."""
MOST_USED = 800
"""Waves, the largest first, that are used."""
LARGE_WAVE = 5.0
"""From this size a wave says something of a coarse step: the second saving's rounding is less."""
LEAST_TOOTH = 0.45
"""Share of a step below which a wave counts as nought."""
MOST_TEETH = 4.5
"""Multiples of a step that are used: farther out a step tried slightly wrong falls out of tune."""
SURE = 0.6
"""Mean cosine from which waves stand on a comb: 1 if exactly, 0 or less if not."""


def table_coarseness(file: bytes) -> float:
    """Return how coarse a JPEG's table for lightness is: 1 is quality 50, 0.5 is 75, 2 is 25.

    0 for files of another kind.
    """
    try:
        with Image.open(io.BytesIO(file), formats=["JPEG"]) as picture:
            tables = getattr(picture, "quantization", {})
    except (OSError, SyntaxError, ValueError):
        return 0.0
    return float(np.mean(tables[0])) / STANDARD_MEAN if 0 in tables else 0.0


def traced_coarseness(rgb: NDArray[np.uint8]) -> float:
    """Return how coarsely a picture was once compressed, read from its pixels; as for tables.

    Compression rounds the waves of each block of 8 x 8 pixels to multiples of a step, and they
    still stand near them when the file has been saved again more finely (Fan and de Queiroz, IEEE
    Transactions on Image Processing 12, 2003). The blocks may lie anywhere: a picture that was
    turned or cropped is read too. One that was resized is not, nor is one that was never
    compressed coarsely: the answer is then 0.
    """
    top, left = (max(0, side - WINDOW_PX) // 2 for side in rgb.shape[:2])
    rgb = rgb[top : top + WINDOW_PX, left : left + WINDOW_PX]
    rows, columns = rgb.shape[:2]
    if min(rows, columns) < 16 * BLOCK:
        return 0.0
    grey = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    offset_y = _block_border(_strips(grey.T, 0))
    strips = _strips(grey, offset_y)
    offset_x = _block_border(strips)
    usable = (columns - offset_x) // BLOCK * BLOCK
    part = strips[:, :, offset_x : offset_x + usable].astype(np.float32)
    down = _WAVE_SHAPES @ part
    flat = down.reshape(-1, BLOCK) @ _WAVE_SHAPES.T
    waves: Floats = flat.reshape(len(part), 2, -1, 2).astype(np.float32)
    found, large = [], []
    for (y, x), step in zip(WAVES, STANDARD_STEPS, strict=True):
        each = waves[:, y, :, x].ravel()
        comb = _comb_step(each)
        if comb is not None:
            found.append(comb / step)
            large.append(min(MOST_USED, int((np.abs(each) > LARGE_WAVE).sum())))
    return _weighted_median(found, large)


def _weighted_median(found: list[float], large: list[int]) -> float:
    """Return the median of what was found, by how many large waves each was found in."""
    if not sum(large):
        return 0.0
    order = np.argsort(found)
    below = np.cumsum(np.array(large)[order])
    return float(found[order[np.searchsorted(below, below[-1] / 2)]])


def _dct_rows() -> Floats:
    at = np.arange(BLOCK)
    shapes = np.cos((2 * at + 1) * np.arange(2)[:, None] * np.pi / 16) / 2
    shapes[0] /= np.sqrt(2)
    return shapes.astype(np.float32)


_WAVE_SHAPES = _dct_rows()
"""The first two waves of a block's discrete cosine transform (T.81, annex A.3.3)."""


def _strips(grey: NDArray[np.uint8], offset: int) -> NDArray[np.uint8]:
    """Return some rows of blocks, shape (`STRIPS`, 8, columns)."""
    rows = (len(grey) - offset) // BLOCK
    picked = np.linspace(0.08 * rows, 0.92 * rows - 1, STRIPS).astype(int) * BLOCK + offset
    return np.stack([grey[y : y + BLOCK] for y in picked])


def _block_border(strips: NDArray[np.uint8]) -> int:
    """Return the column, 0 to 7, at which blocks begin: where neighbours differ most."""
    step = cv2.absdiff(strips[..., 1:], strips[..., :-1])
    length = step.shape[-1] // BLOCK * BLOCK
    capped = np.minimum(step[..., :length], 12).reshape(-1, length)
    columns = cv2.reduce(capped, 0, cv2.REDUCE_SUM, dtype=cv2.CV_32S)
    return (int(columns.reshape(-1, BLOCK).sum(axis=0).argmax()) + 1) % BLOCK


def _comb_step(waves: Floats) -> float | None:
    """Return the largest step on whose multiples the waves stand; 0 if on none, None if unseen."""
    size = np.abs(waves)
    size = size[size > LEAST_TOOTH * CANDIDATES[0]]
    if len(size) > MOST_USED:
        size = np.partition(size, len(size) - MOST_USED)[-MOST_USED:]
    if len(size) < LEAST_FOUND:
        return None
    teeth = size / CANDIDATES[:, None]
    used = ((teeth > LEAST_TOOTH) & (teeth < MOST_TEETH)).astype(np.float32)
    count = used.sum(axis=1)
    between = ((teeth < LEAST_TOOTH) & (size > LARGE_WAVE)).sum(axis=1)
    on_teeth = (np.cos(teeth * np.float32(2 * np.pi)) * used).sum(axis=1)
    fit = (on_teeth - between) / np.maximum(count + between, 1)
    on_comb = np.flatnonzero((count >= LEAST_FOUND) & (fit > SURE))
    return float(CANDIDATES[on_comb[-1]]) if len(on_comb) else 0.0
