"""The bundle a screen is about: from the address of the page, else the one seen last."""

from __future__ import annotations

import streamlit as st

from catalog.catalog import Catalog
from catalog.errors import NotInCatalog
from catalog.records import Bundle, BundleId
from ui.plain_markdown import plain

PARAMETER = "bundle"
"""Number of the bundle, in the address and in the session."""
_FLITCH, _BUNDLE = "flitch-choice", "bundle-choice"


def choose_bundle(catalog: Catalog) -> Bundle | None:
    """Show a chooser and return the bundle; None, with a word on what to do, if there is none."""
    names = {
        card.flitch.flitch_id: card.flitch.name
        for card in catalog.find_flitches()
        if card.bundle_count
    }
    if not names:
        st.info("There is no bundle yet. Take the photographs of one in first.")
        st.page_link("screens/take_in.py", label="Take in a bundle")
        return None
    wanted = _wanted(catalog)
    if wanted is not None:
        st.session_state[_FLITCH] = wanted.flitch_id
    elif st.session_state.get(_FLITCH) not in names:
        st.session_state[_FLITCH] = next(iter(names))
    with st.container(key="chooser"):
        flitch_place, bundle_place = st.columns([3, 1])
    flitch_id = flitch_place.selectbox(
        "Flitch", list(names), format_func=names.__getitem__, key=_FLITCH, on_change=_forget
    )
    bundles = {bundle.bundle_id: bundle for bundle in catalog.bundles(flitch_id)}
    st.session_state[_BUNDLE] = next(iter(bundles)) if wanted is None else wanted.bundle_id
    chosen: BundleId = bundle_place.selectbox(
        "Bundle",
        list(bundles),
        format_func=lambda number: bundles[number].label,
        key=_BUNDLE,
        on_change=_follow,
    )
    st.query_params[PARAMETER] = str(chosen)
    st.session_state[PARAMETER] = str(chosen)
    return bundles[chosen]


def _wanted(catalog: Catalog) -> Bundle | None:
    """Return the bundle that the address names, else the one seen last."""
    named = st.query_params.get(PARAMETER)
    for text in (named, st.session_state.get(PARAMETER)):
        if text and text.isdecimal():
            try:
                return catalog.bundle(BundleId(int(text)))
            except NotInCatalog:
                continue
    if named is not None:
        st.warning(f"There is no bundle number {plain(named)}. This is another one.")
    return None


def _forget() -> None:
    """Let another flitch's first bundle be shown."""
    st.query_params.pop(PARAMETER, None)
    st.session_state.pop(PARAMETER, None)


def _follow() -> None:
    st.query_params[PARAMETER] = str(st.session_state[_BUNDLE])
