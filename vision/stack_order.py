"""What putting a stack in order gives, and what may be told to it beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from vision.laying import compose
from vision.leaf_descriptor import LeafDescriptor
from vision.shot import Laid


@dataclass(frozen=True, slots=True, eq=False)
class StackLeaf:
    """One leaf of a stack as it came: what its faces show."""

    name: str
    front: LeafDescriptor
    """The face that lay up, as it lay."""
    back: LeafDescriptor | None = None
    """The other face, seen through the leaf (`vision.leaf_descriptor.describe_leaf`)."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a stack before its pictures are asked; every answer keeps to it."""

    numbers: Mapping[str, float] = field(default_factory=dict)
    """Number marks read off leaves: they rise, or fall, along the order."""
    bundles: Mapping[str, str] = field(default_factory=dict)
    """Bundle of each leaf; leaves of one bundle stay together."""
    places: Mapping[str, int] = field(default_factory=dict)
    """Leaves found right: name to place, counted from 0."""
    laid: Mapping[str, Laid] = field(default_factory=dict)
    """How leaves lie, against a common leaf as it lies."""


@dataclass(frozen=True, slots=True)
class PlacedLeaf:
    """One leaf in its place."""

    name: str
    position: int
    """Counted from 0."""
    laid: Laid
    """Against the first leaf of the order."""
    confidence: float
    """Chance, 0 to 1, that its neighbours and its laying are right, leaves that show the same cut
    taken as one."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Where leaves are perhaps missing."""

    after: str
    before: str
    likelihood: float
    """Chance, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Twins:
    """Two entries that look like one leaf photographed twice."""

    first: str
    second: str
    likelihood: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """A run of leaves that may lie the other way round."""

    first: str
    last: str
    likelihood: float


@dataclass(frozen=True, slots=True)
class StackOrder:
    """A stack in log order, up to the reversal of the whole."""

    leaves: tuple[PlacedLeaf, ...]
    """In order."""
    gaps: tuple[Gap, ...] = ()
    """Every joint, in order, with its likelihood."""
    twins: tuple[Twins, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    same_cut: tuple[tuple[str, str], ...] = ()
    """Neighbours that lie face to face and show the same cut: one photograph of each cannot tell
    which comes first."""

    def against_most(self) -> dict[str, Laid]:
        """Return how each leaf lies against most of them; so turned, all lie alike."""
        layings = [leaf.laid for leaf in self.leaves]
        most = max(layings, key=layings.count)
        return {leaf.name: compose(leaf.laid, most) for leaf in self.leaves}


@dataclass(frozen=True, slots=True)
class Step:
    """How far the work has come."""

    done: int
    of: int
    words: str
