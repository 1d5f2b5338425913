"""Where the leaves of a joint are cut, in words for the bench."""

from __future__ import annotations

from catalog.set_words import MM_PER_INCH
from vision.joint_cut import JointCut
from vision.laying import reverses_columns
from vision.layout import Layout
from vision.shot import Laid


def joint_words(leaves: tuple[str, str], laid: tuple[Laid, Laid], cut: JointCut) -> str:
    """Return how much comes off which edge of the left and the right leaf, and the slip."""
    left, right = leaves
    first = _off(left, laid[0], cut.left_mm, cut.left_deg, at_right=True)
    second = _off(right, laid[1], cut.right_mm, cut.right_deg, at_right=False)
    slip = "no slip along the grain"
    if abs(cut.slip_mm) >= 0.05:
        way = "up" if cut.slip_mm > 0 else "down"
        slip = f"leaf {right} moved {way} by {abs(cut.slip_mm):.1f} mm"
    return f"{first}; {second}; {slip}"


def score_words(cut: JointCut) -> str:
    """Return how well the leaves agree there, beside straight cuts."""
    return (
        f"agreement beside the joint {cut.score:.2f}, straight cuts {cut.straight_score:.2f} "
        "(1 is perfect)"
    )


def trim_words(layout: Layout) -> tuple[str, ...]:
    """Return the cuts of each joint of a trimmed run, a line a joint; none if it is not trimmed."""
    said = []
    for joint, cut in zip(layout.joints, layout.trims, strict=False):
        words = joint_words((joint.left, joint.right), (joint.left_laid, joint.right_laid), cut)
        said.append(f"{words}; {score_words(cut)}")
    return tuple(said)


def _off(leaf: str, laid: Laid, depth_mm: float, angle_deg: float, *, at_right: bool) -> str:
    edge = "right" if at_right != reverses_columns(laid) else "left"
    words = f"leaf {leaf}: {depth_mm:.1f} mm ({depth_mm / MM_PER_INCH:.2f} in) off its {edge} edge"
    words += " as it lies in the stack"
    if abs(angle_deg) < 0.005:
        return words
    way = "deeper" if angle_deg > 0 else "shallower"
    return f"{words}, at mid-length, {way} down the match by {abs(angle_deg):.2f}°"
