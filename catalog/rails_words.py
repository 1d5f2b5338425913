"""What the first page of the printed rails tells the person who glues them."""

from __future__ import annotations

from typing import NamedTuple

from catalog.rails_layout import RailsLayout
from vision.rail_plan import END_MM, INNER_MM, OUTER_MM, RIGHT_FROM


class Step(NamedTuple):
    """One step between the printer and the first photograph."""

    title: str
    words: str
    """Names in braces stand for numbers of the layout."""


STEPS = (
    Step(
        "Print",
        "Print sheets 2 to {sheets} at 100 % (“actual size”, never “fit to page”) on matt "
        "paper, one side, in black only if the printer can. Glossy paper mirrors the lamps.",
    ),
    Step(
        "Check",
        "Lay a steel rule on the check lines of every sheet. Off by up to 0.5 % is how "
        "printers are, and the tape in step 6 takes care of it; off by more: the print was "
        "scaled, print again.",
    ),
    Step(
        "Cut",
        "Cut the long sides on the dashed lines, and the head of each piece exactly on its "
        "line, with a knife along the rule. Leave the tinted flap at its foot on.",
    ),
    Step(
        "Glue",
        "Glue the pieces in order, L1, L2, ... with the arrows towards the stop, onto a "
        "straight rigid bar (aluminium, or a planed batten that stays straight) as wide as "
        "the paper. The head of each piece lies on the flap of the one before: edge on the "
        "line, crosses in line, ticks 10 mm apart across the seam. Use glue that does not "
        "make paper swell: spray or double-sided film. Do the same with the right rail.",
    ),
    Step(
        "Stop",
        "Glue S1, S2, ... onto a straight batten, its edge flush with the heavy line. Fix it "
        "across the head of the table. Lay both rails against it, the left rail on the left "
        "mark, the right on the right, greys outwards, and turn them until both diagonals "
        "(first marker left to last marker right, and the other way) are the same by tape. "
        "Fix the rails.",
    ),
    Step(
        "Measure",
        "With a steel tape, to half a millimetre, on each rail: centre of the first marker to"
        " centre of the last (0 to {last_left}, {first_right} to {last_right}; the long ticks"
        " at the edge show the centres). Then the gap from centre line to centre line, at the"
        " first markers and at the last. Store the four numbers with the station: without the"
        " lengths no size is called measured.",
    ),
    Step(
        "Greys",
        "Printed greys are not what the printer was asked for, and rarely neutral. Have the "
        "seven steps measured and enter the values, or lay a colour chart in the frame when "
        "you set up the station. Never trust the figures printed beside them.",
    ),
    Step(
        "Chart",
        "Cut out frame and window, glue the frame on stiff board with the same window, and "
        "fix your chart behind it: every patch in view, dark skin at the corner marked so. "
        "Lay it between the rails, flat, not in a shadow.",
    ),
    Step(
        "Keep",
        "Leaves lie between the rails, the end against the stop, and cover no marker and no "
        "grey. Wipe dust off dry. Print again when the paper is stained, yellow or torn, and "
        "measure again.",
    ),
)


def what_is_here(layout: RailsLayout) -> str:
    """Return what the sheets make."""
    plan = layout.plan
    return (
        f"Two rails of {plan.markers} markers, one every {plan.pitch_mm:g} mm: "
        f"{plan.length_mm:g} mm from the first marker to the last, "
        f"{plan.length_mm + 2 * END_MM:g} mm of paper, {OUTER_MM + INNER_MM:g} mm wide. The left "
        f"rail has the numbers 0 to {plan.markers - 1}, the right rail {RIGHT_FROM} to "
        f"{RIGHT_FROM + plan.markers - 1}. With them a straight stop for the leaf's end, and a "
        f"frame for a chart of 24 patches, {layout.holder.patch_pitch_mm:g} mm from centre to "
        "centre."
    )


def steps(layout: RailsLayout) -> tuple[Step, ...]:
    """Return the steps from printing to a station."""
    last = layout.plan.markers - 1
    numbers = {
        "sheets": layout.page_count,
        "last_left": last,
        "first_right": RIGHT_FROM,
        "last_right": RIGHT_FROM + last,
    }
    return tuple(Step(step.title, step.words.format(**numbers)) for step in STEPS)
