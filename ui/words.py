"""Readings in plain words, for the screens and the command line alike."""

from __future__ import annotations

from catalog.outline_correction import leaf_name
from catalog.records import OutlineAct, OutlineCorrection, PhotoRecord
from vision.flags import MEANINGS, PhotoFlag
from vision.readings import PairAlternation
from vision.shot import Laid, Lamp, Shot

LAID_WORDS: dict[Laid, str] = {
    Laid.AS_LIES: "as it lies",
    Laid.END_TURNED: "spun end for end",
    Laid.FACE_OVER: "turned over its long edge",
    Laid.END_OVER: "turned over its short edge",
    Laid.OPENED_PAIR: "pair laid open",
}
LAMP_WORDS: dict[Lamp, str] = {
    Lamp.A: "lamp A",
    Lamp.B: "lamp B",
    Lamp.SIDE: "side lamp",
    Lamp.BOTH: "both lamps",
    Lamp.UNKNOWN: "lamp not noted",
}


def step_words(pair: PairAlternation) -> str:
    """Return the step across the joint, L*, with its sign and 95 % interval, or a dash."""
    if pair.lightness_step is None:
        return "–"
    text = signed(pair.lightness_step)
    if pair.lightness_low is None or pair.lightness_high is None:
        return text
    return f"{text} ({signed(pair.lightness_low)} to {signed(pair.lightness_high)})"


def slope_words(pair: PairAlternation) -> str:
    """Return the part of the step that swaps with the lamp, from the slope, L*, or a dash."""
    return "–" if pair.tilt_part is None else signed(pair.tilt_part)


def signed(value: float) -> str:
    """Return a number with one decimal and its sign, a true minus before negative ones.

    Examples
    --------
    >>> signed(2.04), signed(-1.26), signed(-0.01)
    ('+2.0', '−1.3', '0.0')
    """
    rounded = round(value, 1)
    if rounded == 0:
        return "0.0"
    return f"{'+' if rounded > 0 else '−'}{abs(rounded):.1f}"


def lighter_leaf(pair: PairAlternation) -> str | None:
    """Return the label of the leaf that is lighter in this light, None where none stands out.

    A leaf stands out where the whole interval of the step lies on its side of zero.
    """
    low, high = pair.lightness_low, pair.lightness_high
    if pair.lightness_step is None or low is None or high is None or low <= 0.0 <= high:
        return None
    return pair.right if pair.lightness_step > 0 else pair.left


def lighter_words(pair: PairAlternation) -> str:
    """Return a short phrase on which leaf is lighter in this light."""
    if not pair.is_measured:
        return "not measured"
    leaf = lighter_leaf(pair)
    return "neither is clearly lighter" if leaf is None else f"{leaf} lighter"


def flags_words(flags: tuple[PhotoFlag, ...]) -> str:
    """Return the flags of a photograph as a short list, empty where there are none."""
    return ", ".join(MEANINGS[flag].short for flag in flags)


def shot_words(shot: Shot) -> str:
    """Return how a photograph was taken: leaf, laying, lamp.

    Examples
    --------
    >>> shot_words(Shot("a.jpg", "03", lamp=Lamp.B))
    '03, as it lies, lamp B'
    """
    if shot.blank:
        return f"bare board, {LAMP_WORDS[shot.lamp]}"
    wet = ", wet" if shot.wet else ""
    return f"{' | '.join(shot.leaves)}, {LAID_WORDS[shot.laid]}, {LAMP_WORDS[shot.lamp]}{wet}"


ACT_WORDS: dict[OutlineAct, str] = {
    OutlineAct.DRAWN: "outline drawn by hand",
    OutlineAct.FOUND: "back to the found outline",
    OutlineAct.UNDONE: "last change undone",
}


def history_line(correction: OutlineCorrection, photo: PhotoRecord) -> str:
    """Return when, by whom and what was done to an outline, in one line."""
    leaf = f", {leaf_name(photo, correction.side)}" if len(photo.shot.leaves) > 1 else ""
    who = correction.who or "name not noted"
    return f"{correction.at:%Y-%m-%d %H:%M} UTC, {who}: {ACT_WORDS[correction.act]}{leaf}"


SURE_FROM, LIKELY_FROM = 0.98, 0.6
"""Of the places called sure, 98 in 100 came out right on drawn stacks of 48."""


def sure_words(confidence: float) -> str:
    """Return how sure a place is: the word first, the chance after it.

    Examples
    --------
    >>> sure_words(0.99), sure_words(0.4)
    ('sure (99 %)', 'doubtful (40 %)')
    """
    word = "sure" if confidence >= SURE_FROM else "likely"
    if confidence < LIKELY_FROM:
        word = "doubtful"
    return f"{word} ({100 * confidence:.0f} %)"
