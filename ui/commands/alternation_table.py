"""Light and dark of a bundle as a table for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.set_words import EVIDENCE_WORDS
from ui.commands.text_table import text_table
from ui.words import lighter_words, slope_words, step_words
from vision.readings import PairAlternation


def alternation_table(pairs: Sequence[PairAlternation]) -> str:
    """Return one line a pair and lamp, the word first and the numbers after it."""
    rows = [("Pair", "Light", "Light and dark", "Which", "Step L*", "Slope L*", "dE00", "Rests on")]
    rows += [
        (
            f"{pair.left} | {pair.right}",
            pair.light,
            pair.flag,
            lighter_words(pair),
            step_words(pair),
            slope_words(pair),
            "–" if pair.delta_e00 is None else f"{pair.delta_e00:.1f}",
            EVIDENCE_WORDS[pair.evidence],
        )
        for pair in pairs
    ]
    return text_table(rows)
