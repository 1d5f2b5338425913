"""The shooting stations and a photograph's verdict as HTML."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from html import escape

from catalog.station_setting import has_expired
from ui.station_words import EDITION_WORDS, expiry_words, is_full, verdict_line, verdict_reasons
from vision.shooting_station import ShootingStation
from vision.station_verdict import StationVerdict


def stations_html(stations: Sequence[ShootingStation], today: date) -> str:
    """Return the stations as a row of cards, each with whether it still holds, in words."""
    cards = "".join(_card(station, today) for station in stations)
    return f'<div class="fw-stations">{cards}</div>'


def verdict_html(verdict: StationVerdict) -> str:
    """Return what a photograph is good for: the figures, and a reason for each."""
    kind = "fw-good" if is_full(verdict) else "fw-look"
    reasons = "".join(f"<p>{escape(words)}</p>" for words in verdict_reasons(verdict))
    return (
        f'<div class="fw-verdict {kind}" role="status"><b>{escape(verdict_line(verdict))}</b>'
        f"{reasons}</div>"
    )


def _card(station: ShootingStation, today: date) -> str:
    expired = has_expired(station, today)
    kind, word = ("fw-look", "Expired") if expired else ("fw-good", "In use")
    rails, edition = station.rails, station.chart_edition
    chart = edition and EDITION_WORDS.get(edition, edition)
    facts = [
        f"{expiry_words(station, today).capitalize()}.",
        f"Set up on {station.made_on.isoformat()}.",
        "No rails." if rails is None else f"Rails {rails.left_length_mm:g} mm by tape.",
        f"Chart: {chart}." if chart else "No chart.",
        station.lamps,
    ]
    lines = "".join(f"<p>{escape(fact)}</p>" for fact in facts if fact)
    head = f"<h3>{escape(station.name)}</h3><em>{word}</em>"
    return f'<div class="fw-station {kind}">{head}{lines}</div>'
