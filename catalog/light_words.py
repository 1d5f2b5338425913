"""Light and dark of a run of leaves in sentences, for the screen, the report and the terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from catalog.set_words import flag_words, step_sentence
from vision.alternation import SeenLeaf, views_by_leaf
from vision.bundle_pattern import LeafSlope
from vision.lamp_search import LampPlace, LampSearch
from vision.leaf_light import LeafLight
from vision.match_choice import MatchJudged
from vision.readings import PairAlternation
from vision.room_lights import ROOM_WORDS
from vision.settings import VisionSettings
from vision.shot import Lamp
from vision.slope_fit import usable_views

RAW_WORDS = (
    "Said of the wood as photographed. If it was raw: a finish usually deepens light and dark."
)
OTHER_END = {Lamp.A: Lamp.B, Lamp.B: Lamp.A}
MATCH_WORDS: Mapping[str, str] = {
    "book": "book match",
    "slip": "slip match",
    "reverse-slip": "reverse slip match",
    "end": "end match",
    "four-way": "four-way match",
    "running": "running match",
    "balance": "balance match",
    "centre": "centre match",
}


def worst_pair(pairs: Sequence[PairAlternation]) -> PairAlternation | None:
    """Return the pair that shows most light and dark; None where none was measured."""
    known = [pair for pair in pairs if pair.delta_e00 is not None]
    return max(known, key=lambda pair: pair.delta_e00 or 0.0, default=None)


def spread_words(pairs: Sequence[PairAlternation]) -> str:
    """Return how light and dark is spread over the joints of a run, in a sentence."""
    known = sorted(pair.delta_e00 for pair in pairs if pair.delta_e00 is not None)
    if not known:
        return "No joint could be judged in this light."
    counts: dict[str, int] = {}
    for pair in pairs:
        counts[flag_words(pair)] = counts.get(flag_words(pair), 0) + 1
    told = ", ".join(f"{count} {word}" for word, count in counts.items())
    joints = "1 joint" if len(pairs) == 1 else f"{len(pairs)} joints"
    if len(known) == 1:
        return f"{joints}: {told}. The colour difference is ΔE00 {known[0]:.1f}."
    middle = known[len(known) // 2]
    return (
        f"{joints}: {told}. The colour difference runs from ΔE00 {known[0]:.1f} to "
        f"{known[-1]:.1f}, about {middle:.1f} in the middle."
    )


def worst_words(pairs: Sequence[PairAlternation]) -> str:
    """Return which pair is worst and what it shows; empty where none was measured."""
    worst = worst_pair(pairs)
    if worst is None:
        return ""
    said = step_sentence(worst)
    return f"Worst pair {worst.left} | {worst.right}: {flag_words(worst)}{said and f', {said}'}."


def choice_words(matches: Sequence[MatchJudged]) -> str:
    """Return which match to take by light and dark, and what it costs, in plain words."""
    known = [one for one in matches if one.delta_e00 is not None]
    if not known:
        return "Which match to take cannot be told: no joint could be judged."
    first = known[0]
    name = MATCH_WORDS[first.match]
    said = f"By light and dark alone, take the {name}: by the best estimate {joints_words(first)}."
    if first.strong:
        said = (
            "No match of these leaves keeps light and dark away in this light. Least with the "
            f"{name}: by the best estimate {joints_words(first)}."
        )
    return f"{said} What it costs: {first.kind.cost}."


def joints_words(one: MatchJudged) -> str:
    """Return how many joints of a match show what, and the picture they make together."""
    if one.delta_e00 is None:
        return "not measured"
    counts = [
        f"{count} {word}"
        for count, word in ((one.none, "even"), (one.slight, "slight"), (one.strong, "strong"))
        if count
    ]
    unknown = f", {one.not_measured} not measured" if one.not_measured else ""
    shows = f"; {one.pattern}" if one.pattern else ""
    return f"joints {', '.join(counts)}{unknown}{shows}"


def missing_words(labels: Sequence[str], seen: Sequence[SeenLeaf]) -> tuple[str, ...]:
    """Return which photographs are missing before lights that were not photographed can be told."""
    views = views_by_leaf(seen)
    lacking: dict[str, list[str]] = {}
    for label in labels:
        need = _needed(views.get(label, ()))
        if need:
            lacking.setdefault(need, []).append(label)
    return tuple(f"{_leaves(leaves)}: {need}" for need, leaves in lacking.items())


def _needed(views: Sequence[LeafLight]) -> str:
    """Return what is wanting of a leaf's dry photographs before its slope can be fitted."""
    if usable_views(views):
        return ""
    ends = [view for view in views if view.shot.lamp in OTHER_END]
    if not ends:
        return "photograph as it lies under lamp A and under lamp B, dry, the grey strip beside it."
    if all(view.profile.station is None for view in ends):
        return (
            "where lamp and eye stood is not known from its photographs; take them with the "
            "marker rails in the picture."
        )
    shot = ends[0].shot
    return (
        f"only one end is lit; photograph it under lamp {OTHER_END[shot.lamp].value} too, lying "
        f"the same way, or spun end for end under lamp {shot.lamp.value}."
    )


