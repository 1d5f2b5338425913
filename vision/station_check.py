"""Whether the greys of a photograph agree with those of the day the station was set up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.colour_fit import map_colours
from vision.colour_space import LUMINANCE, delta_e00, linear_to_lab
from vision.shooting_station import ColourMap, StationGrey

MOST_LEVEL = 0.03
"""Fraction by which the light may differ."""
MOST_HUE = 1.0
"""CIEDE2000 by which a grey's hue and chroma may differ."""
MOST_TOTAL = 1.5
"""CIEDE2000 by which a grey may differ in all."""
LEAST_GREYS = 3
"""Greys without which nothing can be said."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far the greys differ from the station's."""

    level: float
    """Light now over light then, less 1."""
    hue: float
    """CIEDE2000 with the lightness of then."""
    total: float
    """CIEDE2000."""

    @property
    def holds(self) -> bool:
        """Tell whether the station can still be believed."""
        return abs(self.level) <= MOST_LEVEL and self.hue <= MOST_HUE and self.total <= MOST_TOTAL

    @property
    def words(self) -> str:
        """Say by how much they differ and, if too much, what it takes."""
        if self.holds:
            level = round(self.level, 3) + 0.0  # never minus nothing
            return f"The greys agree with the station: light {level:+.1%}, ΔE {self.total:.1f}."
        reasons = []
        if abs(self.level) > MOST_LEVEL:
            more = "more" if self.level > 0 else "less"
            reasons.append(f"{abs(self.level):.0%} {more} light than when the station was set up")
        if self.hue > MOST_HUE:
            reasons.append(f"their hue has moved by ΔE {self.hue:.1f}")
        if not reasons:
            reasons.append(f"they have moved by ΔE {self.total:.1f} in all")
        return (
            f"The greys of the rails disagree with the station: {' and '.join(reasons)}; "
            f"{MOST_LEVEL:.0%} of light and ΔE {MOST_HUE:.1f} of hue are allowed. Set lamps, "
            "exposure and white balance as they were, or set the station up again."
        )


def check_greys(
    seen: dict[str, NDArray[np.float64]],
    known: Sequence[StationGrey],
    colour_map: ColourMap | None,
) -> Agreement | None:
    """Return how the greys agree, or None with fewer than `LEAST_GREYS` in common.

    Parameters
    ----------
    seen : dict of str to ndarray
        Linear light of each grey as it falls on the camera, by the station's tone curve.
    known : sequence of StationGrey
        The station's; those without ``light`` are passed over.
    colour_map : ColourMap or None
        The station's.
    """
    pairs = [
        (np.array(one.light), np.array(one.camera), seen[one.name])
        for one in known
        if one.light is not None and one.camera is not None and one.name in seen
    ]
    if len(pairs) < LEAST_GREYS:
        return None
    then, camera, now = (np.array(part) for part in zip(*pairs, strict=True))
    gain = np.exp(np.median(np.log(now / then), axis=0))
    before, after = (map_colours(one, colour_map) for one in (camera, camera * gain))
    lab, moved = linear_to_lab(before), linear_to_lab(after)
    level = float(np.median((after @ LUMINANCE) / (before @ LUMINANCE))) - 1
    held = moved.copy()
    held[:, 0] = lab[:, 0]
    return Agreement(
        level, float(np.median(delta_e00(lab, held))), float(np.median(delta_e00(lab, moved)))
    )
