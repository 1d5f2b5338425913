"""What is asked of a face, as widgets: only those that bear on the match chosen."""

from __future__ import annotations

import streamlit as st

from catalog.surroundings import Around
from ui.settings_file import read_settings
from vision.joint_cut import JointLimits
from vision.layout import END_OVERHANG_MM, OVERHANG_MM, SHOOT_MM, Allowances
from vision.match_layout import CAN_SLIP, LAYINGS, WHOLE_LEAVES, FaceWish, Match
from vision.match_names import MATCH_NAMES

SETS = (Match.SEQUENCE, Match.BLUEPRINT)
DRAWS = (Match.RANDOM, Match.PLANK)
SLANTED = (Match.DIAMOND, Match.REVERSE_DIAMOND, Match.HERRINGBONE)
PIECES_WORDS: dict[Match, str] = {
    Match.BALANCE: "Leaves",
    Match.CENTRE_BALANCE: "Leaves, an even number",
    Match.SLIP_CENTRE_BOOK: "Leaves, an even number",
    Match.SUNBURST: "Wedges",
    Match.HERRINGBONE: "Strips, an even number",
    Match.PARQUET: "Squares along one side",
}


def choose_match() -> Match:
    """Show every match by name and return the one chosen, its meaning below it."""
    chosen = Match(
        st.selectbox(
            "Match",
            [match.value for match in Match],
            format_func=lambda value: MATCH_NAMES[Match(value)].name,
            key="match",
            bind="query-params",
        )
        or Match.BOOK
    )
    named = MATCH_NAMES[chosen]
    also = f" Also called {named.also}." if named.also else ""
    st.caption(f"{named.family.value.capitalize()}. {named.sentence}{also}")
    return chosen


def enter_face(match: Match) -> FaceWish:
    """Show what can be asked of the face of a match and return it."""
    if match in WHOLE_LEAVES:
        return FaceWish(seed=_draw()) if match in DRAWS else FaceWish()
    with st.expander("Size and pieces", expanded=match in SETS):
        width = length = None
        panels: tuple[tuple[float, float], ...] = ()
        if match in SETS:
            panels = _panels()
        else:
            first, second, third = st.columns(3)
            with first:
                width = _size("Width, mm", "width")
            with second:
                length = _size("Length, mm", "length")
            with third:
                pieces = _pieces(match)
        if match is Match.SUNBURST:
            st.caption("A width alone makes a disc of that diameter; both sides make a panel.")
        slipped = match in CAN_SLIP and st.toggle("Slip instead of booking", key="slipped")
        grain = 45
        if match in SLANTED:
            grain = st.slider("Grain to the upright joint, degrees", 10, 80, 45, key="grain")
        return FaceWish(
            width_mm=width,
            length_mm=length,
            pieces=None if match in SETS else pieces,
            is_slipped=slipped,
            grain_deg=float(grain),
            seed=_draw() if match in DRAWS else 1,
            panels=panels,
            allowances=_allowances(),
        )


def enter_joints(match: Match) -> JointLimits | None:
    """Show whether joints are trimmed where the figure meets; return within which limits."""
    if match not in LAYINGS:
        return None
    is_wanted = st.toggle(
        "Trim each joint where the figure meets", key="best-joints", bind="query-params"
    )
    if not is_wanted:
        return None
    usual = JointLimits()
    first, second = st.columns(2)
    with first:
        loss = st.number_input(
            "Most lost at a joint, mm", 6.0, 100.0, usual.most_loss_mm, 1.0, key="joint-loss"
        )
    with second:
        slip = st.number_input(
            "Most slip along the grain, mm", 0.0, 100.0, usual.most_slip_mm, 1.0, key="joint-slip"
        )
    costs = read_settings().joints
    return JointLimits(most_loss_mm=float(loss), most_slip_mm=float(slip), costs=costs)


def choose_surroundings() -> tuple[Around, bool]:
    """Show what may be drawn round the match, and whether a person stands beside it."""
    first, second = st.columns(2)
    with first:
        around = st.segmented_control(
            "Drawn round it",
            list(Around),
            format_func=str.capitalize,
            default=Around.NOTHING,
            required=True,
            key="around",
            bind="query-params",
        )
    with second:
        person = st.toggle("A person of 1.75 m beside it", key="person", bind="query-params")
    return Around(around), person


def _size(words: str, key: str) -> float | None:
    return st.number_input(
        words, min_value=1.0, value=None, step=10.0, key=f"face-{key}", placeholder="as it comes"
    )


def _pieces(match: Match) -> int | None:
    if match not in PIECES_WORDS:
        return None
    return st.number_input(
        PIECES_WORDS[match],
        min_value=1,
        value=None,
        step=1,
        key=f"pieces-{match.value}",
        placeholder="as it comes",
    )


def _draw() -> int:
    return int(st.number_input("Draw number", min_value=1, value=1, step=1, key="draw"))


def _panels() -> tuple[tuple[float, float], ...]:
    words = st.text_input(
        "Panels, width x length in mm",
        value="",
        key="panels",
        placeholder="600x2000, 600x2000",
    )
    panels = []
    for part in filter(None, (part.strip() for part in words.replace("×", "x").split(","))):
        try:
            width, long = (float(side) for side in part.lower().split("x"))
        except ValueError:
            st.warning(f"{part} is no size of a panel. Write for example 600x2000.")
            continue
        panels.append((width, long))
    return tuple(panels)


def _allowances() -> Allowances:
    shoot, side, end = st.columns(3)
    with shoot:
        off = st.number_input("Shoot off each side, mm", 0.0, 50.0, SHOOT_MM, 0.5, key="shoot")
    with side:
        beside = st.number_input("Overhang, mm", 0.0, 200.0, OVERHANG_MM, 1.0, key="overhang")
    with end:
        ends = st.number_input(
            "Overhang at ends, mm", 0.0, 200.0, END_OVERHANG_MM, 1.0, key="end-overhang"
        )
    return Allowances(float(off), float(beside), float(ends))
