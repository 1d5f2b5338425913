"""The leaves of a bundle side by side, and between neighbours how light and dark they will show.

Every word is escaped here; the caller hands over plain text.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from ui.words import lighter_leaf, lighter_words, signed, step_words
from vision.flags import AlternationFlag
from vision.readings import PairAlternation

FLAG_WORDS: dict[AlternationFlag, str] = {
    AlternationFlag.NONE: "none",
    AlternationFlag.SLIGHT: "slight",
    AlternationFlag.STRONG: "strong",
    AlternationFlag.NOT_MEASURED: "not measured",
}

MOST_ENTRIES = 24
WORST_ENTRIES = 12


@dataclass(frozen=True, slots=True)
class FilmLeaf:
    """One leaf of the film."""

    label: str
    picture: str | None
    """Address of its picture, None where there is none."""
    note: str
    """A short line below the label."""


def flag_parts(flag: str) -> tuple[AlternationFlag, ...]:
    """Return the flags a stored word stands for: one, or the two ends of a range.

    Examples
    --------
    >>> [str(part) for part in flag_parts("none to slight")]
    ['none', 'slight']
    """
    return tuple(AlternationFlag(part.strip()) for part in flag.split(" to "))


def flag_words(flag: str) -> str:
    """Return a stored flag or range as it is shown.

    Examples
    --------
    >>> flag_words("not-measured")
    'not measured'
    """
    return " to ".join(FLAG_WORDS[part] for part in flag_parts(flag))


def film_html(leaves: Sequence[FilmLeaf], joints: Sequence[PairAlternation | None]) -> str:
    """Return the film; ``joints[i]`` lies between leaf ``i`` and leaf ``i + 1``."""
    parts = ['<div class="fw-film" tabindex="0" role="group" aria-label="Leaves in order">']
    parts.append('<span class="fw-end"></span>')
    for place, leaf in enumerate(leaves):
        if place:
            parts.append(_joint_html(joints[place - 1] if place <= len(joints) else None))
        parts.append(_leaf_html(leaf))
    parts.append('<span class="fw-end"></span></div>')
    return "".join(parts)


def legend_html() -> str:
    """Return the meaning of colours and patterns."""
    entries = "".join(
        f'<span><i class="fw-swatch fw-{flag}"></i>{escape(word)}</span>'
        for flag, word in FLAG_WORDS.items()
    )
    return f'<div class="fw-legend"><b>Light and dark:</b>{entries}</div>'


def facts_html(facts: Sequence[str]) -> str:
    """Return short facts side by side; empty ones are left out."""
    entries = "".join(f"<span>{escape(fact)}</span>" for fact in facts if fact)
    return f'<div class="fw-facts">{entries}</div>'


def joint_line_html(joints: Sequence[PairAlternation | None]) -> str:
    """Return light and dark at each joint as one line of short entries, left to right.

    Of more than `MOST_ENTRIES` joints, as a parquet has them, those that show most are listed,
    after a line that counts them all.
    """
    judged = [pair for pair in joints if pair is not None]
    if len(judged) <= MOST_ENTRIES:
        entries = "".join(map(_entry_html, judged))
        return f'<div class="fw-joints">{entries}</div>'
    counts = Counter(flag_words(pair.flag) for pair in judged)
    listed = ", ".join(f"{count} {words}" for words, count in counts.most_common())
    worst = sorted(judged, key=lambda pair: -(pair.delta_e00 or 0.0))[:WORST_ENTRIES]
    entries = "".join(map(_entry_html, worst))
    return (
        f"<p>{len(judged)} joints: {escape(listed)}. "
        f"The {WORST_ENTRIES} that show most:</p>"
        f'<div class="fw-joints">{entries}</div>'
    )


def notes_html(notes: Sequence[str]) -> str:
    """Return sentences that belong beside a picture."""
    return f'<ul class="fw-notes">{"".join(f"<li>{escape(note)}</li>" for note in notes)}</ul>'


def refused_html(refused: Sequence[tuple[str, str]]) -> str:
    """Return refused photographs, (file, reason) each, as one list."""
    entries = "".join(
        f'<div role="listitem"><b>{escape(file)}</b> <span>{escape(reason)}</span></div>'
        for file, reason in refused
    )
    return f'<div class="fw-refused" role="list">{entries}</div>'


def tag_html(flag: str) -> str:
    """Return a flag as word, pattern and colour in one line."""
    swatches = "".join(f'<i class="fw-swatch fw-{part}"></i>' for part in flag_parts(flag))
    return f'<span class="fw-tag">{swatches}Light and dark: {escape(flag_words(flag))}</span>'


def _leaf_html(leaf: FilmLeaf) -> str:
    label = escape(leaf.label)
    picture = (
        f'<img src="{escape(leaf.picture)}" alt="Leaf {label}" loading="lazy">'
        if leaf.picture
        else '<span class="fw-empty">no picture</span>'
    )
    return (
        f'<figure class="fw-leaf">{picture}'
        f"<figcaption>{label}<small>{escape(leaf.note)}</small></figcaption></figure>"
    )


def _joint_html(pair: PairAlternation | None) -> str:
    flag = str(AlternationFlag.NOT_MEASURED) if pair is None else pair.flag
    bar = "".join(f'<span class="fw-swatch fw-{part}"></span>' for part in flag_parts(flag))
    step = (
        "" if pair is None or pair.lightness_step is None else f"{signed(pair.lightness_step)} L*"
    )
    return (
        f'<div class="fw-joint"><span class="fw-word">{escape(flag_words(flag))}</span>'
        f'<span class="fw-step">{step}</span><span class="fw-bar">{bar}</span>'
        f'<span class="fw-lighter">{escape(_lighter(pair))}</span></div>'
    )


def _entry_html(pair: PairAlternation) -> str:
    swatches = "".join(f'<i class="fw-swatch fw-{part}"></i>' for part in flag_parts(pair.flag))
    step = "" if pair.lightness_step is None else f" {step_words(pair)} L*"
    which = f", {lighter_words(pair)}" if pair.is_measured else ""
    words = f"{flag_words(pair.flag)}{step}{which}"
    return (
        f'<div class="fw-entry">{swatches}<b>{escape(pair.left)} | {escape(pair.right)}</b>'
        f"<span>{escape(words)}</span></div>"
    )


def _lighter(pair: PairAlternation | None) -> str:
    if pair is None or not pair.is_measured:
        return ""
    leaf = lighter_leaf(pair)
    if leaf is None:
        return "alike"
    return f"◀ {leaf} lighter" if leaf == pair.left else f"{leaf} lighter ▶"
