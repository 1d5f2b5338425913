"""A leaf seen flat: what a photograph gives once lens, board and lamp fall-off are taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.board_scene import level_camera
from sample_images.lamps import lamps_of
from sample_images.leaf import open_flitch
from sample_images.placing import Floats, Place, reflectance
from sample_images.plan import FlitchPlan


@dataclass(frozen=True, slots=True, eq=False)
class FlatLeaf:
    """A straight picture of one leaf without a photograph's faults.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, 3)
        Linear reflectance factor; rows run along the leaf.
    on_leaf : ndarray of bool, shape (rows, columns)
    px_per_mm : float
    """

    light: Floats
    on_leaf: NDArray[np.bool_]
    px_per_mm: float


def draw_flat(
    plan: FlitchPlan,
    leaf: int,
    *,
    laid: str = "as-lies",
    lamp: str = "both",
    px_per_mm: float = 0.6,
) -> FlatLeaf:
    """Return a leaf (counted from 1) laid in the middle of the board, seen flat.

    Many times faster than a photograph, for those who want hundreds of leaves.

    Raises
    ------
    ValueError
        If the flitch does not have that leaf.
    """
    face = open_flitch(plan, px_per_mm=px_per_mm).leaf(leaf).lay(laid)
    eye = level_camera(plan).position_mm
    light = reflectance(face, Place(), lamps_of(plan, lamp), eye)
    return FlatLeaf(light, face.cover > 0.99, px_per_mm)
