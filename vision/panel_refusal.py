"""Why a job cannot be made from a flitch: what was found, what was needed, what to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from vision.errors import PanelNotPossible
from vision.panel_faces import equal_pieces, rows_of, running_pieces
from vision.panel_job import Allowances, Face, Job, LeafState, Panel, Place, PlanLeaf

MOST_PANEL_MM = 10_000.0
"""No leaf is that long; a larger number is a slip of the pen."""


def check_job(job: Job, leaves: Sequence[PlanLeaf]) -> None:
    """Refuse sizes and allowances that cannot be, and a mark that no plan could show."""
    if not job.panels:
        raise PanelNotPossible("No panel was named; a plan needs one. Give its width and length.")
    for panel in job.panels:
        if not (0 < panel.width_mm <= MOST_PANEL_MM and 0 < panel.length_mm <= MOST_PANEL_MM):
            raise PanelNotPossible(
                f"Panel {panel.name} is {panel.width_mm:g} x {panel.length_mm:g} mm; each must be "
                f"above 0 and no more than {MOST_PANEL_MM:g}. Correct its size."
            )
    for field in fields(Allowances):
        value = getattr(job.allowances, field.name)
        if not 0 <= value < float("inf"):
            raise PanelNotPossible(
                f"The allowance {field.name} is {value:g}; it must be 0 or more. Correct it."
            )
    for leaf in leaves:
        if leaf.state is not LeafState.FREE and any(m.place is Place.SHOW for m in leaf.marks):
            raise PanelNotPossible(
                f"Leaf {leaf.label} shall show a marked place, but it is {leaf.state}. Take the "
                "mark off, or choose other leaves."
            )
        for mark in leaf.marks:
            if not (mark.left_mm < mark.right_mm and mark.top_mm < mark.bottom_mm):
                raise PanelNotPossible(
                    f"A {mark.kind} on leaf {leaf.label} runs from {mark.left_mm:g} to "
                    f"{mark.right_mm:g} mm across and {mark.top_mm:g} to {mark.bottom_mm:g} mm "
                    "along; the first must be the smaller. Correct it."
                )


def why_not(job: Job, leaves: Sequence[PlanLeaf]) -> str:
    """Return a sentence on why no plan was found: the first need that the flitch does not meet."""
    free = [leaf for leaf in leaves if leaf.state is LeafState.FREE]
    if not free:
        return (
            f"None of the {len(leaves)} leaves is free; a plan needs free ones. Look at what is "
            "held, or choose another bundle."
        )
    return (
        _too_long(job, free)
        or _too_narrow(job, free)
        or _too_few(job, leaves, free)
        or (
            f"No run of the {len(free)} free leaves can be cut alike for every panel: marked "
            "places or narrow leaves stand in the way. Allow narrower pieces, a smaller margin, "
            "or a running face; or make the panels from several flitches."
        )
    )


def _too_long(job: Job, free: Sequence[PlanLeaf]) -> str:
    allowances, rows = job.allowances, rows_of(job.face)
    ends = 2 * allowances.end_trim_mm + allowances.overhang_end_mm
    ends += allowances.overhang_end_mm if rows == 1 else allowances.joint_cut_mm
    longest = max(free, key=lambda leaf: leaf.length_mm)
    for panel in job.panels:
        need = panel.length_mm / rows + ends
        if longest.length_mm < need:
            more = "" if rows > 1 else " Four-way lays two rows end to end."
            return (
                f"{panel.name} of {panel.length_mm:g} mm takes leaves of {need:.0f} mm "
                f"({panel.length_mm / rows:.0f} "
                f"and {ends:.0f} for trim and overhang); the longest free leaf, {longest.label}, "
                f"has {longest.length_mm:.0f}. Choose longer leaves or smaller allowances.{more}"
            )
    return ""


def _too_narrow(job: Job, free: Sequence[PlanLeaf]) -> str:
    allowances = job.allowances
    widest = max(leaf.width_mm for leaf in free) - 2 * allowances.side_trim_mm
    net = widest - 2 * allowances.joint_cut_mm
    if net >= allowances.least_piece_mm:
        return ""
    return (
        f"The widest free leaf gives pieces of {max(net, 0):.0f} mm between two joints; at least "
        f"{allowances.least_piece_mm:g} is asked for. Choose wider leaves or allow narrower pieces."
    )


def _too_few(job: Job, leaves: Sequence[PlanLeaf], free: Sequence[PlanLeaf]) -> str:
    need = sum(fewest_leaves(job, panel, free) for panel in job.panels)
    spares = 1 if job.allowances.leaves_per_spare > 0 else 0
    if need + spares > len(free):
        return (
            f"The job takes at least {need} leaves and {spares} spare, going by the widest; "
            f"{len(free)} of {len(leaves)} are free. It is not enough: choose another flitch, or "
            "fewer panels."
        )
    return ""


def fewest_leaves(job: Job, panel: Panel, free: Sequence[PlanLeaf]) -> int:
    """Return how many leaves a panel takes at least, were all as wide as the widest free one."""
    allowances = job.allowances
    widest = max(leaf.width_mm for leaf in free) - 2 * allowances.side_trim_mm
    net = max(widest - 2 * allowances.joint_cut_mm, 1.0)
    if job.face is Face.RUNNING:
        # The first and the last may be partly left over from, or left to, the next panel.
        return max(1, running_pieces(panel.width_mm, net)[0])
    return rows_of(job.face) * equal_pieces(job.face, panel.width_mm, net)[0]
