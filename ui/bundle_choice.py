"""The bundle a screen is about: from the address of the page, else the one seen last."""

from __future__ import annotations

import streamlit as st

from catalog.catalog import Catalog
from catalog.records import Bundle, BundleId

PARAMETER = "bundle"
_CHOICE = "bundle-choice"


def choose_bundle(catalog: Catalog) -> Bundle | None:
    """Show a chooser and return the bundle; None, with a word on what to do, if there is none."""
    names = {
        bundle.bundle_id: f"{card.flitch.name} · bundle {bundle.label}"
        for card in catalog.find_flitches()
        for bundle in catalog.bundles(card.flitch.flitch_id)
    }
    if not names:
        st.info("There is no bundle yet. Take the photographs of one in first.")
        st.page_link("screens/take_in.py", label="Take in a bundle")
        return None
    st.session_state[_CHOICE] = _wanted(names)
    chosen: BundleId = st.selectbox(
        "Bundle", list(names), format_func=names.__getitem__, key=_CHOICE, on_change=_follow
    )
    st.query_params[PARAMETER] = str(chosen)
    st.session_state[PARAMETER] = str(chosen)
    return catalog.bundle(chosen)


def _wanted(names: dict[BundleId, str]) -> BundleId:
    named = st.query_params.get(PARAMETER)
    for text in (named, st.session_state.get(PARAMETER)):
        if text and text.isdecimal() and BundleId(int(text)) in names:
            return BundleId(int(text))
    if named is not None:
        st.warning(f"There is no bundle number {named}. This is the first one.")
    return next(iter(names))


def _follow() -> None:
    st.query_params[PARAMETER] = str(st.session_state[_CHOICE])
