"""The words and numbers of a picture set. Metric first, inches and feet beside."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence

from catalog.records import LeafCard
from vision.readings import ColourClass, Evidence, LeafColour, LeafSize, PairAlternation
from vision.shot import Lamp

MM_PER_INCH = 25.4
FT2_PER_M2 = 10.763910
"""Exact by definition of the foot: 1 / 0.3048²."""

COLOUR_CLASS_SHORT: dict[ColourClass, str] = {
    ColourClass.MEASURED: "measured",
    ColourClass.STATION: "by the station",
    ColourClass.GREY_STEPS: "by grey steps",
    ColourClass.RELATIVE: "relative",
    ColourClass.NONE: "no reference",
}
COLOUR_CLASS_LONG: dict[ColourClass, str] = {
    ColourClass.MEASURED: (
        "Colour “measured”: fitted to a chart of known colours in the same photograph."
    ),
    ColourClass.STATION: (
        "Colour “by the station”: by the profile of the place where it was photographed, whose "
        "greys agreed with this photograph."
    ),
    ColourClass.GREY_STEPS: (
        "Colour “by grey steps”: measured against grey steps of known lightness in the photograph."
    ),
    ColourClass.RELATIVE: (
        "Colour “relative”: compares the leaves of this set with each other, not with other "
        "bundles or with a colour chart."
    ),
    ColourClass.NONE: (
        "Colour “no reference”: nothing in the photograph fixed the colour; take it as a rough "
        "guide only."
    ),
}
EVIDENCE_WORDS: dict[Evidence, str] = {
    Evidence.OPENED_PAIR: "the pair itself, photographed open",
    Evidence.SAME_FACE: "the very faces, photographed in this light",
    Evidence.LAMP_SWAP: "each leaf under both lamps; its other face not seen",
    Evidence.END_TURNED: "the leaf spun end for end; its other face not seen",
    Evidence.MODEL: "worked out for this light from photographs in others",
    Evidence.NONE: "no photograph shows it",
}
LAMP_WORDS: dict[Lamp, str] = {
    Lamp.A: "a lamp past the top end (A)",
    Lamp.B: "a lamp past the bottom end (B)",
    Lamp.SIDE: "a lamp at the side",
    Lamp.BOTH: "lamps past both ends",
    Lamp.UNKNOWN: "a lamp that was not noted",
}


def size_mm(size: LeafSize) -> str:
    """Return length and width in millimetres, or in pixels where there is no scale."""
    if size.length_mm is None or size.width_mm is None:
        return f"{size.length_px:.0f} × {size.width_px:.0f} px (no scale)"
    return f"{size.length_mm:.0f} × {size.width_mm:.0f} mm"


def size_in(size: LeafSize) -> str:
    """Return length and width in inches, empty where there is no scale."""
    if size.length_mm is None or size.width_mm is None:
        return ""
    return f"{size.length_mm / MM_PER_INCH:.1f} × {size.width_mm / MM_PER_INCH:.1f} in"


def colour_words(colour: LeafColour) -> str:
    """Return ``L* 62.1  a* 9.3  b* 24.0``."""
    return f"L* {_num(colour.lightness)}  a* {_num(colour.a)}  b* {_num(colour.b)}"


def area_words(cards: Sequence[LeafCard]) -> str:
    """Return the area of the leaves, length times width, with how many it covers if not all.

    Nothing is taken off for splits, sap or trimming.
    """
    sized = [card.size for card in cards if card.size.length_mm and card.size.width_mm]
    if not sized:
        return "not known: no leaf has a scale"
    m2 = sum((size.length_mm or 0.0) * (size.width_mm or 0.0) for size in sized) / 1e6
    words = f"{m2:.2f} m² ({m2 * FT2_PER_M2:.1f} ft²), full size of each leaf"
    return words if len(sized) == len(cards) else f"{words}; {len(sized)} of {len(cards)} leaves"


def range_words(values_mm: Iterable[float | None]) -> str:
    """Return ``1980 to 2004 mm (78.0 to 78.9 in)``; one number if both ends round alike."""
    known = [value for value in values_mm if value is not None]
    if not known:
        return "no scale"
    low, high = min(known), max(known)
    return f"{_to(low, high, '.0f')} mm ({_to(low / 25.4, high / 25.4, '.1f')} in)"


def step_sentence(pair: PairAlternation | None) -> str:
    """Return which leaf is darker, by how much, and how sure that is."""
    if pair is None or pair.lightness_step is None:
        return ""
    darker = pair.right if pair.lightness_step < 0 else pair.left
    step = f"{abs(pair.lightness_step):.1f} L*"
    low, high = pair.lightness_low, pair.lightness_high
    if low is None or high is None:
        return f"{darker} darker by {step}"
    if low <= 0.0 <= high:
        return f"neither clearly darker, at most {max(-low, high):.1f} L*"
    near, far = sorted((abs(low), abs(high)))
    return f"{darker} darker by {step} ({near:.1f} to {far:.1f})"


def colour_step_words(pair: PairAlternation) -> str:
    """Return the colour difference of the worst fifth of the length, with its interval."""
    if pair.delta_e00 is None:
        return ""
    words = f"ΔE00 {pair.delta_e00:.1f}"
    if pair.delta_e00_low is None or pair.delta_e00_high is None:
        return words
    return f"{words} ({pair.delta_e00_low:.1f} to {pair.delta_e00_high:.1f})"


def flag_words(pair: PairAlternation | None) -> str:
    """Return the flag in words; ``not judged`` where two leaves are no neighbours in the stack."""
    return "not judged" if pair is None else pair.flag.replace("not-measured", "not measured")


def file_word(text: str) -> str:
    """Return a text as a safe part of a file name on any system.

    Examples
    --------
    >>> file_word("Ashgrove 17/Bündel Nº 2"), file_word("../..")
    ('ashgrove-17-bundel-no-2', 'x')
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60] or "x"


def plain_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    Examples
    --------
    >>> plain_cell("=1+1"), plain_cell("Oak")
    ("'=1+1", 'Oak')
    """
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r", "\n") else text


def _num(value: float) -> str:
    rounded = round(value, 1) + 0.0
    return f"{'−' if rounded < 0 else ''}{abs(rounded):.1f}"


def _to(low: float, high: float, form: str) -> str:
    ends = (f"{low:{form}}", f"{high:{form}}")
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)
