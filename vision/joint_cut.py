"""Where two leaves are cut so that they meet. Values only; `vision.joint_finder` finds them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RunCosts:
    """What the cuts of a run must gain, in the sum of its joints' scores, for what they cost."""

    length_per_mm: float = 0.002
    """A millimetre of face length: of a face two metres long, a hundredth for 0.04. So a slip that
    takes a centimetre off the whole face is made where it mends a joint by 0.02 or more."""
    width_per_mm: float = 0.001
    """A millimetre of face width, at a joint or at the trued rims. Half of a millimetre of length:
    leaves come in more than one width and a face can take one more, but in one length."""
    taper_per_mm: float = 0.0005
    """A millimetre by which a leaf is wider at one end than at the other: joints that run out of
    parallel show, and its leaf cannot be cut in one pack with others."""
    trim: float = 0.01
    """A joint that is cut otherwise than straight and as shallow as may be. By so much the score
    of one joint differs from photograph to photograph (median standard deviation of drawn leaves
    with noise, laid a third of a millimetre otherwise): less is nothing measured."""
    set_out: float = 0.003
    """Each of turned lines and a slip besides: it is set out by itself at the bench."""


@dataclass(frozen=True, slots=True)
class JointLimits:
    """What may be cut off at a joint, and what it must gain."""

    least_cut_mm: float = 3.0
    """To shoot the edge straight (3 to 6 mm a joint edge, common practice)."""
    most_loss_mm: float = 25.4
    """From both leaves together (Architectural Woodwork Standards, 1st ed. 2009, 7.2.3)."""
    most_angle_deg: float = 0.8
    most_slip_mm: float = 12.0
    """Along the grain; it costs length at both ends."""
    costs: RunCosts = RunCosts()
    """Of the cuts of a run, which are chosen together."""


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

    @property
    def is_turned(self) -> bool:
        """Whether a line runs at an angle to its leaf's edge."""
        return bool(self.left_deg or self.right_deg)

    @property
    def is_straight(self) -> bool:
        """Whether both lines run along the leaves' edges and nothing is slipped."""
        return not (self.is_turned or self.slip_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class JointCut(JointLines):
    """The same as found, with how well the leaves agree there."""

    score: float
    """1 where the strips beside the joint agree, 0 where they are as strangers."""
    straight_score: float
    """The same for straight cuts in the middle of what may be lost, without slip."""
