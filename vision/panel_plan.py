"""Is this run enough for the job? Which leaves make the panels, where each is cut, what is left."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from vision.errors import PanelNotPossible
from vision.panel_faces import Slot, columns_of, joined_sides, rows_of, slots_of
from vision.panel_job import Job, LeafState, Panel, PlanLeaf
from vision.panel_refusal import check_job, why_not
from vision.panel_runs import Cost, Run, Search, Way, spares_for
from vision.panel_window import Cut, Extra, extra_of, wood_of
from vision.piece import Box
from vision.shot import Laid

MM2_PER_M2 = 1e6
ONE_SPARE = 1e6
"""Leaves to a spare: one for the whole job."""
SHARED_MOST = 0.5
"""A plan that shares more than this part of its leaves with a better one is not shown as another
choice."""
HAIR_MM = 0.05
"""Cuts nearer to each other than this are one cut."""


class PlanFlag(StrEnum):
    """What to look at before a plan is followed; stored names, never changed."""

    SEQUENCE_BROKEN = "sequence-broken"
    ORPHANS = "orphans"
    FEW_SPARES = "few-spares"
    SIDE_LOSS = "side-loss"
    END_LOSS = "end-loss"
    OTHER_HEIGHT = "other-height"
    TWO_BUNDLES = "two-bundles"


@dataclass(frozen=True, slots=True)
class PlannedPiece:
    """One piece of a panel; cuts in mm on the leaf as it lies, from its left edge and top end."""

    leaf: int
    """Place of the leaf in the flitch, from 0."""
    column: int
    row: int
    laid: Laid
    face: Box
    """What shows on the finished panel: its sides at joints are the joint lines."""
    rough: Box
    """Where it is first cut: joint cut and overhang still on it."""
    x_mm: float
    y_mm: float
    """Where its face lies on the panel, from the top left corner."""
    joints: tuple[bool, bool, bool, bool]
    """Whether left, top, right and bottom of the leaf make a joint; else an outer edge."""


@dataclass(frozen=True, slots=True)
class PlannedPanel:
    """One panel with its pieces."""

    panel: Panel
    pieces: tuple[PlannedPiece, ...]
    leaves: tuple[int, ...]
    """Places in the flitch, in stack order; a leaf shared with the panel before comes first."""
    columns: int
    rows: int


@dataclass(frozen=True, slots=True)
class PanelPlan:
    """One way to make a job from one flitch."""

    job: Job
    leaves: tuple[PlanLeaf, ...]
    """The flitch it is taken from, in order."""
    panels: tuple[PlannedPanel, ...]
    spares: tuple[int, ...]
    left_runs: tuple[tuple[int, int], ...]
    """(first leaf, number) of each run that stays free."""
    orphaned: int
    """Leaves in runs too short to sell, more than before; below 0 where old remnants are used."""
    cost: Cost
    face_m2: float
    leaves_m2: float
    """Of the leaves used, spares among them, whole."""
    flags: tuple[PlanFlag, ...]

    @property
    def used(self) -> tuple[int, ...]:
        """Return the places of all leaves taken, spares among them, in order."""
        laid = {leaf for panel in self.panels for leaf in panel.leaves}
        return tuple(sorted(laid | set(self.spares)))

    @property
    def spares_lacking(self) -> int:
        """Return how many spares short of the wish the plan is."""
        laid = len({leaf for panel in self.panels for leaf in panel.leaves})
        wished = spares_for(laid, self.job.allowances.leaves_per_spare)
        return max(0, wished - len(self.spares))

    @property
    def yield_share(self) -> float:
        """Return which part of the leaves' area becomes face, 0 to 1."""
        return self.face_m2 / self.leaves_m2


def plan_panels(job: Job, leaves: Sequence[PlanLeaf], *, most: int = 3) -> tuple[PanelPlan, ...]:
    """Return ways to make a job from one flitch, the best first.

    The best plan is exact: no other choice of runs, numbers of pieces, spares and cuts has a
    smaller `Cost`. Where the leaves do not reach for all the spares, one is tried, then none, and
    the plan is flagged. Others are the best ones that begin at another leaf and share no more than
    half of their leaves with a better plan.

    Parameters
    ----------
    job : Job
    leaves : sequence of PlanLeaf
        The flitch in the order it was sliced, gone and held leaves in their places.
    most : int
        How many plans to return.

    Raises
    ------
    PanelNotPossible
        If there is no such plan, or a size or an allowance cannot be; it says what is lacking.

    Examples
    --------
    >>> stock = [PlanLeaf(f"{i:02}", "1", 2600.0, 200.0) for i in range(1, 25)]
    >>> (plan,) = plan_panels(Job((Panel("door", 900.0, 2100.0),)), stock, most=1)
    >>> [stock[leaf].label for leaf in plan.panels[0].leaves], plan.panels[0].pieces[0].face.right
    (['01', '02', '03', '04', '05', '06'], 180.5)
    """
    check_job(job, leaves)
    for per_spare in dict.fromkeys((job.allowances.leaves_per_spare, ONE_SPARE, 0.0)):
        allowances = replace(job.allowances, leaves_per_spare=per_spare)
        search = Search(replace(job, allowances=allowances), leaves)
        ways = search.best_from_each_start()
        if ways or not job.allowances.leaves_per_spare:
            break
    if not ways:
        raise PanelNotPossible(why_not(job, leaves))
    chosen: list[PanelPlan] = []
    for way in ways:
        plan = _plan_of(job, leaves, way, search)
        if all(_shared(plan, other) <= SHARED_MOST for other in chosen):
            chosen.append(plan)
        if len(chosen) == most:
            break
    return tuple(chosen)


