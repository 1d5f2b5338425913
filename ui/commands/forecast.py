"""What `alternation` tells beyond the pairs: which match, which leaf, which light."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from catalog.light_words import RAW_WORDS, lamps_words, leaves_words
from catalog.seen_leaves import SeenBundle
from ui.records import Record, pair_record
from vision.bundle_pattern import LeafSlope, leaf_slopes
from vision.lamp_search import LampSearch, search_lamps
from vision.match_choice import MatchJudged, judge_matches
from vision.room_lights import STANDING_EYE_MM, Room, Triple
from vision.settings import VisionSettings


@dataclass(frozen=True, slots=True)
class Asked:
    """What beyond the pairs was asked for."""

    every_match: bool
    by_leaf: bool
    worst_light: bool
    match: str
    rooms: Sequence[Room]
    eye_mm: Triple | None


@dataclass(frozen=True, slots=True)
class Forecast:
    """What was found; None where it was not asked for."""

    matches: tuple[MatchJudged, ...] | None
    leaves: tuple[LeafSlope, ...] | None
    lamps: LampSearch | None
    settings: VisionSettings

    def records(self) -> Record:
        """Return the entries to add to the machine-readable output."""
        found: Record = {}
        if self.matches is not None:
            found["matches"] = [_match_record(one) for one in self.matches]
        if self.leaves is not None:
            found["leaves"] = [asdict(one) for one in self.leaves]
        if self.lamps is not None:
            quiet = self.lamps.quiet(self.settings)
            found["worst_light"] = None if self.lamps.worst is None else asdict(self.lamps.worst)
            found["quiet_lights"] = [asdict(place) for place in quiet]
        return found

    def paragraphs(self) -> list[str]:
        """Return the same in plain words."""
        words = []
        if self.matches is not None:
            words.append(matches_words(self.matches))
        if self.leaves is not None:
            words.append(leaves_words(self.leaves))
        if self.lamps is not None:
            words.append(lamps_words(self.lamps, self.settings))
        return words


def forecast(known: SeenBundle, asked: Asked, *, settings: VisionSettings) -> Forecast:
    """Return what was asked for of a bundle."""
    order, seen = known.order, known.seen
    return Forecast(
        matches=judge_matches(
            order, seen, rooms=asked.rooms, length_mm=known.length_mm, settings=settings
        )
        if asked.every_match
        else None,
        leaves=leaf_slopes(order, seen) if asked.by_leaf else None,
        lamps=search_lamps(
            order,
            seen,
            match=asked.match,
            length_mm=known.length_mm,
            eye_mm=asked.eye_mm or STANDING_EYE_MM,
            settings=settings,
        )
        if asked.worst_light
        else None,
        settings=settings,
    )


def _match_record(one: MatchJudged) -> Record:
    return {
        "match": one.match,
        "none": one.none,
        "slight": one.slight,
        "strong": one.strong,
        "not_measured": one.not_measured,
        "delta_e00": None if one.delta_e00 is None else round(one.delta_e00, 3),
        "pattern": one.pattern,
        "cost": one.kind.cost,
        "joints": [pair_record(light) for lights in one.joints for light in lights],
    }


def matches_words(matches: Sequence[MatchJudged]) -> str:
    """Return a line a match, the one to take first."""
    lines = ["Which match to take, by light and dark:"]
    for rank, one in enumerate(matches, start=1):
        if one.delta_e00 is None:
            lines.append(f"   {one.match}: not measured ({one.kind.words})")
            continue
        counts = [
            f"{count} {word}"
            for count, word in ((one.none, "even"), (one.slight, "slight"), (one.strong, "strong"))
            if count
        ]
        unknown = f", {one.not_measured} not measured" if one.not_measured else ""
        shows = f"; {one.pattern}" if one.pattern else ""
        lines.append(f"{rank:2} {one.match}: joints {', '.join(counts)}{unknown}{shows}.")
        lines.append(f"   {one.kind.words.capitalize()}. Cost: {one.kind.cost}.")
    return "\n".join([*lines, RAW_WORDS])
