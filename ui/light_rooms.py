"""The light a screen speaks of: one by its name, or a lamp and an eye placed freely."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

import streamlit as st

from catalog.light_asked import LightAsked
from catalog.light_words import MATCH_WORDS, joints_words, worst_pair
from ui.leaf_film import flag_parts, flag_words
from ui.room_sketch import sketch_img
from vision.match_choice import MatchJudged
from vision.readings import PairAlternation
from vision.room_alternation import USUAL_LENGTH_MM
from vision.room_lights import ROOM_WORDS, STANDING_EYE_MM, Triple

FREE = "free"
FREE_WORDS = "a lamp and an eye where I place them"
AS_PHOTOGRAPHED = "photographed"
AS_PHOTOGRAPHED_WORDS = "no, the lamp as photographed"
LAMP_M = (0.0, 1.5, 0.9)
MOST_M = 20.0


def choose_light() -> LightAsked:
    """Show the lights by name and, for a free one, where lamp and eye are; return what is asked."""
    words = {**ROOM_WORDS, FREE: FREE_WORDS}
    chosen = st.selectbox(
        "Light",
        list(words),
        format_func=lambda name: words[name][:1].upper() + words[name][1:],
        key="light",
        bind="query-params",
    )
    return enter_light(chosen or next(iter(ROOM_WORDS)))


def choose_room() -> str:
    """Show the lights by name, first the photographs' own; return the one chosen, or none."""
    words = {AS_PHOTOGRAPHED: AS_PHOTOGRAPHED_WORDS, **ROOM_WORDS, FREE: FREE_WORDS}
    chosen = st.selectbox(
        "Or in another light",
        list(words),
        format_func=lambda name: words[name][:1].upper() + words[name][1:],
        key="room",
        bind="query-params",
    )
    return "" if chosen in (None, AS_PHOTOGRAPHED) else str(chosen)


def enter_light(name: str) -> LightAsked:
    """Return the light of that name; for a free one show where lamp and eye are."""
    if name != FREE:
        return LightAsked(name)
    st.caption(
        "Metres from the middle of the panel: to the right, up toward the upper end of the leaves, "
        "and out into the room."
    )
    lamp = _place("Lamp", LAMP_M)
    eye = _place("Eye", tuple(value / 1000 for value in STANDING_EYE_MM))
    return LightAsked("", lamp, eye)


def rooms_html(
    by_room: Mapping[str, Sequence[PairAlternation]], *, chosen: str, length_mm: float | None
) -> str:
    """Return a card for each light with a name: drawing, words, and the worst it shows."""
    cards = []
    for name, pairs in by_room.items():
        room = LightAsked(name).room(length_mm)
        words = ROOM_WORDS[name][:1].upper() + ROOM_WORDS[name][1:]
        mark = " fw-chosen" if name == chosen else ""
        cards.append(
            f'<div class="fw-room{mark}">'
            f"{sketch_img(room, length_mm=length_mm or USUAL_LENGTH_MM)}"
            f"<b>{escape(words)}</b>{_worst_html(pairs)}</div>"
        )
    return f'<div class="fw-rooms">{"".join(cards)}</div>'


def matches_html(matches: Sequence[MatchJudged]) -> str:
    """Return a card for each match, the one to take first: what it shows, and what it costs."""
    cards = []
    for rank, one in enumerate(matches, start=1):
        place = "–" if one.delta_e00 is None else str(rank)
        shows, name = joints_words(one), MATCH_WORDS[one.match].capitalize()
        cards.append(
            f'<div class="fw-room" role="listitem"><b>{place}. {name}</b>'
            f"{escape(shows[:1].upper() + shows[1:])}."
            f"<p>{escape(one.kind.words.capitalize())}. Cost: {escape(one.kind.cost)}.</p></div>"
        )
    return f'<div class="fw-rooms" role="list">{"".join(cards)}</div>'


def free_html(asked: LightAsked, *, length_mm: float | None) -> str:
    """Return the drawing of one light, its words below it."""
    room = asked.room(length_mm)
    drawn = sketch_img(room, length_mm=length_mm or USUAL_LENGTH_MM)
    words = room.words[:1].upper() + room.words[1:]
    return (
        f'<div class="fw-rooms"><div class="fw-room fw-chosen">{drawn}'
        f"<b>{escape(words)}</b></div></div>"
    )


def _worst_html(pairs: Sequence[PairAlternation]) -> str:
    worst = worst_pair(pairs)
    flag = "not-measured" if worst is None else worst.flag
    swatches = "".join(f'<i class="fw-swatch fw-{part}"></i>' for part in flag_parts(flag))
    said = (
        ""
        if worst is None
        else f"; worst pair {worst.left}\u00a0|\u00a0{worst.right}, ΔE00 {worst.delta_e00:.1f}"
    )
    return f'<span class="fw-tag">{swatches}{escape(flag_words(flag) + said)}</span>'


def _place(what: str, start: Sequence[float]) -> Triple:
    right, up, out = st.columns(3)
    x = _metres(right, f"{what}: right, m", f"{what}-x", start[0], -MOST_M)
    y = _metres(up, f"{what}: up, m", f"{what}-y", start[1], -MOST_M)
    z = _metres(out, f"{what}: out of the wall, m", f"{what}-z", start[2], 0.02)
    return x, y, z


def _metres(
    place: st.delta_generator.DeltaGenerator, label: str, key: str, start: float, least: float
) -> float:
    """Return a distance in mm that was typed in metres."""
    typed = place.number_input(
        label, least, MOST_M, start, step=0.1, format="%.2f", key=key.lower()
    )
    return 1000 * float(typed)
