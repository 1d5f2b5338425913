"""The colour of a leaf: the mean of its light, and how far its lightness ranges."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import ILLUMINANT, LUMINANCE, lightness_of_y, linear_to_lab
from vision.errors import LeafNotFound
from vision.leaf_image import LeafImage
from vision.light_profile import sum_of_light
from vision.readings import ColourClass, LeafColour

LEAST_WOOD_MM2 = 400.0
"""Below 20 mm x 20 mm a mean says more about the figure than about the leaf."""
LEAST_WOOD_PX = 4000
"""The same where no scale is known: some 60 px x 60 px."""
GRID_MM = 1.0
"""Lightness ranges over cells of this size; over pixels it would range with the sensor's noise."""
CELLS_ALONG = 500
"""Cells along a leaf of unknown scale."""
MOST_BANDS = 250
"""Rows of cells looked at: more would not move a percentile, only take longer."""
MANY_ROWS = 2000
"""Rows from which every second one tells the mean, to a hundredth of a unit."""
FULL_CELL = 0.5
"""Share of a cell that must be wood for it to count."""


def measure_colour(leaf: LeafImage, *, colour_class: ColourClass) -> LeafColour:
    """Return the colour of a leaf's mean light and the range of its lightness.

    Light is averaged before it is turned into L*a*b*, as the eye does from afar.

    Parameters
    ----------
    leaf : LeafImage
        Only the pixels in ``leaf.on_leaf`` count.
    colour_class : ColourClass
        Handed on: where the colour comes from.

    Returns
    -------
    LeafColour
        L*a*b* under D50, 2 degrees; percentiles over cells of `GRID_MM`, or of 1/`CELLS_ALONG`
        of the picture's length where no scale is known.

    Raises
    ------
    LeafNotFound
        If less than `LEAST_WOOD_MM2` of wood is in view.

    Examples
    --------
    >>> light = np.full((200, 100, 3), 0.18, np.float32)
    >>> leaf = LeafImage(light, np.ones((200, 100), bool), px_per_mm=2.0)
    >>> round(measure_colour(leaf, colour_class=ColourClass.RELATIVE).lightness, 2)
    49.5
    """
    _check_wood(leaf)
    some = slice(None, None, 2 if len(leaf.light) > MANY_ROWS else 1)
    wood = leaf.on_leaf[some]
    lab = linear_to_lab(sum_of_light(leaf.light[some], wood) / np.count_nonzero(wood))
    lightness, a, b = (float(value) for value in lab)
    dark, light = np.percentile(_cell_lightness(leaf), (5, 95))
    return LeafColour(
        lightness=lightness,
        a=a,
        b=b,
        chroma=math.hypot(a, b),
        hue_deg=math.degrees(math.atan2(b, a)) % 360,
        lightness_p5=float(dark),
        lightness_p95=float(light),
        illuminant=ILLUMINANT,
        colour_class=colour_class,
    )


def _check_wood(leaf: LeafImage) -> None:
    wood_px = int(np.count_nonzero(leaf.on_leaf))
    if leaf.px_per_mm is None:
        if wood_px < LEAST_WOOD_PX:
            raise LeafNotFound(
                f"Only {wood_px} px of wood in view, {LEAST_WOOD_PX} needed. Photograph the leaf "
                "larger, with the camera's full size."
            )
        return
    wood_mm2 = wood_px / leaf.px_per_mm**2
    if wood_mm2 < LEAST_WOOD_MM2:
        raise LeafNotFound(
            f"Only {wood_mm2:.0f} mm² of wood in view, {LEAST_WOOD_MM2:.0f} mm² needed. Lay the "
            "whole leaf on the board, and check the length and width typed for it."
        )


def _cell_lightness(leaf: LeafImage) -> NDArray[np.float64]:
    """Return L* of the mean luminance of each cell that is mostly wood, in bands of cells."""
    rows, columns = leaf.on_leaf.shape
    cell_px = rows / CELLS_ALONG if leaf.px_per_mm is None else GRID_MM * leaf.px_per_mm
    deep = min(rows, max(1, round(cell_px)))
    bands = _band_rows(rows, deep)
    size = (max(1, round(columns / max(cell_px, 1.0))), len(bands) // deep)
    wood = leaf.on_leaf[bands].astype(np.float32)
    y = cv2.transform(leaf.light[bands], np.array([LUMINANCE], dtype=np.float32))
    wood_y = np.asarray(
        cv2.resize(y.reshape(wood.shape) * wood, size, interpolation=cv2.INTER_AREA)
    )
    share = np.asarray(cv2.resize(wood, size, interpolation=cv2.INTER_AREA))
    full = share >= min(FULL_CELL, float(share.max()))
    return lightness_of_y(wood_y[full] / share[full])


def _band_rows(rows: int, deep: int) -> NDArray[np.intp]:
    """Return the rows of at most `MOST_BANDS` bands, spread over the length, each ``deep`` rows.

    Steps of the golden ratio within equal parts keep regular stripes from falling in step.
    """
    count = min(MOST_BANDS, rows // deep)
    part = rows / count
    within = (np.arange(count) * 0.6180339887) % 1.0
    starts = (np.arange(count) * part + within * (part - deep)).astype(np.intp)
    return np.asarray((starts[:, None] + np.arange(deep)).ravel())
