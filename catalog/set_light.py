"""The pages of a picture set on light and dark: a table of joints, and how to read it."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.match_preview import MatchPreview
from catalog.set_paper import (
    FOOT_MM,
    INK,
    INNER_MM,
    MARGIN_MM,
    PALE,
    Paper,
)
from catalog.set_words import EVIDENCE_WORDS, colour_step_words, flag_words, step_sentence
from vision.match_layout import Match
from vision.readings import Evidence, PairAlternation
from vision.shot import Lamp

WHAT_IT_SAYS = (
    "Where fibres run a little out of the face, a leaf looks lighter or darker with the side the "
    "light comes from. A book match turns every other leaf over, so its neighbour may darken where "
    "it lightens, and the two change places when the lamp, or the one who looks, moves to the "
    "other end. Each line gives the darker leaf and its step in lightness (L*: 0 black, 100 "
    "white), with the range that holds it 19 times in 20, and the colour difference (ΔE00) of the "
    "worst fifth of the length."
)
THE_WORDS = (
    "None: hardly anyone will see it. Slight: seen by someone who looks. Strong: seen at once. "
    "“None to slight”: the range reaches from one into the other."
)
WHAT_IT_DOES_NOT_SAY = (
    "It holds for raw wood under lamps past the two ends, as photographed. A finish, a stain, "
    "gloss, or light from elsewhere can weaken, strengthen or reverse it. “Not measured” means "
    "that no photograph bears on it; it does not mean none. It is a way of the wood, not a fault "
    "of the leaf; where it must not show, a slip match keeps every leaf's fibres leaning the same "
    "way."
)
MEANING = (
    ("What it says", WHAT_IT_SAYS),
    ("The words", THE_WORDS),
    ("What it does not say", WHAT_IT_DOES_NOT_SAY),
)
JOINT_MM = 30.0
ROW_MM = 11.5
SHORT_ROW_MM = 7.0


def light_pages(paper: Paper, previews: Sequence[MatchPreview]) -> None:
    """Add the table of joints of each match and the words on how to read it."""
    y = 0.0
    for match in dict.fromkeys(preview.layout.match for preview in previews):
        chosen = [preview for preview in previews if preview.layout.match is match]
        if chosen[0].layout.joints:
            y = _table(paper, match, chosen, y)
    if not y:
        return
    height = sum(paper.block_height(words, width=INNER_MM, size=8.5) + 8 for _, words in MEANING)
    if y + height > FOOT_MM - 4:
        y = paper.heading("Light and dark", "How to read it.")
    for title, words in MEANING:
        y = _paragraph(paper, title, words, y + 3)


def _paragraph(paper: Paper, title: str, words: str, y: float) -> float:
    paper.words(title, MARGIN_MM, y, size=8.5, bold=True)
    return paper.text_block(words, MARGIN_MM, y + 4.6, width=INNER_MM, size=8.5)


def _table(paper: Paper, match: Match, previews: Sequence[MatchPreview], y: float) -> float:
    lamps = tuple(preview.lamp for preview in previews)
    joints = previews[0].layout.joints
    if not y or y + 24 + ROW_MM > FOOT_MM - 6:
        y = paper.heading("Light and dark", "Joint by joint, from left to right.")
    y = _table_head(paper, match, lamps, y)
    for index, joint in enumerate(joints):
        pairs = [preview.joints[index] for preview in previews]
        tall = ROW_MM if any(pair and pair.is_measured for pair in pairs) else SHORT_ROW_MM
        if y + tall > FOOT_MM - 6:
            y = _table_head(paper, match, lamps, paper.heading("Light and dark"))
        paper.words(f"{joint.left}  |  {joint.right}", MARGIN_MM, y + 1, bold=True, width=JOINT_MM)
        for place, pair in enumerate(pairs):
            x, width = _column(place, len(lamps))
            _cell(paper, pair, x, y + 1, width=width)
        y += tall
        paper.rule(y - 0.6)
    return _evidence(paper, previews, y + 1)


def _table_head(paper: Paper, match: Match, lamps: tuple[Lamp, ...], y: float) -> float:
    paper.words(f"{match.value.capitalize()} match", MARGIN_MM, y, size=11, bold=True)
    y += 7
    paper.words("Joint", MARGIN_MM, y, size=8, colour=PALE)
    for place, lamp in enumerate(lamps):
        x, width = _column(place, len(lamps))
        paper.words(f"Under lamp {lamp.value}", x, y, size=8, colour=PALE, width=width)
    paper.rule(y + 4.5)
    return y + 5


def _column(place: int, count: int) -> tuple[float, float]:
    width = (INNER_MM - JOINT_MM) / count
    return MARGIN_MM + JOINT_MM + place * width, width - 3


def _cell(paper: Paper, pair: PairAlternation | None, x: float, y: float, *, width: float) -> None:
    flag_boxes(paper, pair, x, y + 0.6)
    paper.words(flag_words(pair), x + 10, y, bold=True, width=width - 10)
    if pair is not None and pair.is_measured:
        said = ";  ".join(part for part in (step_sentence(pair), colour_step_words(pair)) if part)
        paper.words(said, x, y + 5, size=7.5, colour=PALE, width=width)


def flag_boxes(paper: Paper, pair: PairAlternation | None, x: float, y: float) -> None:
    """Draw two boxes: filled as far as the flag surely goes, hatched as far as it may go."""
    low, _, high = ("" if pair is None else pair.flag).partition(" to ")
    order = {"none": 0, "slight": 1, "strong": 2}
    sure = order.get(low, 0)
    may = order.get(high, sure)
    paper.set_draw_color(*INK)
    paper.set_fill_color(*INK)
    paper.set_line_width(0.2)
    for box in (1, 2):
        left = x + (box - 1) * 4
        paper.rect(left, y, 3, 3, style="DF" if sure >= box else "D")
        if sure < box <= may:
            for offset in (1.0, 2.0, 3.0):
                paper.line(left, y + offset, left + offset, y)
            for offset in (1.0, 2.0):
                paper.line(left + offset, y + 3, left + 3, y + offset)
        elif low not in order:
            paper.line(left, y + 1.5, left + 3, y + 1.5)


def _evidence(paper: Paper, previews: Sequence[MatchPreview], y: float) -> float:
    """Say once on what the table rests; joint by joint only where it differs."""
    known: dict[Evidence, list[str]] = {}
    for preview in previews:
        for joint, pair in zip(preview.layout.joints, preview.joints, strict=True):
            if pair is not None and pair.is_measured:
                name = f"{joint.left}|{joint.right}"
                joints = known.setdefault(pair.evidence, [])
                if name not in joints:
                    joints.append(name)
    if not known:
        return y + 3
    if len(known) == 1:
        said = f"How this is known: {EVIDENCE_WORDS[next(iter(known))]}."
    else:
        parts = (f"{EVIDENCE_WORDS[one]} ({', '.join(names)})" for one, names in known.items())
        said = f"How this is known: {'; '.join(parts)}."
    return paper.text_block(said, MARGIN_MM, y, width=INNER_MM, size=8, colour=PALE) + 3
