"""A leaf cut out of its photograph and laid flat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class LeafImage:
    """Pixels of one leaf, straightened: rows run along the leaf, as it lay in the photograph.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, 3)
        Linear light, sRGB primaries (D65), as a fraction of what a white sheet in the same place
        would send: lamp fall-off, exposure and cast taken out as far as the photograph allows.
    on_leaf : ndarray of bool, shape (rows, columns)
        False beside the leaf.
    px_per_mm : float or None
        Pixels per millimetre of both axes; None without a scale.
    """

    light: NDArray[np.float32]
    on_leaf: NDArray[np.bool_]
    px_per_mm: float | None

    def __post_init__(self) -> None:
        self.light.setflags(write=False)
        self.on_leaf.setflags(write=False)
