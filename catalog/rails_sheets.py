"""The printed rails and the list of what is on them, from a few typed numbers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from catalog.rails_layout import RailsPaper, lay_out_rails
from catalog.rails_list import list_rails
from catalog.rails_pdf import print_rails
from vision.rail_plan import Holder, RailPlan, plan_for_length


@dataclass(frozen=True, slots=True)
class PrintedRails:
    """Sheets to print and glue, and what is on them."""

    plan: RailPlan
    page_count: int
    pdf: bytes
    listed: str
    """JSON: every marker, grey, white and holder item with its place, mm."""


def make_rails(
    length_mm: float,
    *,
    pitch_mm: float,
    paper: RailsPaper,
    gap_mm: float,
    chart_patch_mm: float,
    on: date,
) -> PrintedRails:
    """Return rails for a table.

    Parameters
    ----------
    length_mm : float
        First marker to last, at most.
    pitch_mm : float
        Marker to marker: 100 or 400.
    paper : RailsPaper
    gap_mm : float
        Centre line to centre line of the rails.
    chart_patch_mm : float
        Centre to centre of neighbouring patches of the chart.
    on : date
        Printed on the sheets.

    Raises
    ------
    RailsNotPossible, EntryFaulty
        If no such rails are made.
    """
    plan = plan_for_length(length_mm, pitch_mm)
    layout = lay_out_rails(plan, paper=paper, gap_mm=gap_mm, holder=Holder(chart_patch_mm))
    return PrintedRails(
        plan, layout.page_count, print_rails(layout, on=on), list_rails(layout, on=on)
    )
