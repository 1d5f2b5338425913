"""Shooting stations: which there are, what a photograph is worth at one, and set one up."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import streamlit as st

from catalog.catalog import Catalog
from catalog.records import KnownStation
from catalog.station_setting import keep_station, set_up, try_photo
from ui.plain_markdown import plain
from ui.settings_file import read_settings
from ui.shared_catalog import shared_catalog
from ui.station_choice import choose_station
from ui.station_entry import Printed, ask_station, ask_tape, missing_words, offer_rails, with_tape
from ui.station_trial import ask_photo, judge_upload
from ui.station_view import stations_html
from ui.station_words import expiry_words

KEPT, ROUND = "station-kept", "station-round"


def show() -> None:
    """Show the stations, try a photograph at one, set one up."""
    catalog = shared_catalog()
    today = date.today()  # noqa: DTZ011 - the dealer's own calendar
    st.title("Station", anchor=False)
    st.caption(
        "A table with its rails, lamps and camera. Set up once from one photograph, it gives every "
        "photograph taken at it true millimetres and true colour, until it expires or the greys of "
        "a photograph disagree with it."
    )
    if KEPT in st.session_state:
        st.success(plain(st.session_state.pop(KEPT)))
    stations = catalog.stations()
    if stations:
        _show_stations(catalog, stations, today)
    st.header("Set up a station", anchor=False)
    _set_up(catalog, offer_rails(today), today)


def _show_stations(catalog: Catalog, stations: Sequence[KnownStation], today: date) -> None:
    st.header("Your stations", anchor=False)
    st.html(stations_html([one.station for one in stations], today))
    st.subheader("Try a photograph", anchor=False)
    st.caption("What a photograph is worth, before you take in a bundle. Nothing is kept.")
    known = choose_station(catalog, key="try-station", can_be_none=False)
    if known is None:
        return
    upload = ask_photo("try-photo")
    if upload is not None:
        settings = read_settings().vision
        judge_upload(
            upload,
            lambda photo: try_photo(photo, known, settings=settings, today=today),
            typed=(known.station_id, today),
            key="tried",
        )


def _set_up(catalog: Catalog, printed: Printed, today: date) -> None:
    tape = ask_tape()
    typed = ask_station(printed, today)
    st.subheader("4. Photograph the empty station", anchor=False)
    st.caption(
        "Rails, bare board and the chart in its printed frame, lit and exposed as the leaves will "
        "be: the file as it comes from the camera."
    )
    # Once a station is kept, the next one begins with another photograph.
    upload = ask_photo(f"set-up-photo-{st.session_state.setdefault(ROUND, 0)}")
    lacks = missing_words(tape, typed)
    if lacks:
        st.info(lacks)
    if lacks or upload is None:
        return
    settings = read_settings().vision
    tried = judge_upload(
        upload,
        lambda photo: set_up(
            photo, with_tape(typed, tape, printed), settings=settings, today=today
        ),
        typed=(tape, typed, printed),
        key="set-up",
    )
    if tried is None:
        return
    said = expiry_words(tried.station, today)
    st.caption(plain(f"By the day of this photograph the station {said}."))
    if st.button("Keep this station", type="primary"):
        keep_station(tried, catalog=catalog)
        st.session_state[KEPT] = f"Station {tried.station.name} is kept; it {said}."
        st.session_state[ROUND] += 1
        st.rerun()


show()
