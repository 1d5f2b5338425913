"""Choose the shooting station at which photographs were taken."""

from __future__ import annotations

from datetime import date

import streamlit as st

from catalog.catalog import Catalog
from catalog.records import KnownStation
from catalog.station_setting import has_expired
from ui.plain_markdown import plain
from ui.station_words import expiry_words

NO_STATION = "None"


def choose_station(catalog: Catalog, *, key: str, can_be_none: bool = True) -> KnownStation | None:
    """Show a chooser where there are stations; return the chosen one, None if none is wanted."""
    stations = catalog.stations()
    if not stations:
        return None
    today = date.today()  # noqa: DTZ011 - the dealer's own calendar
    numbers = [*([None] if can_be_none else []), *range(len(stations))]

    def words(number: int | None) -> str:
        if number is None:
            return NO_STATION
        station = stations[number].station
        return f"{station.name}: {expiry_words(station, today)}"

    number: int | None = st.selectbox("Shooting station", numbers, format_func=words, key=key)
    if number is None:
        return None
    chosen = stations[number]
    if has_expired(chosen.station, today):
        st.warning(
            f"{plain(chosen.station.name)} has expired: its colour is no longer believed, only "
            "a chart in the photograph itself is. Set the station up again."
        )
    return chosen
