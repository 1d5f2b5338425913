"""Which match of a run shows least light and dark, and what each costs otherwise.

Each match is judged joint by joint, as its leaves lie in it. What the eye sees where alternation
shows: in a book match stripes as wide as a leaf; in a four-way match (book matched side by side and
end to end) the slope of the fibres makes columns, for it is reversed from side to side only, and
the difference of the two faces makes a checkerboard, for the faces alternate both ways.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from vision.alternation import SeenLeaf, judge_joint, views_by_leaf
from vision.finish import Finish
from vision.flags import AlternationFlag
from vision.flitch_hue import level_hues
from vision.readings import PairAlternation
from vision.room_alternation import USUAL_LENGTH_MM, fit_leaves, judge_in_room
from vision.room_lights import Room
from vision.settings import VisionSettings
from vision.shot import Laid
from vision.slope_fit import SlopeFit
from vision.step_grade import grade

LIE, BOOK, SPIN, END = Laid.AS_LIES, Laid.FACE_OVER, Laid.END_TURNED, Laid.END_OVER
SHARE_THAT_COUNTS = 0.8
"""A match is ranked by the joint that this share of its joints stay below: one odd leaf can be left
out, a habit cannot."""


@dataclass(frozen=True, slots=True)
class MatchKind:
    """How the leaves of a run lie in one match, and what it asks of them."""

    layings: tuple[Laid, ...]
    """Of the leaves in turn, repeated."""
    words: str
    cost: str


MATCH_KINDS: Mapping[str, MatchKind] = MappingProxyType(
    {
        "book": MatchKind(
            (LIE, BOOK),
            "every other leaf turned over like a page",
            "shows both faces in turn, which may take stain and finish differently",
        ),
        "slip": MatchKind(
            (LIE,),
            "every leaf as it lies, slid off the stack",
            "breaks the mirror picture: the figure repeats and does not meet at the joints; grain "
            "that leans makes the whole panel lean",
        ),
        "reverse-slip": MatchKind(
            (LIE, SPIN),
            "every other leaf spun end for end, one face up throughout",
            "breaks the mirror picture; levels out grain that leans, wants leaves whose two ends "
            "look alike",
        ),
        "end": MatchKind(
            (LIE, END),
            "every other leaf turned over its short edge, above one another",
            "for height only: uses a leaf for each step up, and shows both faces",
        ),
        "four-way": MatchKind(
            (LIE, BOOK, END, SPIN),
            "four leaves about one middle, booked side by side and end to end",
            "uses four leaves in a row for each square, trimmed to one middle",
        ),
        "running": MatchKind(
            (LIE, BOOK),
            "booked, each leaf in its own width as it comes",
            "cuts the last leaf where the panel ends; least waste",
        ),
        "balance": MatchKind(
            (LIE, BOOK),
            "booked, all leaves trimmed to one width",
            "wastes width on every leaf",
        ),
        "centre": MatchKind(
            (LIE, BOOK),
            "booked, an even number of leaves of one width about the middle",
            "wastes most: one width and an even number",
        ),
    }
)
"""Matches in the order in which they are taken where light and dark leaves the choice free (common
practice). Running, balance and centre differ in trimming only and are booked, or slipped."""


@dataclass(frozen=True, slots=True)
class MatchJudged:
    """One match of a run: its joints, and what they come to."""

    match: str
    joints: tuple[tuple[PairAlternation, ...], ...]
    """Joint by joint, one entry a light; of a four-way match first the side joints, then those end
    to end."""
    none: int
    slight: int
    strong: int
    not_measured: int
    """Joints by the flag of their worst light, best estimate."""
    delta_e00: float | None
    """CIEDE2000 of the worst light that `SHARE_THAT_COUNTS` of the joints stay below."""
    pattern: str
    """What light and dark would look like, or empty where none shows."""

    @property
    def kind(self) -> MatchKind:
        """How its leaves lie and what it costs."""
        return MATCH_KINDS[self.match]


def judge_matches(
    order: Sequence[str],
    seen: Sequence[SeenLeaf],
    *,
    rooms: Sequence[Room] = (),
    length_mm: float | None = None,
    finish: Finish | None = None,
    settings: VisionSettings,
) -> tuple[MatchJudged, ...]:
    """Return every match of a run, the one to take first.

    Parameters
    ----------
    order : sequence of str
        Leaf labels in the order they lie.
    seen : sequence of SeenLeaf
        Every photograph of those leaves that was read.
    rooms : sequence of Room
        The lights to judge in; under lamps A and B as photographed if there are none.
    length_mm : float or None
        Of the leaves, for rooms.
    finish : Finish or None
        Said of the leaves with that finish, in rooms only.
    settings : VisionSettings
        For the limits of the flags.

    Returns
    -------
    tuple of MatchJudged
        By the flag of the joint that `SHARE_THAT_COUNTS` of all stay below; among equal flags in
        the order of `MATCH_KINDS`; those not measured last.
    """
    fits = fit_leaves(order, seen, finish=finish) if rooms else {}
    judge = _Judge(order, seen, rooms, length_mm or USUAL_LENGTH_MM, fits, settings)
    found = [_summed(match, judge.joints_of(match), settings) for match in MATCH_KINDS]
    ranks = (AlternationFlag.NONE, AlternationFlag.SLIGHT, AlternationFlag.STRONG)

    def rank(one: MatchJudged) -> int:
        return 9 if one.delta_e00 is None else ranks.index(grade(one.delta_e00, settings))

    return tuple(sorted(found, key=rank))


def judge_in_lights(
    order: Sequence[str],
    seen: Sequence[SeenLeaf],
    *,
    match: str,
    rooms: Sequence[Room],
    length_mm: float | None = None,
    finish: Finish | None = None,
    settings: VisionSettings,
) -> tuple[tuple[PairAlternation, ...], ...]:
    """Return every joint of one match in each room, as its leaves lie; terms of `judge_matches`."""
    fits = fit_leaves(order, seen, finish=finish)
    judge = _Judge(order, seen, rooms, length_mm or USUAL_LENGTH_MM, fits, settings)
    return tuple(judge.joints_of(match))


class _Judge:
    """Judges two leaves so laid in every light asked for; each is worked out once."""

    def __init__(
        self,
        order: Sequence[str],
        seen: Sequence[SeenLeaf],
        rooms: Sequence[Room],
        length_mm: float,
        fits: Mapping[str, SlopeFit | None],
        settings: VisionSettings,
    ) -> None:
        self._order, self._rooms, self._length_mm = tuple(order), tuple(rooms), length_mm
        self._settings = settings
        self._views = level_hues(views_by_leaf(seen))
        self._fits = fits

    def joints_of(self, match: str) -> list[tuple[PairAlternation, ...]]:
        """Return every joint of a match in every light."""
        layings = MATCH_KINDS[match].layings
        if match == "four-way":
            return self._four_way()
        return [
            self._lights(match, pair, (layings[k % len(layings)], layings[(k + 1) % len(layings)]))
            for k, pair in enumerate(pairwise(self._order))
        ]

    def _four_way(self) -> list[tuple[PairAlternation, ...]]:
        blocks = [self._order[first : first + 4] for first in range(0, len(self._order) - 3, 4)]
        sides, ends = ((0, 1), (2, 3)), ((0, 2), (1, 3))
        layings = MATCH_KINDS["four-way"].layings
        return [
            self._lights(
                "four-way",
                (block[i], block[j]),
                (layings[i], layings[j]),
                is_end=joints is ends,
            )
            for joints in (sides, ends)
            for block in blocks
            for i, j in joints
        ]

    def _lights(
        self, match: str, pair: tuple[str, str], laid: tuple[Laid, Laid], *, is_end: bool = False
    ) -> tuple[PairAlternation, ...]:
        if self._rooms:
            fits = (self._fits[pair[0]], self._fits[pair[1]])
            return tuple(
                judge_in_room(
                    pair,
                    fits,
                    laid,
                    room,
                    match=match,
                    length_mm=self._length_mm,
                    settings=self._settings,
                )
                for room in self._rooms
            )
        return judge_joint(
            pair,
            laid,
            match=match,
            is_end=is_end,
            views=self._views,
            settings=self._settings,
        )


def _summed(
    match: str, joints: Sequence[tuple[PairAlternation, ...]], settings: VisionSettings
) -> MatchJudged:
    worst = [
        max(light.delta_e00 for light in lights if light.delta_e00 is not None)
        for lights in joints
        if any(light.delta_e00 is not None for light in lights)
    ]
    flags = [grade(delta, settings) for delta in worst]
    counts = float(np.quantile(worst, SHARE_THAT_COUNTS, method="higher")) if worst else None
    shows = counts is not None and grade(counts, settings) is not AlternationFlag.NONE
    return MatchJudged(
        match=match,
        joints=tuple(joints),
        none=flags.count(AlternationFlag.NONE),
        slight=flags.count(AlternationFlag.SLIGHT),
        strong=flags.count(AlternationFlag.STRONG),
        not_measured=len(joints) - len(worst),
        delta_e00=counts,
        pattern=_pattern(match, joints) if shows else "",
    )


def _pattern(match: str, joints: Sequence[tuple[PairAlternation, ...]]) -> str:
    """Return what light and dark would look like."""
    if match == "slip":
        return "the leaves' own colours, one beside the other"
    if match == "end":
        return "light and dark one above the other"
    if match != "four-way":
        return "light and dark stripes as wide as a leaf"
    half = len(joints) // 2
    tilt = [light.tilt_part for lights in joints[:half] for light in lights]
    face = [light.face_part for lights in joints[half:] for light in lights]
    known = [[abs(part) for part in parts if part is not None] for parts in (tilt, face)]
    if not all(known):
        return "light and dark quarters"
    columns = np.mean(known[0]) > np.mean(known[1])
    return "light and dark columns" if columns else "a checkerboard of light and dark"
