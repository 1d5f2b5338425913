"""What a dealer types to set a station up: rails to print, tape, chart, lamps, name."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import streamlit as st

from catalog.rails_layout import RailsPaper
from catalog.rails_sheets import PrintedRails, make_rails
from catalog.station_setting import rails_by_tape
from ui.station_words import EDITION_WORDS
from ui.theme import STATION_SKETCH_FILE
from vision.chart_references import EDITIONS
from vision.rail_plan import LEAST_CHART_MM, MOST_CHART_MM, MOST_LENGTH_MM, PITCHES_MM
from vision.shooting_station import STATION_DAYS, ShootingStation

NO_CHART = "No chart"
PAPERS = {"A4": RailsPaper.A4, "Letter": RailsPaper.LETTER}
SHEETS = "rails-sheets"


@dataclass(frozen=True, slots=True)
class Tape:
    """What the steel tape said; None where nothing was typed yet."""

    left_mm: float | None
    right_mm: float | None
    gap_top_mm: float | None
    gap_bottom_mm: float | None
    height_mm: float | None


@dataclass(frozen=True, slots=True)
class Printed:
    """How rails and chart frame were printed, or are going to be."""

    pitch_mm: float
    patch_mm: float


def offer_rails(today: date) -> Printed:
    """Ask for the size of table and chart, and offer the rails as a PDF."""
    st.subheader("1. Print the rails", anchor=False)
    st.caption(
        "Two paper rails, one on each side of the leaf, tell where the lens bends and how long "
        "things are. Print at 100 %, glue as the first sheet says. If yours lie there already, say "
        "only how they were printed: marker to marker, and patch to patch of the chart."
    )
    left, middle, right = st.columns(3)
    length_mm = left.number_input(
        "Longest leaf, mm", 200.0, MOST_LENGTH_MM, 2800.0, 100.0, format="%.0f", key="rails-length"
    )
    gap_mm = middle.number_input(
        "Gap between the rails, mm", 150.0, 2000.0, 700.0, 10.0, format="%.0f", key="rails-gap"
    )
    paper = right.selectbox("Paper", list(PAPERS), key="rails-paper")
    pitch_mm = left.selectbox(
        "Marker to marker, mm", PITCHES_MM, format_func="{:g}".format, key="pitch"
    )
    patch_mm = middle.number_input(
        "Chart, patch to patch, mm", LEAST_CHART_MM, MOST_CHART_MM, 40.0, 0.5, format="%.1f",
        key="patch", help="Centre to centre of two neighbouring patches of your chart.",
    )  # fmt: skip
    about = (length_mm, gap_mm, paper, pitch_mm, patch_mm)
    if st.button("Make the sheets", key="make-rails"):
        made = make_rails(
            length_mm,
            pitch_mm=pitch_mm,
            paper=PAPERS[paper],
            gap_mm=gap_mm,
            chart_patch_mm=patch_mm,
            on=today,
        )
        st.session_state[SHEETS] = (about, made)
    ready: tuple[object, PrintedRails] | None = st.session_state.get(SHEETS)
    if ready is not None and ready[0] == about:
        made = ready[1]
        st.caption(f"{made.page_count} sheets, {made.plan.markers} markers on each rail.")
        st.download_button("Download rails.pdf", made.pdf, "rails.pdf", on_click="ignore")
    return Printed(pitch_mm, patch_mm)


def ask_tape() -> Tape:
    """Ask for the numbers that a steel tape tells, beside a drawing of what to measure."""
    st.subheader("2. Measure with a steel tape", anchor=False)
    drawing, numbers = st.columns([2, 3], gap="large")
    drawing.image(STATION_SKETCH_FILE.read_text(encoding="utf-8"), width=340)
    with numbers:
        st.caption(
            "From the centre of a marker to the centre of another, to half a millimetre. Printers "
            "are off by up to 0.5 %, 12 mm over 2.5 m: what is not measured is not called measured."
        )
        left_mm = _mm("1  Left rail, first to last marker, mm", "left")
        right_mm = _mm("2  Right rail, first to last marker, mm", "right")
        top_mm = _mm("3  Gap at the first markers, mm", "gap-top")
        bottom_mm = _mm("4  Gap at the last markers, mm", "gap-bottom")
        height_mm = _mm("5  Lens above the table, mm (for thick stacks)", "height", step=10.0)
    return Tape(left_mm, right_mm, top_mm, bottom_mm, height_mm)


def ask_station(printed: Printed, today: date) -> ShootingStation:
    """Ask for chart, lamps, days and name; the rails are still to come."""
    st.subheader("3. Chart, lamps, name", anchor=False)
    left, right = st.columns(2, gap="large")
    name = left.text_input("Name of the station", key="name", placeholder="long table")
    lamps = left.text_input("Lamps, in your words", key="lamps", placeholder="two LED, 45 degrees")
    camera = left.text_input("Camera and lens, in your words", key="camera")
    edition = right.selectbox(
        "Colour chart",
        [*reversed(EDITIONS), None],
        format_func=lambda one: NO_CHART if one is None else EDITION_WORDS[one],
        key="edition",
    )
    days = right.number_input(
        "Believed for, days", 1, 365, STATION_DAYS, key="days",
        help="Lamps age and are moved. A photograph whose greys disagree ends it sooner.",
    )  # fmt: skip
    return ShootingStation(
        name=(name or "").strip(),
        made_on=today,
        camera=(camera or "").strip(),
        lamps=(lamps or "").strip(),
        chart_edition=edition,
        chart_patch_mm=printed.patch_mm,
        days=int(days),
    )


def missing_words(tape: Tape, typed: ShootingStation) -> str:
    """Return what must still be typed, empty if nothing."""
    lacks = [
        words
        for words, is_there in (
            ("the length of the left rail", tape.left_mm),
            ("the length of the right rail", tape.right_mm),
            ("a name", typed.name),
        )
        if not is_there
    ]
    return f"Still to be typed: {', '.join(lacks)}." if lacks else ""


def with_tape(typed: ShootingStation, tape: Tape, printed: Printed) -> ShootingStation:
    """Return the station with its rails; `EntryFaulty` if they cannot be so long."""
    return replace(
        typed,
        camera_height_mm=tape.height_mm,
        rails=rails_by_tape(
            left_mm=tape.left_mm or 0.0,
            right_mm=tape.right_mm or 0.0,
            gap_top_mm=tape.gap_top_mm,
            gap_bottom_mm=tape.gap_bottom_mm,
            pitch_mm=printed.pitch_mm,
        ),
    )


def _mm(label: str, key: str, *, step: float = 0.5) -> float | None:
    typed: float | None = st.number_input(
        label, min_value=0.0, value=None, step=step, format="%.1f", key=key
    )
    return typed
