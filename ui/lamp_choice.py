"""Which lamp the screen shows: kept in the address, the same on every screen."""

from __future__ import annotations

import streamlit as st

from vision.shot import Lamp

_WORDS = {Lamp.A: "Lamp A, top end", Lamp.B: "Lamp B, bottom end"}


def choose_lamp(*, is_off: bool = False) -> Lamp:
    """Show the switch between the two lamps, greyed where neither is on; return the one chosen."""
    chosen = st.segmented_control(
        "Light from",
        list(_WORDS),
        format_func=_WORDS.__getitem__,
        default=Lamp.A,
        required=True,
        key="lamp",
        disabled=is_off,
        bind="query-params",
    )
    return Lamp(chosen)
