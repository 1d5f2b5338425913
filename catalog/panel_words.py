"""A panel plan in the words of the shop. Metric first, inches beside."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from catalog.set_words import FT2_PER_M2, MM_PER_INCH
from vision.match_layout import Match
from vision.panel_job import YIELD_RULE, Face, PlanLeaf
from vision.panel_plan import PanelPlan, PlanFlag, PlannedPanel, PlannedPiece
from vision.shot import Laid

FACE_WORDS: dict[Face, str] = {
    Face.BALANCE: "balance match",
    Face.CENTRE_BALANCE: "centre balance match",
    Face.RUNNING: "running match",
    Face.SLIP_CENTRE_BOOK: "slip match, booked at the centre",
    Face.FOUR_WAY: "four-way match",
}
LAID_WORDS: dict[Laid, str] = {
    Laid.AS_LIES: "as it lies",
    Laid.FACE_OVER: "turned over its long edge",
    Laid.END_OVER: "turned over its short edge",
    Laid.END_TURNED: "spun end for end",
}
CUTTING_CAUTIONS = (
    "Number every leaf and mark its top end before the pack is opened; tape splits and ends first.",
    (
        "A saw or knife leaves one square edge and one waste edge: lay the straightedge on the "
        "keep side and cut on the other. Only a square edge makes a joint."
    ),
    (
        "Cut at the rough lines, then shoot the joint edges straight, all leaves of a panel "
        "together, down to the joint lines. Fingers behind the guide; clamp the pack."
    ),
    "Lay the face out dry in the light it will live in before any glue.",
)
PRESSING_CAUTIONS = (
    (
        "Leaves and core at 6 to 10 % moisture before pressing. Same veneer, same thickness and "
        "same finish on the back, or the panel will bow."
    ),
    (
        "A vacuum press carries about nine tonnes on each square metre: check platen and bag, and "
        "never blow a bag up."
    ),
    "Adhesives by their data sheets: gloves and fresh air; a respirator where you sand.",
    "Trim to size only when the panel has cooled and rested; the overhang is there for that.",
)


def run_words(leaves: Sequence[PlanLeaf], places: Iterable[int]) -> str:
    """Return leaves as runs, bundle by bundle, for example ``1/04–1/10, 2/01``."""
    many = len({leaf.bundle for leaf in leaves}) > 1
    names = [f"{leaf.bundle}/{leaf.label}" if many else leaf.label for leaf in leaves]
    runs = groupby(enumerate(sorted(set(places))), key=lambda pair: pair[1] - pair[0])
    words = []
    for _, members in runs:
        run = [place for _, place in members]
        words.append(names[run[0]] if len(run) == 1 else f"{names[run[0]]}–{names[run[-1]]}")
    return ", ".join(words)


def size_words(width_mm: float, length_mm: float) -> str:
    """Return ``900 × 2100 mm (35.4 × 82.7 in)``."""
    inches = f"{width_mm / MM_PER_INCH:.1f} × {length_mm / MM_PER_INCH:.1f} in"
    return f"{width_mm:g} × {length_mm:g} mm ({inches})"


def pieces_words(panel: PlannedPanel) -> str:
    """Return how many pieces of which width make a face, equal neighbours together.

    A face of two rows counts one row and says so.
    """
    widths = [f"{p.face.width:.1f}" for p in pieces_in_order(panel) if p.row == 0]
    parts = [f"{len(list(same))} × {width}" for width, same in groupby(widths)]
    rows = f", in {panel.rows} rows" if panel.rows > 1 else ""
    return f"{' + '.join(parts)} mm{rows}"


def pieces_in_order(panel: PlannedPanel) -> list[PlannedPiece]:
    """Return the pieces of a panel row by row, left to right."""
    return sorted(panel.pieces, key=lambda piece: (piece.row, piece.column))


def along_words(panel: PlannedPanel) -> str:
    """Return from where to where along the leaves a face is cut, from their top ends."""
    face = panel.pieces[0].face
    return f"{face.top:.0f} to {face.bottom:.0f} mm"


def match_words(plan: PanelPlan) -> str:
    """Return the match in a few words."""
    job = plan.job
    own = job.face in (Face.SLIP_CENTRE_BOOK, Face.FOUR_WAY)
    face = FACE_WORDS[job.face]
    return face if own else f"{job.match.value} matched, {face}"


def taken_words(plan: PanelPlan) -> str:
    """Return which leaves are taken, and which of them as spares."""
    laid = {leaf for panel in plan.panels for leaf in panel.leaves}
    words = f"{_count(len(laid), 'leaf', 'leaves')}: {run_words(plan.leaves, laid)}"
    if plan.spares:
        spare = _count(len(plan.spares), "spare", "spares")
        words += f", and {spare}: {run_words(plan.leaves, plan.spares)}"
    return words


def yield_words(plan: PanelPlan) -> str:
    """Return the yield: face from leaves, with the rule of thumb beside it."""
    ratio = plan.leaves_m2 / plan.face_m2
    return (
        f"{plan.yield_share:.0%} yield: {plan.face_m2:.2f} m² of face "
        f"({plan.face_m2 * FT2_PER_M2:.1f} ft²) from {plan.leaves_m2:.2f} m² of leaves, "
        f"{ratio:.1f} to 1 (architectural average {YIELD_RULE:g} to 1)"
    )


def left_words(plan: PanelPlan) -> str:
    """Return what stays free, run by run, and which runs are too short to sell."""
    if not plan.left_runs:
        return "nothing is left"
    parts = []
    for first, count in plan.left_runs:
        run = run_words(plan.leaves, range(first, first + count))
        short = ", too short to sell as a run" if count < plan.job.allowances.least_run else ""
        parts.append(f"{run} ({_count(count, 'leaf', 'leaves')}{short})")
    return "; ".join(parts)


def flag_sentences(plan: PanelPlan) -> tuple[str, ...]:
    """Return what to look at before the plan is followed, a sentence each."""
    allowances = plan.job.allowances
    shared = 2 * allowances.overhang_side_mm
    sentences = {
        PlanFlag.SEQUENCE_BROKEN: (
            "The panels are not from one unbroken run: between two of them leaves are skipped, so "
            "the figure jumps there."
        ),
        PlanFlag.ORPHANS: (
            f"{_count(plan.orphaned, 'leaf is', 'leaves are')} left in runs of fewer than "
            f"{allowances.least_run:g}, hard to sell: price them in, or sell them along."
        ),
        PlanFlag.FEW_SPARES: (
            f"{_count(plan.spares_lacking, 'spare leaf is', 'spare leaves are')} lacking; the "
            "flitch cannot be ordered again. Tell the customer before cutting."
        ),
        PlanFlag.SIDE_LOSS: (
            f"More grain than {allowances.most_side_loss_mm:g} mm is lost at a side joint "
            f"({max(shared, 2 * allowances.joint_cut_mm):g} mm): take off less at joints, or a "
            "smaller overhang."
        ),
        PlanFlag.END_LOSS: (
            f"More grain than {allowances.most_end_loss_mm:g} mm is lost at an end joint "
            f"({2 * allowances.joint_cut_mm:g} mm): take off less."
        ),
        PlanFlag.OTHER_HEIGHT: (
            "Panels of one length are cut at different places along the leaves to clear defects; "
            "lines across the figure will not run on from panel to panel."
        ),
        PlanFlag.TWO_BUNDLES: "More than one bundle is opened.",
    }
    return tuple(sentences[flag] for flag in plan.flags)


def bundles_words(plan: PanelPlan) -> str:
    """Return which bundles the leaves come from, for example ``bundles 1, 2``."""
    labels = dict.fromkeys(plan.leaves[place].bundle for place in plan.used)
    return f"{'bundle' if len(labels) == 1 else 'bundles'} {', '.join(labels)}"


def turned_words(plan: PanelPlan) -> str:
    """Return a sentence on light and dark where leaves are turned, empty where none is."""
    if all(piece.laid is Laid.AS_LIES for panel in plan.panels for piece in panel.pieces):
        return ""
    own = plan.job.face in (Face.SLIP_CENTRE_BOOK, Face.FOUR_WAY)
    other = " A slip match shows none." if plan.job.match is Match.BOOK and not own else ""
    return f"Leaves are turned: look at light and dark for this run before it is cut.{other}"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