def _shared(plan: PanelPlan, other: PanelPlan) -> float:
    return len(set(plan.used) & set(other.used)) / len(plan.used)


def _plan_of(job: Job, leaves: Sequence[PlanLeaf], way: Way, search: Search) -> PanelPlan:
    panels = tuple(_planned(job, leaves, run) for run in search.levelled(way.runs))
    first, last = way.runs[0], way.runs[-1]
    spares = (
        *range(first.first - first.spares_before, first.first),
        *range(last.end, last.end + last.spares_after),
    )
    used = {leaf for panel in panels for leaf in panel.leaves} | set(spares)
    remaining = [leaf if i not in used else _gone(leaf) for i, leaf in enumerate(leaves)]
    after = Search(job, remaining)
    plan = PanelPlan(
        job=job,
        leaves=tuple(leaves),
        panels=panels,
        spares=spares,
        left_runs=tuple(after.free_runs(0, len(leaves))),
        orphaned=after.orphans(0, len(leaves)) - search.orphans(0, len(leaves)),
        cost=way.cost,
        face_m2=sum(p.panel.width_mm * p.panel.length_mm for p in panels) / MM2_PER_M2,
        leaves_m2=sum(leaves[i].length_mm * leaves[i].width_mm for i in used) / MM2_PER_M2,
        flags=(),
    )
    return _flagged(plan)


def _gone(leaf: PlanLeaf) -> PlanLeaf:
    return PlanLeaf(leaf.label, leaf.bundle, leaf.length_mm, leaf.width_mm, (), LeafState.GONE)


def _planned(job: Job, leaves: Sequence[PlanLeaf], run: Run) -> PlannedPanel:
    panel = job.panels[run.panel]
    if run.cut is None:
        return _planned_running(job, leaves, run)
    count = run.end - run.first
    columns, rows = columns_of(job.face, count) or 1, rows_of(job.face)
    pieces = []
    for leaf, slot in enumerate(slots_of(job.face, job.match, count), start=run.first):
        extra = extra_of(slot, job.allowances, columns=columns, rows=rows)
        corner = (slot.column * panel.width_mm / columns, slot.row * panel.length_mm / rows)
        joints = joined_sides(slot, columns=columns, rows=rows)
        pieces.append(_piece(job, leaves, (leaf, slot, joints), run.cut, extra, corner))
    return PlannedPanel(panel, tuple(pieces), tuple(range(run.first, run.end)), columns, rows)


def _planned_running(job: Job, leaves: Sequence[PlanLeaf], run: Run) -> PlannedPanel:
    pieces, x = [], 0.0
    for column, piece in enumerate(run.running):
        slot = Slot(column, 0, piece.laid)
        joints = joined_sides(slot, columns=len(run.running), rows=1)
        whose = (piece.leaf, slot, joints)
        pieces.append(_piece(job, leaves, whose, piece.cut, piece.extra, (x, 0.0)))
        x += piece.cut.width
    taken = tuple(piece.leaf for piece in run.running)
    return PlannedPanel(job.panels[run.panel], tuple(pieces), taken, len(pieces), 1)


def _piece(
    job: Job,
    leaves: Sequence[PlanLeaf],
    whose: tuple[int, Slot, tuple[bool, bool, bool, bool]],
    cut: Cut,
    extra: Extra,
    corner: tuple[float, float],
) -> PlannedPiece:
    leaf, slot, joints = whose
    left = cut.left - wood_of(leaves[leaf], job.allowances, job.register).shift_mm
    face = Box(left, cut.top, left + cut.width, cut.top + cut.length)
    rough = Box(
        face.left - extra.left,
        face.top - extra.top,
        face.right + extra.right,
        face.bottom + extra.bottom,
    )
    return PlannedPiece(leaf, slot.column, slot.row, slot.laid, face, rough, *corner, joints=joints)


def _flagged(plan: PanelPlan) -> PanelPlan:
    """Return the plan with what to look at."""
    allowances, cost = plan.job.allowances, plan.cost
    pieces = [piece for panel in plan.panels for piece in panel.pieces]
    counts = Counter(leaf for panel in plan.panels for leaf in panel.leaves)
    heights: dict[float, set[float]] = {}
    for panel in plan.panels:
        tops = heights.setdefault(panel.panel.length_mm, set())
        tops |= {round(piece.face.top / HAIR_MM) for piece in panel.pieces}
    side_loss = 2 * allowances.joint_cut_mm if any(p.columns > 1 for p in plan.panels) else 0.0
    if max(counts.values()) > 1:
        side_loss = max(side_loss, 2 * allowances.overhang_side_mm)
    end_loss = 2 * allowances.joint_cut_mm if any(piece.row for piece in pieces) else 0.0
    said = {
        PlanFlag.SEQUENCE_BROKEN: cost.breaks > 0,
        PlanFlag.ORPHANS: plan.orphaned > 0,
        PlanFlag.FEW_SPARES: plan.spares_lacking > 0,
        PlanFlag.SIDE_LOSS: side_loss > allowances.most_side_loss_mm,
        PlanFlag.END_LOSS: end_loss > allowances.most_end_loss_mm,
        PlanFlag.OTHER_HEIGHT: any(len(tops) > 1 for tops in heights.values()),
        PlanFlag.TWO_BUNDLES: cost.bundles > 1,
    }
    return replace(plan, flags=tuple(flag for flag, holds in said.items() if holds))
