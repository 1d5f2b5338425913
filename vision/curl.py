"""A leaf that does not lie flat passes for slope of its fibres: how much of that there may be.

A wave of the leaf tilts its fibres with it, and no laying tells the one from the other. In a match
the leaf will be glued down flat, so that what was curl is gone. Fibres swing slowly by about a
degree; what a fit finds beyond that along a leaf is held to be curl, and a little in any case.
"""

from __future__ import annotations

import numpy as np

from vision.slope_fit import SlopeFit
from vision.slope_solver import SLOPE

FIBRE_SWING_SD = np.deg2rad(1.2)
"""Standard deviation of the fibres' own slope along a leaf (as `vision.slope_priors` has it)."""
LEAST_CURL_SD = np.deg2rad(0.25)
"""A leaf held flat to about a millimetre still waves a little."""


def curl_sd(fit: SlopeFit) -> float:
    """Return the standard deviation, radians, of slope along a leaf that may be its curl."""
    seen = float(fit.slope.var())
    noise = fit.spread[SLOPE, SLOPE]
    unsure = float(np.diagonal(noise).mean() - noise.mean())
    beyond = max(seen - unsure - float(FIBRE_SWING_SD) ** 2, 0.0)
    return float(np.sqrt(beyond + float(LEAST_CURL_SD) ** 2))
