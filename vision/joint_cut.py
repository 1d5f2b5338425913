"""Where two leaves are cut so that they meet. Values only; `vision.joint_finder` finds them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class JointLimits:
    """What may be cut off at a joint."""

    least_cut_mm: float = 3.0
    """To shoot the edge straight (3 to 6 mm a joint edge, common practice)."""
    most_loss_mm: float = 25.4
    """From both leaves together (Architectural Woodwork Standards, 1st ed. 2009, 7.2.3)."""
    most_angle_deg: float = 0.8
    most_slip_mm: float = 12.0
    """Along the grain; it costs length at both ends."""


@dataclass(frozen=True, slots=True)
class JointLines:
    """Where both leaves of a joint are cut.

    A depth counts from the joint edge of the leaf as it lies in the match, at the middle of the
    length that both share when their top ends are in line; an angle is positive where the cut
    gets deeper downwards.
    """

    left_mm: float = 0.0
    left_deg: float = 0.0
    right_mm: float = 0.0
    right_deg: float = 0.0
    slip_mm: float = 0.0
    """The right leaf moves up by so much (down if negative)."""

    @property
    def loss_mm(self) -> float:
        """Return how much wood is lost across the joint, at the middle of its length."""
        return self.left_mm + self.right_mm

    @property
    def turn_deg(self) -> float:
        """Return by how much the right leaf is turned, clockwise, for the lines to meet."""
        return self.left_deg + self.right_deg


@dataclass(frozen=True, slots=True, kw_only=True)
class JointCut(JointLines):
    """The same as found, with how well the leaves agree there."""

    score: float
    """1 where the strips beside the joint agree, 0 where they are as strangers."""
    straight_score: float
    """The same for straight cuts in the middle of what may be lost, without slip."""
