"""All flitches, as pictures."""

from __future__ import annotations

import streamlit as st

from catalog.catalog import Catalog
from catalog.records import FlitchCard
from ui.bundle_view import picture_address
from ui.flitch_shelf import LEAVES_SHOWN, card_html, shelf_html
from ui.leaf_film import FLAG_WORDS
from ui.shared_catalog import shared_catalog

ANY = "any"
SHOWN = "flitches-shown"
STEP = 48
"""Cards shown at first and added each time: some screens full."""


def show() -> None:
    """Show the flitches that the filters let through."""
    catalog = shared_catalog()
    st.title("Flitches", anchor=False)
    if not catalog.find_flitches(limit=1):
        st.info("No flitch yet. Photograph a bundle, then take it in.")
        st.page_link("screens/take_in.py", label="Take in a bundle")
        return
    found = _filtered(catalog)
    if not found:
        st.info("No flitch answers to all of that. Loosen one of the choices above.")
    shown = st.session_state.setdefault(SHOWN, STEP)
    st.html(shelf_html([_card(catalog, card) for card in found[:shown]]))
    if len(found) > shown:
        st.caption(f"{shown} of {len(found)} flitches")
        st.button("Show more", on_click=_show_more)


def _show_more() -> None:
    st.session_state[SHOWN] += STEP


def _filtered(catalog: Catalog) -> tuple[FlitchCard, ...]:
    with st.container(key="filters"):
        text_place, species_place, cut_place, flag_place = st.columns([2, 1, 1, 1])
    text = text_place.text_input(
        "Search", key="text", bind="query-params", placeholder="Name or note"
    )
    species = species_place.selectbox(
        "Species",
        [ANY, *catalog.species_in_use()],
        key="species",
        bind="query-params",
    )
    cut = cut_place.selectbox(
        "Cut",
        [ANY, *catalog.cuts_in_use()],
        key="cut",
        bind="query-params",
    )
    flags = {ANY: "", **{word: str(flag) for flag, word in FLAG_WORDS.items()}}
    flag = flag_place.selectbox(
        "Light and dark at worst", list(flags), key="worst", bind="query-params"
    )
    return catalog.find_flitches(
        text=text or "",
        species="" if species == ANY else species,
        cut="" if cut == ANY else cut,
        flag=flags[flag],
    )


def _card(catalog: Catalog, card: FlitchCard) -> str:
    bundles = catalog.bundles(card.flitch.flitch_id)
    if not bundles:
        return card_html(card, link=None, pictures=())
    first = bundles[0].bundle_id
    leaves = catalog.leaves(first)[:LEAVES_SHOWN]
    return card_html(
        card,
        link=f"/bundle?bundle={first}",
        pictures=[picture_address(leaf.pictures.thumb) for leaf in leaves],
    )


show()