def _leaves(labels: Sequence[str]) -> str:
    if len(labels) == 1:
        return f"Leaf {labels[0]}"
    if len(labels) > 8:
        return f"{len(labels)} leaves ({labels[0]} to {labels[-1]})"
    return f"Leaves {', '.join(labels[:-1])} and {labels[-1]}"


def worst_room_words(by_room: Mapping[str, Sequence[PairAlternation]]) -> str:
    """Return in which of the named lights the run shows worst, and in which least."""
    means = {}
    for room, pairs in by_room.items():
        known = [pair.delta_e00 for pair in pairs if pair.delta_e00 is not None]
        if known:
            means[room] = sum(known) / len(known)
    if not means:
        return ""
    worst, least = max(means, key=means.__getitem__), min(means, key=means.__getitem__)
    return (
        f"Of the lights with names it shows worst in {ROOM_WORDS[worst]} (ΔE00 "
        f"{means[worst]:.1f} on average), least in {ROOM_WORDS[least]} ({means[least]:.1f})."
    )


def leaves_words(leaves: Sequence[LeafSlope]) -> str:
    """Return which leaves stand out, or that none does."""
    lines = []
    for one in leaves:
        if one.slope_deg is None or one.neighbours_deg is None:
            continue
        here = f"slope {one.slope_deg:+.1f}°, its neighbours {one.neighbours_deg:+.1f}°"
        if one.looks_turned:
            lines.append(
                f"{one.leaf} looks turned over its long edge, or end for end, against the list "
                f"({here}). Look at it before anything is cut."
            )
        elif one.breaks_pattern:
            lines.append(f"{one.leaf} breaks the pattern ({here}).")
    if all(one.neighbours_deg is None for one in leaves):
        return "Too few leaves with a measured slope to hold one against its neighbours."
    return "\n".join(lines) or "No leaf stands out from its neighbours."


def lamps_words(search: LampSearch, settings: VisionSettings) -> str:
    """Return where a lamp shows light and dark worst, and where it does not show."""
    worst, quiet = search.worst, search.quiet(settings)
    if worst is None:
        return "In which light it shows worst cannot be told: no pair has a measured slope."
    lines = [f"Worst with a lamp {_place_words(worst)}: ΔE00 {worst.delta_e00:.1f} on average."]
    if not quiet:
        lines.append("No place of a single lamp was found where it does not show.")
    else:
        best = quiet[0]
        lines.append(
            f"Least with a lamp {_place_words(best)}: ΔE00 {best.delta_e00:.1f} "
            f"(at most {best.delta_e00_high:.1f}); it does not show at {len(quiet)} of "
            f"{len(search.places)} places tried."
        )
    return "\n".join(lines)


def _place_words(place: LampPlace) -> str:
    if place.slant_deg <= 15:
        return "nearly straight before the panel"
    turn = (place.turn_deg + 180) % 360 - 180
    near = _SIDES.get(round(place.turn_deg) % 360)
    if near is None:
        end = "upper" if abs(turn) < 90 else "lower"
        aside = abs(turn) if abs(turn) < 90 else 180 - abs(turn)
        near = f"past the {end} end, {aside:.0f}° to the {'right' if turn > 0 else 'left'}"
    return f"{near}, {place.slant_deg:.0f}° from straight before the panel"


_SIDES = {
    0: "past the upper end",
    90: "at the right",
    180: "past the lower end",
    270: "at the left",
}
