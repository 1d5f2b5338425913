"""In which light a run of leaves shows light and dark, and which match to take."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

import streamlit as st

from catalog.catalog import Catalog
from catalog.finish_file import read_finish_file
from catalog.light_forecast import LightForecast, forecast_light
from catalog.light_report import REPORT_MATCHES, light_report
from catalog.light_words import (
    MATCH_WORDS,
    RAW_WORDS,
    choice_words,
    lamps_words,
    leaves_words,
    spread_words,
    worst_room_words,
    worst_words,
)
from catalog.records import Bundle
from catalog.set_words import file_word
from ui.bundle_choice import choose_bundle
from ui.bundle_view import film_leaves
from ui.leaf_film import film_html, legend_html, notes_html
from ui.leaf_run import choose_run
from ui.light_rooms import choose_light, free_html, matches_html, rooms_html
from ui.settings_file import read_settings
from ui.shared_catalog import shared_catalog
from vision.alternation import TURNED_IN
from vision.finish import Finish
from vision.match_names import Match
from vision.shot import Lamp


def show() -> None:
    """Show what a run of leaves will show in the light asked for."""
    catalog = shared_catalog()
    st.title("Light", anchor=False)
    st.caption("What the leaves will show where the panel will hang, before anything is cut.")
    bundle = choose_bundle(catalog)
    if bundle is None:
        return
    labels = choose_run(catalog, bundle)
    if len(labels) < 2:
        if labels:
            st.info("Light and dark show between two leaves; this bundle has one.")
        return
    match_place, light_place = st.columns(2)
    with match_place:
        match = _choose_match()
    with light_place:
        asked = choose_light()
    finish = _offcut()
    with st.expander("Where must a lamp hang?"):
        carry = st.toggle("Carry a lamp round the panel (a second or so a leaf)", key="carry")
        carried = st.container()
    with st.spinner("Working out the light"):
        told = forecast_light(
            catalog,
            bundle.bundle_id,
            labels,
            match=match,
            asked=asked,
            carry_lamp=carry,
            finish=finish,
            settings=read_settings().vision,
        )
    if told.lamps is not None:
        carried.html(notes_html(lamps_words(told.lamps, read_settings().vision).splitlines()))
    if asked.lamp_mm is not None:
        st.html(free_html(asked, length_mm=told.length_mm))
    _show_strip(catalog, bundle, told)
    st.subheader("In which light", anchor=False)
    st.html(rooms_html(told.by_room, chosen=asked.name, length_mm=told.length_mm))
    st.html(notes_html([words for words in [worst_room_words(told.by_room)] if words]))
    _show_matches(told)
    st.subheader("Leaf by leaf", anchor=False)
    st.html(notes_html(leaves_words(told.leaves).splitlines()))
    _offer_report(catalog, bundle, labels, match, finish)


def _choose_match() -> str:
    names = {match: MATCH_WORDS[match].capitalize() for match in TURNED_IN}
    chosen = st.selectbox(
        "Match", list(names), format_func=names.__getitem__, key="match-light", bind="query-params"
    )
    return chosen or "book"


def _offcut() -> Finish | None:
    with st.expander("As finished"):
        st.caption(
            "Photograph one offcut of this wood raw, then finished, under both lamps; the command "
            "finish makes a file of it. With that file all words here are of the finished wood."
        )
        given = st.file_uploader("Record of a finished offcut", type=["json"], key="offcut")
    if given is None:
        return None
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "offcut.json"
        file.write_bytes(given.getvalue())
        return read_finish_file(file)


def _show_strip(catalog: Catalog, bundle: Bundle, told: LightForecast) -> None:
    st.html(legend_html())
    cards = {leaf.label: leaf for leaf in catalog.leaves(bundle.bundle_id)}
    leaves = film_leaves(
        [cards[label] for label in told.labels], catalog.photos(bundle.bundle_id), Lamp.BOTH
    )
    st.html(f'<div class="fw-low">{film_html(leaves, told.joints)}</div>')
    st.caption(
        f"Leaves as photographed. Between them: what the {MATCH_WORDS[told.match]} will show in "
        f"the light of {told.light}. L* is right leaf minus left leaf."
    )
    words = [spread_words(told.joints), worst_words(told.joints)]
    words.append(f"Said of the wood with {told.finish}." if told.finish else RAW_WORDS)
    st.html(notes_html([word for word in words if word]))
    if told.missing:
        st.warning("Not measured for want of photographs:")
        st.html(notes_html(told.missing))


def _show_matches(told: LightForecast) -> None:
    st.subheader("Which match", anchor=False)
    st.html(notes_html([choice_words(told.matches)]))
    st.html(matches_html(told.matches))


def _offer_report(
    catalog: Catalog,
    bundle: Bundle,
    labels: Sequence[str],
    match: str,
    finish: Finish | None,
) -> None:
    st.subheader("For the customer", anchor=False)
    if match not in REPORT_MATCHES:
        st.caption("There is a report for a book, slip or reverse slip match.")
        return

    def report() -> bytes:
        return light_report(
            catalog,
            bundle.bundle_id,
            labels,
            match=Match(match),
            finish=finish,
            settings=read_settings().vision,
        )

    name = file_word(f"{catalog.flitch(bundle.flitch_id).name}-{labels[0]}-{labels[-1]}-{match}")
    st.download_button(
        "Download “What you will see, in which light” (PDF)",
        report,
        file_name=f"{name}-light.pdf",
        mime="application/pdf",
        on_click="ignore",
    )


show()
