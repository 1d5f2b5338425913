"""Mixes of a chart's patches that send back light as wood does.

Light adds up: half the light of one patch and half of another is, to every camera under every lamp,
half of what it sees of each, and its colour is as well known as theirs. So a mix whose spectrum is
that of a wood tells what the camera sees of that wood, sharp lines in the lamp and all, although
no wood lies beside the chart. Single patches that only resemble wood cannot: two spectra of one
colour come apart under another lamp. A mix is true whatever its spectrum; chart and woods need not
be known well, only well enough that the mix lies near wood.

Spectra of the patches are those measured by Ohta (The basis of color reproduction engineering,
1997; the same as in ISO 17321-1:2012), as tabulated by colour-science 0.4.7 (New BSD licence).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_NM = np.arange(400.0, 701.0, 20.0)
"""Wavelengths of the spectra, nm."""
_PER_THOUSAND = (
    (65, 64, 55, 52, 54, 61, 70, 76, 87, 115, 138, 154, 173, 204, 242, 282),
    (182, 201, 212, 240, 282, 301, 322, 292, 295, 358, 494, 550, 574, 605, 652, 713),
    (266, 336, 335, 322, 293, 260, 225, 198, 183, 163, 150, 137, 123, 112, 105, 103),
    (50, 50, 54, 61, 67, 78, 155, 177, 137, 122, 104, 98, 97, 95, 125, 247),
    (328, 446, 444, 421, 381, 342, 271, 211, 201, 206, 235, 243, 269, 384, 490, 520),
    (252, 322, 353, 408, 523, 582, 569, 519, 436, 346, 260, 221, 210, 211, 233, 252),
    (54, 52, 52, 52, 55, 61, 86, 170, 297, 452, 532, 566, 587, 604, 615, 628),
    (231, 324, 373, 374, 301, 202, 137, 106, 90, 83, 87, 84, 98, 123, 120, 116),
    (144, 138, 131, 126, 119, 103, 94, 92, 108, 157, 415, 567, 601, 607, 605, 606),
    (177, 206, 168, 120, 86, 67, 58, 52, 55, 52, 59, 99, 149, 193, 248, 319),
    (60, 62, 68, 85, 135, 269, 484, 545, 513, 454, 374, 331, 320, 324, 354, 379),
    (65, 64, 65, 69, 92, 123, 193, 374, 512, 584, 624, 645, 662, 676, 685, 696),
    (136, 208, 290, 338, 239, 120, 66, 48, 43, 40, 39, 40, 42, 43, 44, 48),
    (58, 59, 65, 78, 113, 180, 324, 355, 281, 196, 124, 89, 80, 75, 78, 88),
    (51, 49, 49, 48, 45, 44, 44, 45, 50, 72, 192, 486, 654, 700, 718, 729),
    (53, 52, 53, 59, 121, 303, 475, 597, 660, 708, 737, 753, 768, 780, 785, 792),
    (283, 359, 327, 267, 209, 163, 124, 102, 106, 141, 279, 522, 696, 766, 791, 804),
    (195, 258, 315, 391, 458, 433, 339, 228, 141, 97, 80, 73, 73, 76, 75, 72),
    (409, 840, 883, 887, 888, 887, 887, 887, 887, 887, 887, 891, 890, 889, 888, 888),
    (372, 580, 587, 586, 581, 580, 581, 583, 584, 588, 588, 585, 580, 576, 572, 568),
    (289, 357, 361, 361, 357, 356, 357, 358, 359, 361, 360, 357, 353, 349, 345, 341),
    (183, 202, 205, 204, 202, 202, 202, 203, 203, 205, 204, 203, 200, 197, 195, 192),
    (91, 94, 95, 94, 93, 92, 93, 93, 93, 93, 92, 91, 90, 89, 87, 86),
    (35, 36, 35, 35, 34, 34, 34, 34, 33, 33, 33, 33, 33, 33, 33, 32),
)
PATCH_SPECTRA = np.array(_PER_THOUSAND, dtype=np.float64) / 1000
"""Reflectance of the 24 patches, the dark skin first, shape (24, 16)."""

_WOODS = (
    (-2.016, 0.705, 0.085),
    (-1.570, 1.013, -0.137),
    (-1.693, 0.886, 0.133),
    (-1.461, 1.207, 0.270),
    (-0.937, 1.037, 0.259),
    (-0.743, 0.986, 0.026),
    (-1.092, 1.000, -0.515),
    (-0.016, 1.029, 0.099),
    (0.525, 1.029, -0.085),
)
"""Log odds of reflectance at 550 nm, and their rise and bend over 150 nm, for each of `WOOD_LAB`.
Wood reflects the more the longer the wave, without bands in view; a curve as smooth as this has
three numbers, which the three of the colour settle."""
WOOD_LAB = (
    (42.0, 7.0, 13.0),
    (50.0, 9.0, 22.0),
    (48.0, 9.5, 17.0),
    (53.0, 14.0, 23.0),
    (62.0, 11.5, 20.0),
    (65.0, 9.0, 21.0),
    (58.0, 6.0, 26.0),
    (77.0, 7.5, 19.0),
    (84.0, 4.5, 17.5),
)
"""L*a*b* (D50, 2 degrees) in the midst of usual ranges: walnut, teak, strongly steamed oak,
mahogany, steamed beech, oak (Dzurenda 2018; Dzurenda and Dudiak 2024 for the steamed ones), a wood
as yellow as any, beech, maple."""
SEEN = np.array((0.1, 0.7, *[1.0] * 11, 0.6, 0.3, 0.1))
"""Weight of each wavelength: the eye sees next to nothing at the ends, a camera little; and there
the inks of charts differ most from batch to batch."""
SMALL = 0.01
"""What a squared share costs, against the squared error of reflectance summed over the spectrum:
keeps the shares small, so that what a patch is off counts little."""


def wood_spectra() -> NDArray[np.float64]:
    """Return the reflectance of the woods of `WOOD_LAB`, shape (9, 16)."""
    along = (_NM - 550.0) / 150.0
    odds = np.array(_WOODS) @ np.stack([np.ones_like(along), along, along**2])
    return np.asarray(1 / (1 + np.exp(-odds)))


def wood_mixes(use: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the share of each patch in a mix that is like each wood, shape (9, 24).

    Parameters
    ----------
    use : ndarray of bool, shape (24,)
        Patches that may be in a mix; the share of the others is nought.

    Examples
    --------
    >>> mixes = wood_mixes(np.ones(24, dtype=bool))
    >>> bool(np.abs((mixes @ PATCH_SPECTRA - wood_spectra()) * SEEN).max() < 0.02)
    True
    """
    patches, woods = PATCH_SPECTRA[use] * SEEN, wood_spectra() * SEEN
    held = patches @ patches.T + SMALL * np.eye(len(patches))
    mixes = np.zeros((len(woods), len(use)))
    mixes[:, use] = np.linalg.solve(held, patches @ woods.T).T
    return mixes
