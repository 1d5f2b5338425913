"""The list beside the printed rails: every item with its place in millimetres and its sheet."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from typing import Any

from catalog.rails_layout import RailsLayout


def list_rails(layout: RailsLayout, *, on: date) -> str:
    """Return everything on the sheets as JSON, for other programs.

    ``x_mm`` and ``y_mm`` count from the rail's own centre line and first marker, or from the
    middle of the chart holder's window; ``page_x_mm`` and ``page_y_mm`` from the sheet's top left.
    """
    plan, holder = layout.plan, layout.holder
    listed: dict[str, Any] = {
        "made_on": on.isoformat(),
        "paper": layout.paper.value,
        "sheets": layout.page_count,
        "markers": plan.markers,
        "pitch_mm": plan.pitch_mm,
        "length_mm": plan.length_mm,
        "gap_mm": layout.gap_mm,
        "chart_patch_mm": holder.patch_pitch_mm,
        "window_mm": holder.window_mm,
        "pieces": [{"code": piece.code, **asdict(piece)} for piece in layout.pieces],
        "check_lines": [asdict(check) for check in layout.check_lines],
        "items": [asdict(item) for item in layout.items],
    }
    return json.dumps(listed, indent=1, allow_nan=False) + "\n"
