"""Which lamp the screen shows: kept in the address, the same on every screen."""

from __future__ import annotations

import streamlit as st

from vision.shot import Lamp

_WORDS = {Lamp.A: "Lamp A, top end", Lamp.B: "Lamp B, bottom end"}


def choose_lamp() -> Lamp:
    """Show the switch between the two lamps and return the one that is on."""
    chosen = st.segmented_control(
        "Light from",
        list(_WORDS),
        format_func=_WORDS.__getitem__,
        default=Lamp.A,
        required=True,
        key="lamp",
        bind="query-params",
    )
    return Lamp(chosen)
