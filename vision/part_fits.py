"""The tables of several photographs of one pair of rails: the rails lie alike in all of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.marker_search import Markers
from vision.rail_fit import fit_table
from vision.rail_plan import Holder, RailPlan
from vision.shooting_station import RailsByTape
from vision.table_map import RightRail, TableMap


def fit_parts(
    markers: Sequence[Markers],
    plan: RailPlan,
    *,
    tape: RailsByTape | None,
    size_px: tuple[int, int],
    focal_35mm: float | None,
    camera_height_mm: float | None,
    holder: Holder | None = None,
) -> tuple[TableMap, ...]:
    """Return the table in each of several photographs by one camera, for `join_shots`.

    Each photograph is fitted alone, for what it tells of how the right rail lies; the rail is then
    laid as they say together, and each is fitted again. Arguments are those of `fit_table`.

    Raises
    ------
    RailsUnfit
        If one photograph cannot be fitted.
    """

    def fit(seen: Markers, rail: RightRail | None) -> TableMap:
        return fit_table(
            seen,
            plan,
            tape=tape,
            size_px=size_px,
            focal_35mm=focal_35mm,
            camera_height_mm=camera_height_mm,
            holder=holder,
            right_rail=rail,
        )

    rail = common_rail([fit(seen, None).right_rail for seen in markers])
    return tuple(fit(seen, rail) for seen in markers)


def common_rail(rails: Sequence[RightRail]) -> RightRail:
    """Return how the right rail lies by several photographs, each weighed by what it could tell."""
    told = [np.linalg.inv(np.array(rail.covariance)) for rail in rails]
    lies = [np.array([rail.gap_top_mm, rail.gap_bottom_mm, rail.shift_mm]) for rail in rails]
    spread = np.linalg.inv(np.sum(told, axis=0))
    top, bottom, shift = spread @ sum(w @ lie for w, lie in zip(told, lies, strict=True))
    return RightRail(float(top), float(bottom), float(shift), rails[0].length_mm)
