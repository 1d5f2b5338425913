"""Panel plans as the records of the machine-readable output; other programs rely on the names."""

from __future__ import annotations

from typing import Any

from catalog.panel_cuts import cut_lines
from catalog.panel_stock import StockPlan
from vision.panel_job import PlanLeaf
from vision.panel_plan import PlannedPanel

Record = dict[str, Any]


def plan_record(one: StockPlan) -> Record:
    """Return a plan with all of its cuts, millimetres to a tenth."""
    plan = one.plan
    return {
        "flitch": one.flitch.name,
        "bundles": [int(bundle.bundle_id) for bundle in one.bundles],
        "match": str(plan.job.match),
        "face": str(plan.job.face),
        "panels": [_panel_record(panel, plan.leaves) for panel in plan.panels],
        "spares": [_leaf_record(plan.leaves[place]) for place in plan.spares],
        "leaves_used": len(plan.used),
        "left_runs": [
            {"first": _leaf_record(plan.leaves[first]), "leaves": count}
            for first, count in plan.left_runs
        ],
        "orphaned_leaves": plan.orphaned,
        "breaks_in_sequence": plan.cost.breaks,
        "face_m2": round(plan.face_m2, 4),
        "leaves_m2": round(plan.leaves_m2, 4),
        "yield": round(plan.yield_share, 4),
        "flags": [str(flag) for flag in plan.flags],
    }


def _panel_record(panel: PlannedPanel, leaves: tuple[PlanLeaf, ...]) -> Record:
    return {
        "name": panel.panel.name,
        "width_mm": panel.panel.width_mm,
        "length_mm": panel.panel.length_mm,
        "columns": panel.columns,
        "rows": panel.rows,
        "pieces": [
            {
                **_leaf_record(leaves[piece.leaf]),
                "column": piece.column + 1,
                "row": piece.row + 1,
                "laid": str(piece.laid),
                "width_mm": round(piece.face.width, 2),
                "length_mm": round(piece.face.height, 2),
                "cuts": [
                    {
                        "line": cut.line,
                        "makes": cut.makes,
                        "rough_mm": round(cut.rough_mm, 1),
                        "face_mm": round(cut.face_mm, 1),
                        "keep": cut.keep,
                    }
                    for cut in cut_lines(piece)
                ],
            }
            for piece in panel.pieces
        ],
    }


def _leaf_record(leaf: PlanLeaf) -> Record:
    return {"bundle": leaf.bundle, "leaf": leaf.label}
