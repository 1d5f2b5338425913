"""What a photograph taken at a station is good for: how sure its millimetres and its colour are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.cut_out import EDGE_SD
from vision.readings import ColourClass, ScaleClass
from vision.station_use import AtStation
from vision.table_map import TableMap

VERDICT_MM = 2500.0
"""A leaf of this length is taken to say how far millimetres may be off."""


@dataclass(frozen=True, slots=True)
class StationVerdict:
    """What one photograph gives a leaf that lies flat on the table, and why."""

    scale_class: ScaleClass
    length_sd_mm: float | None
    """One standard deviation of the length of a leaf `VERDICT_MM` long; None without rails."""
    colour_class: ColourClass
    delta_e00_sd: float | None
    """How far, CIEDE2000, the colour of wood may be off; None if nothing tells."""
    size_words: str
    """Why the size has its class, in a sentence."""
    colour_words: str


def judge_at_station(at: AtStation) -> StationVerdict:
    """Return what a photograph held against its station is good for."""
    table = at.table
    if table is None:
        scale_class, length_sd_mm = ScaleClass.NONE, None
    else:
        scale_class = ScaleClass.MEASURED if table.is_by_tape else ScaleClass.RAILS
        length_sd_mm = _length_sd_mm(table, EDGE_SD)
    return StationVerdict(
        scale_class=scale_class,
        length_sd_mm=length_sd_mm,
        colour_class=at.colour_class,
        delta_e00_sd=at.delta_e00_sd,
        size_words=at.quality.size_words,
        colour_words=at.quality.colour_words,
    )


def _length_sd_mm(table: TableMap, edge_sd_px: float) -> float:
    """Return tape and fit over `VERDICT_MM`, and two ends set to so many pixels each."""
    middle = (
        (table.right_rail.gap_top_mm + table.right_rail.gap_bottom_mm) / 4,
        sum(table.span_mm) / 2,
    )
    ends_mm = np.sqrt(2) * edge_sd_px / table.px_per_mm_at(middle)
    return float(np.hypot(table.trust.along * VERDICT_MM, ends_mm))
