"""One leaf's picture as it goes into a match, and where its edges are cut straight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.shot import Laid


@dataclass(frozen=True, slots=True)
class Trim:
    """The columns of a picture that lie between the two straightened edges, and its rows."""

    left: int
    right: int
    top: int
    bottom: int

    @property
    def width(self) -> int:
        """Columns between the edges."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Rows between the ends."""
        return self.bottom - self.top


@dataclass(frozen=True, slots=True, eq=False)
class PlacedPicture:
    """One leaf's picture, as photographed, and how to move it into its place.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB; rows run along the leaf.
    on_leaf : ndarray of bool, same rows and columns
        False beside the leaf.
    moved : Laid
        How the drawing moves into the match.
    px_per_mm : float
        Pixels of this picture per millimetre along the leaf; without a scale, per pixel of the
        photograph.
    gain : ndarray of float, shape (slices, 3), or None
        By what to multiply its linear light in equal slices of its length, from the top of the
        match (`vision.shown_light`); None leaves it as photographed.
    across : float or None
        The same across the leaf, where it differs.
    name : str
        Names the very pixels, so that what was painted from them can be used again; empty if
        they have no name.
    """

    pixels: NDArray[np.uint8]
    on_leaf: NDArray[np.bool_]
    moved: Laid
    px_per_mm: float
    gain: NDArray[np.float64] | None = None
    across: float | None = None
    name: str = ""

    def __post_init__(self) -> None:
        self.pixels.setflags(write=False)
        self.on_leaf.setflags(write=False)

    @property
    def across_px_per_mm(self) -> float:
        """Pixels per millimetre across the leaf."""
        return self.px_per_mm if self.across is None else self.across
