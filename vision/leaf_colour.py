"""The colour of a leaf: the mean of its light, and how far its lightness ranges."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import ILLUMINANT, LUMINANCE, lightness_of_y, linear_to_lab
from vision.errors import LeafNotFound
from vision.leaf_image import LeafImage
from vision.readings import ColourClass, LeafColour

LEAST_WOOD_MM2 = 400.0
"""Below 20 mm x 20 mm a mean says more about the figure than about the leaf."""
LEAST_WOOD_PX = 4000
"""The same where no scale is known: some 60 px x 60 px."""
GRID_MM = 1.0
"""Lightness ranges over cells of this size; over pixels it would range with the sensor's noise."""
CELLS_ALONG = 500
"""Cells along a leaf of unknown scale."""
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
        L*a*b* under D65, 2 degrees; percentiles over cells of `GRID_MM`, or of 1/`CELLS_ALONG`
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
    mask = leaf.on_leaf.view(np.uint8)
    lab = linear_to_lab(np.asarray(cv2.mean(leaf.light, mask=mask)[:3]))
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
    """Return L* of the mean luminance of each cell of the grid that is mostly wood."""
    rows, columns = leaf.on_leaf.shape
    cell_px = rows / CELLS_ALONG if leaf.px_per_mm is None else GRID_MM * leaf.px_per_mm
    size = (max(1, round(columns / max(cell_px, 1.0))), max(1, round(rows / max(cell_px, 1.0))))
    wood = leaf.on_leaf.astype(np.float32)
    y = cv2.transform(leaf.light, np.array([LUMINANCE], dtype=np.float32))
    wood_y = cv2.resize(cv2.multiply(y, wood), size, interpolation=cv2.INTER_AREA)
    share = cv2.resize(wood, size, interpolation=cv2.INTER_AREA)
    full = np.asarray(share) >= FULL_CELL
    if not full.any():
        full = np.asarray(share) >= float(np.max(share))
    return lightness_of_y(np.asarray(wood_y)[full] / np.asarray(share)[full])
