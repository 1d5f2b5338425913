"""A flitch leaf by leaf, and what a plan does with each of them.

Every word is escaped here; the caller hands over plain text.
"""

from __future__ import annotations

from html import escape

from vision.panel_job import LeafState
from vision.panel_plan import PanelPlan

SHORT = "short"


def strip_html(plan: PanelPlan) -> str:
    """Return the leaves in order: panel numbers, spares, what is left, held and gone."""
    parts = ['<div class="fw-slots" role="list">']
    bundle = None
    for place, leaf in enumerate(plan.leaves):
        if leaf.bundle != bundle:
            bundle = leaf.bundle
            parts.append(f'<span class="fw-bundle-name">Bundle {escape(bundle)}</span>')
        kind, word = _use(plan, place)
        parts.append(
            f'<span class="fw-slot {kind}" role="listitem">{escape(leaf.label)}'
            f"<small>{escape(word)}</small></span>"
        )
    return "".join([*parts, "</div>"])


def strip_words(plan: PanelPlan) -> str:
    """Return the meaning of the words below the leaves that this plan uses."""
    words = ["a number: the panel it goes into"]
    if plan.spares:
        words.append("spare: kept whole beside them")
    if any(count < plan.job.allowances.least_run for _, count in plan.left_runs):
        words.append(f"{SHORT}: left in a run too short to sell")
    words.append("nothing: free")
    return "Below each leaf " + "; ".join(words) + "."


def _use(plan: PanelPlan, place: int) -> tuple[str, str]:
    """Return the class and the word of a leaf."""
    numbers = [i for i, panel in enumerate(plan.panels, start=1) if place in panel.leaves]
    if numbers:
        return f"fw-laid{' fw-even' if numbers[0] % 2 == 0 else ''}", "+".join(map(str, numbers))
    if place in plan.spares:
        return "fw-spare", "spare"
    state = plan.leaves[place].state
    if state is not LeafState.FREE:
        return "fw-away", state.value
    least = plan.job.allowances.least_run
    in_short = any(
        first <= place < first + count and count < least for first, count in plan.left_runs
    )
    return ("fw-short", SHORT) if in_short else ("", "")
