"""The matches by name: what each is, in a sentence, and where its definition stands.

Names vary by region; `catalog.match_chart` draws every one of them. Pages are those of the
Architectural Woodwork Standards, 1st edition 2009.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class Match(StrEnum):
    """How the leaves of a face are laid against each other."""

    BOOK = "book"
    """Every other leaf turned over on its long edge, like the page of a book."""
    SLIP = "slip"
    """Every leaf as it lies, slid off the stack."""
    REVERSE_SLIP = "reverse-slip"
    """Slipped, every other leaf turned end for end."""
    RANDOM = "random"
    """Neighbours on purpose not consecutive."""
    PLEASING = "pleasing"
    """By colour, the grain free."""
    PLANK = "plank"
    """Like boards: unequal widths, no neighbours."""
    BOOK_AND_BUTT = "book-and-butt"
    CONTINUOUS_END = "continuous-end"
    PANEL_END = "panel-end"
    RUNNING = "running"
    BALANCE = "balance"
    CENTRE_BALANCE = "centre-balance"
    SLIP_CENTRE_BOOK = "slip-centre-book"
    SEQUENCE = "sequence"
    BLUEPRINT = "blueprint"
    FOUR_WAY = "four-way"
    SUNBURST = "sunburst"
    BOX = "box"
    REVERSE_BOX = "reverse-box"
    DIAMOND = "diamond"
    REVERSE_DIAMOND = "reverse-diamond"
    HERRINGBONE = "herringbone"
    PARQUET = "parquet"


class Family(StrEnum):
    """What a match arranges."""

    LEAVES = "between leaves"
    ENDS = "end to end"
    FACE = "within a face"
    SET = "panel to panel"
    DRAWN = "drawn faces"


@dataclass(frozen=True, slots=True)
class MatchName:
    """A match in words."""

    name: str
    sentence: str
    family: Family
    also: str = ""
    """Other names for it."""
    source: str = ""


AWS = "Architectural Woodwork Standards, 2009, p. {}"

MATCH_NAMES: Mapping[Match, MatchName] = MappingProxyType(
    {
        Match.BOOK: MatchName(
            "Book match",
            "Every other leaf is turned over on its long edge: the figure mirrors at each joint, "
            "and turned leaves may show lighter or darker.",
            Family.LEAVES,
            source=AWS.format(75),
        ),
        Match.SLIP: MatchName(
            "Slip match",
            "Leaves are slid off the stack side by side, same face up: the figure repeats, and "
            "light and dark do not alternate.",
            Family.LEAVES,
            source=AWS.format(75),
        ),
        Match.REVERSE_SLIP: MatchName(
            "Reverse slip match",
            "A slip match with every other leaf spun end for end, to balance crowns; the face is "
            "the same, but the fibres slope the other way.",
            Family.LEAVES,
            source="common practice",
        ),
        Match.RANDOM: MatchName(
            "Random match",
            "Leaves in no order and either end up, so that neighbours never match: a look of "
            "boards. The draw can be repeated by its number.",
            Family.LEAVES,
            also="mismatch",
            source=AWS.format(75),
        ),
        Match.PLEASING: MatchName(
            "Pleasing match",
            "Leaves in the order that keeps colour steps at the joints smallest; the grain need "
            "not match.",
            Family.LEAVES,
            source="plywood trade usage",
        ),
        Match.PLANK: MatchName(
            "Plank match",
            "Strips of unequal width from leaves that are no neighbours, so that the face looks "
            "like solid planks.",
            Family.LEAVES,
            also="planked",
            source="plywood trade usage",
        ),
        Match.BOOK_AND_BUTT: MatchName(
            "Book and butt match",
            "Leaves are opened end to end, then side to side, by turns: four leaves mirror round "
            "every crossing.",
            Family.ENDS,
            also="architectural end match",
            source=AWS.format("75-76"),
        ),
        Match.CONTINUOUS_END: MatchName(
            "Continuous end match",
            "Runs of leaves, booked or slipped, are stacked end to end in the order of the stack, "
            "none turned over at the end joint.",
            Family.ENDS,
            source=AWS.format("75-76"),
        ),
        Match.PANEL_END: MatchName(
            "Panel end match",
            "Two faces, each booked or slipped, meet end to end with the lower one turned over on "
            "its end.",
            Family.ENDS,
            source=AWS.format("75-76"),
        ),
        Match.RUNNING: MatchName(
            "Running match",
            "As many leaves as the width takes, each at its full width; what is left of the last "
            "one starts the next face.",
            Family.FACE,
            source=AWS.format(74),
        ),
        Match.BALANCE: MatchName(
            "Balance match",
            "Leaves trimmed to one width, an odd or an even number of them.",
            Family.FACE,
            source=AWS.format(74),
        ),
        Match.CENTRE_BALANCE: MatchName(
            "Centre balance match",
            "An even number of leaves trimmed to one width, with a joint on the centre line.",
            Family.FACE,
            also="balance and centre match",
            source=AWS.format(74),
        ),
        Match.SLIP_CENTRE_BOOK: MatchName(
            "Slip, centre book match",
            "An even number of leaves, four at least: slipped on either side, the halves booked "
            "at the centre line.",
            Family.FACE,
            source=AWS.format(74),
        ),
        Match.SEQUENCE: MatchName(
            "Sequence-matched panels",
            "Panels of one size, each centre balanced from the next leaves of the stack.",
            Family.SET,
            source=AWS.format("178, 382"),
        ),
        Match.BLUEPRINT: MatchName(
            "Blueprint-matched panels",
            "Panels of the sizes of the job, each made to size from the next leaves of the stack, "
            "so that the figure runs on from panel to panel.",
            Family.SET,
            source=AWS.format("178, 186, 382"),
        ),
        Match.FOUR_WAY: MatchName(
            "Four-way match",
            "Two booked pairs, opened end to end: the figure mirrors both ways about the middle.",
            Family.DRAWN,
            also="quarter match",
            source="marquetry usage",
        ),
        Match.SUNBURST: MatchName(
            "Sunburst",
            "Wedges round a point, six or more, the grain running out from it; booked with an even "
            "number, slipped with any.",
            Family.DRAWN,
            also="radial match",
            source=AWS.format(76),
        ),
        Match.BOX: MatchName(
            "Box match",
            "Four triangles, the grain parallel to the edges of the panel.",
            Family.DRAWN,
            source=AWS.format(76),
        ),
        Match.REVERSE_BOX: MatchName(
            "Reverse box match",
            "Four triangles, the grain at right angles to the edges of the panel.",
            Family.DRAWN,
            also="end-grain box",
            source=AWS.format(76),
        ),
        Match.DIAMOND: MatchName(
            "Diamond match",
            "Four pieces cut at a slant, so that the grain draws a diamond round the middle.",
            Family.DRAWN,
            source=AWS.format(76),
        ),
        Match.REVERSE_DIAMOND: MatchName(
            "Reverse diamond match",
            "Four pieces cut at a slant, so that the grain draws a cross out from the middle.",
            Family.DRAWN,
            source=AWS.format(76),
        ),
        Match.HERRINGBONE: MatchName(
            "Herringbone",
            "Strips cut at a slant and booked side by side, so that the grain draws a V at each "
            "joint.",
            Family.DRAWN,
            also="V-book match",
            source=AWS.format(76),
        ),
        Match.PARQUET: MatchName(
            "Parquet",
            "Squares like a chess board, the grain up and down and across by turns.",
            Family.DRAWN,
            source=AWS.format(76),
        ),
    }
)
