"""What is kept of a leaf for putting a stack in order: its drawing, small, apart from its light."""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import LUMINANCE
from vision.errors import LeafNotFound
from vision.hand_marks import find_marks
from vision.laying import lay_pixels
from vision.leaf_image import LeafImage
from vision.shot import Laid

ROWS, COLUMNS = 640, 64
"""Cells of a descriptor, along and across: 3 by 4 mm on a leaf of 2 m by 0.24 m, which keeps
fiddleback of 7 mm and is coarser than pores, dust and compression."""
LEAST_SHARE = 0.6
"""Share of a cell that must be wood."""
LEAST_LIGHT = 1e-3
"""Linear light below which the logarithm is not asked."""
STEPS = 127
"""A channel is kept in so many steps either way."""
LEAST_CELLS = 200

Cells = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class LeafDescriptor:
    """The drawing of one face of a leaf, on `ROWS` by `COLUMNS` cells over its bounding box.

    Parameters
    ----------
    lightness, hue : ndarray of int8, shape (ROWS, COLUMNS)
        Log luminance and log of red over blue, less the leaf's median, in units of the steps.
    seen : ndarray of bool, shape (ROWS, COLUMNS)
        Where there is wood, and no mark of chalk or pencil.
    lightness_step, hue_step : float
        Log light of one unit.
    length, width : float
        Of the bounding box: mm, or pixels without a scale.
    is_in_mm : bool
    """

    lightness: NDArray[np.int8]
    hue: NDArray[np.int8]
    seen: NDArray[np.bool_]
    lightness_step: float
    hue_step: float
    length: float
    width: float
    is_in_mm: bool

    def __post_init__(self) -> None:
        for cells in (self.lightness, self.hue, self.seen):
            cells.setflags(write=False)

    @property
    def channels(self) -> tuple[Cells, Cells]:
        """Lightness and hue as numbers, 0 where no wood is seen."""
        return (
            self.lightness * np.float32(self.lightness_step),
            self.hue * np.float32(self.hue_step),
        )

    def to_bytes(self) -> bytes:
        """Return the descriptor as a file of some 50 to 90 kB."""
        file = io.BytesIO()
        sizes = [self.lightness_step, self.hue_step, self.length, self.width, self.is_in_mm]
        np.savez_compressed(
            file,
            lightness=self.lightness,
            hue=self.hue,
            seen=np.packbits(self.seen),
            sizes=np.array(sizes, np.float64),
        )
        return file.getvalue()

    @classmethod
    def from_bytes(cls, data: bytes) -> LeafDescriptor:
        """Return the descriptor that `to_bytes` wrote.

        Raises
        ------
        ValueError
            If the bytes are no descriptor.
        """
        with np.load(io.BytesIO(data), allow_pickle=False) as file:
            sizes = file["sizes"]
            seen = np.unpackbits(file["seen"], count=ROWS * COLUMNS).reshape(ROWS, COLUMNS)
            return cls(
                lightness=file["lightness"],
                hue=file["hue"],
                seen=seen.astype(bool),
                lightness_step=float(sizes[0]),
                hue_step=float(sizes[1]),
                length=float(sizes[2]),
                width=float(sizes[3]),
                is_in_mm=bool(sizes[4]),
            )


def describe_leaf(leaf: LeafImage, laid: Laid = Laid.AS_LIES) -> LeafDescriptor:
    """Return the drawing of a leaf as it lies, whichever way it was laid for the photograph.

    Parameters
    ----------
    leaf : LeafImage
        Only the pixels in ``leaf.on_leaf`` count.
    laid : Laid
        How it was laid for this photograph; a face that was turned up is described as seen through
        the leaf from its own face, so that both faces of a leaf can be laid on each other.

    Raises
    ------
    LeafNotFound
        If hardly any wood is in view.
    """
    rows = np.flatnonzero(leaf.on_leaf.any(axis=1))
    columns = np.flatnonzero(leaf.on_leaf.any(axis=0))
    if not len(rows) or rows[-1] == rows[0] or columns[-1] == columns[0]:
        raise LeafNotFound("No wood is left inside the outline. Photograph the leaf larger.")
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    wood = np.ascontiguousarray(lay_pixels(leaf.on_leaf[box], laid), np.float32)
    light = np.ascontiguousarray(lay_pixels(leaf.light[box], laid), np.float32)
    lightness, hue, seen = _cells(light, wood)
    if int(seen.sum()) < LEAST_CELLS:
        raise LeafNotFound(
            "Too little wood is left inside the outline to compare the leaf with others. "
            "Correct the outline, or photograph the leaf again."
        )
    seen &= ~find_marks(lightness, hue, seen)
    kept = [_in_steps(cells, seen) for cells in (lightness, hue)]
    scale = leaf.px_per_mm
    return LeafDescriptor(
        lightness=kept[0][0],
        hue=kept[1][0],
        seen=seen,
        lightness_step=kept[0][1],
        hue_step=kept[1][1],
        length=wood.shape[0] / (scale or 1.0),
        width=wood.shape[1] / (scale or 1.0),
        is_in_mm=scale is not None,
    )


def _cells(light: Cells, wood: Cells) -> tuple[Cells, Cells, NDArray[np.bool_]]:
    """Return log luminance, log of red over blue, and where wood is seen, cell by cell."""
    size = (COLUMNS, ROWS)
    luminance = cv2.transform(light, np.array([LUMINANCE], np.float32))
    luminance = luminance.reshape(light.shape[:2])
    red, blue = (np.maximum(light[..., channel], LEAST_LIGHT) for channel in (0, 2))
    planes = (
        np.log(np.maximum(luminance, LEAST_LIGHT)) * wood,
        (np.log(red) - np.log(blue)) * wood,
        wood,
    )
    sums = [cv2.resize(plane, size, interpolation=cv2.INTER_AREA) for plane in planes]
    seen = np.asarray(sums[2] > LEAST_SHARE)
    share = np.maximum(sums[2], 1e-3)
    return (
        np.asarray(sums[0] / share, np.float32),
        np.asarray(sums[1] / share, np.float32),
        seen,
    )


def _in_steps(cells: Cells, seen: NDArray[np.bool_]) -> tuple[NDArray[np.int8], float]:
    """Return cells less their median in whole steps, and the step."""
    level = cells - np.median(cells[seen])
    spread = float(np.percentile(np.abs(level[seen]), 99.5))
    step = max(spread * 1.3, 1e-4) / STEPS
    steps = np.clip(np.round(level / step), -STEPS, STEPS)
    return np.where(seen, steps, 0).astype(np.int8), step
