"""Panels: is a run enough for a job, which leaves make which panel, and what is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd
import streamlit as st

from catalog.catalog import Catalog
from catalog.panel_cuts import cut_list_csv
from catalog.panel_picture import panel_picture, px_per_mm_for
from catalog.panel_sheet import cut_sheet_pdf
from catalog.panel_stock import Known, StockPlan, plan_from_stock
from catalog.panel_words import (
    CUTTING_CAUTIONS,
    PRESSING_CAUTIONS,
    along_words,
    bundles_words,
    flag_sentences,
    left_words,
    match_words,
    pieces_words,
    run_words,
    size_words,
    taken_words,
    turned_words,
    yield_words,
)
from catalog.records import BundleId
from catalog.set_words import file_word
from ui.bundle_choice import choose_bundle
from ui.job_entry import known_leaves, marks_from, panels_typed
from ui.leaf_choice import LeafChoiceFaulty
from ui.leaf_film import facts_html, notes_html
from ui.panel_strip import strip_html, strip_words
from ui.plain_markdown import plain
from ui.settings_file import read_settings
from ui.shared_catalog import shared_catalog
from vision.match_layout import LAYINGS, Match
from vision.panel_job import Allowances, Face, Job, MarkedPlace, Place

FACE_WORDS = {
    Face.BALANCE: "Balance: equal widths",
    Face.CENTRE_BALANCE: "Centre balance: equal, a joint in the middle",
    Face.RUNNING: "Running: full widths, the rest starts the next panel",
    Face.SLIP_CENTRE_BOOK: "Slip, booked at the centre",
    Face.FOUR_WAY: "Four-way",
}
MATCH_WORDS = {match: match.value.replace("-", " ").capitalize() for match in LAYINGS}
MARK_COLUMNS = {
    "leaf": "Leaf",
    "left_mm": "Left",
    "top_mm": "Top",
    "right_mm": "Right",
    "bottom_mm": "Bottom",
    "place": "Place",
    "at_mm": "Shown below panel top",
    "kind": "Kind",
}
"""The first five make a place; a row that lacks one is still being typed."""
BUNDLE, FLITCH, STOCK = "This bundle", "The whole flitch", "All of stock"
ALLOWANCES = (
    ("joint_cut_mm", "Joint cut, mm each edge"),
    ("overhang_side_mm", "Overhang at sides, mm"),
    ("overhang_end_mm", "Overhang at ends, mm"),
    ("end_trim_mm", "Trim at ends, mm"),
    ("side_trim_mm", "Trim at sides, mm"),
    ("defect_margin_mm", "Margin around defects, mm"),
    ("leaves_per_spare", "One spare for so many leaves (0: none)"),
    ("least_run", "Shorter runs are orphans, leaves"),
)


def show() -> None:
    """Ask for the job, show the best ways to make it."""
    catalog = shared_catalog()
    st.title("Panels", anchor=False)
    st.caption("Is this run enough for the job? Panel sizes in; leaves, cuts and what is left out.")
    bundle = choose_bundle(catalog)
    if bundle is None:
        return
    where = st.segmented_control(
        "Take the leaves from", [BUNDLE, FLITCH, STOCK], default=BUNDLE, required=True, key="from"
    )
    job = _ask_job()
    numbers = {
        BUNDLE: [bundle.bundle_id],
        FLITCH: [one.bundle_id for one in catalog.bundles(bundle.flitch_id)],
        STOCK: None,
    }[where]
    known = _ask_known(catalog, numbers)
    if job is None or known is None:
        return
    with st.spinner("Looking for runs"):
        plans, others = plan_from_stock(catalog, job, bundles=numbers, known=known)
    for number, one in enumerate(plans, start=1):
        _show_plan(catalog, number, one)
    for flitch, why in others:
        if plans:
            st.caption(f"**{plain(flitch.name)}** would not do. {plain(why)}")
        else:
            st.warning(f"**{plain(flitch.name)}:** {plain(why)}")
    if plans:
        _show_cautions()


def _ask_job() -> Job | None:
    sizes, kinds = st.columns([1, 1])
    text = sizes.text_area(
        "Panels, one a line: width x length in mm, the grain along the second",
        "door=400x1000",
        key="sizes",
        height=140,
        placeholder="3x900x2100\ndoor=450x1980",
    )
    face = kinds.selectbox("Face", list(FACE_WORDS), format_func=FACE_WORDS.__getitem__, key="face")
    match = kinds.segmented_control(
        "Between leaves",
        list(MATCH_WORDS),
        format_func=MATCH_WORDS.__getitem__,
        default=Match.BOOK,
        required=True,
        key="between",
        disabled=face in (Face.SLIP_CENTRE_BOOK, Face.FOUR_WAY),
    )
    allowances = _ask_allowances(read_settings().panels)
    lines = [line for line in (text or "").splitlines() if line.strip()]
    if not lines:
        st.info("Write the size of a panel, for example 900x2100.")
        return None
    return Job(panels_typed(lines), Match(match), Face(face), allowances)


def _ask_allowances(settings: Allowances) -> Allowances:
    with st.expander("What the shop takes off"):
        places = st.columns(4)
        chosen = {
            name: places[i % 4].number_input(
                words, min_value=0.0, value=float(getattr(settings, name)), step=1.0, key=name
            )
            for i, (name, words) in enumerate(ALLOWANCES)
        }
        st.caption(
            "Common practice: 3 to 6 mm at each joint edge, 10 to 25 mm over each side and 25 to "
            "50 over each end, one spare leaf in 8 to 10. Ask the customer's shop."
        )
    return replace(settings, **chosen)


def _ask_known(catalog: Catalog, numbers: Sequence[BundleId] | None) -> Known | None:
    if numbers is None:
        return Known()
    with st.expander("Leaves that are gone or held; places to avoid or to show"):
        gone_place, held_place = st.columns(2)
        gone = gone_place.text_input("Gone", key="gone", placeholder="03, 07-09")
        held = held_place.text_input("Held", key="held", placeholder="10-12")
        if len(numbers) > 1:
            st.caption("Write bundle and leaf, for example 2/03.")
        marks = _ask_marks()
    try:
        return known_leaves(catalog, numbers, gone=gone or "", held=held or "", marks=marks)
    except LeafChoiceFaulty as error:
        st.warning(plain(str(error)))
        return None


def _ask_marks() -> dict[str, tuple[MarkedPlace, ...]]:
    st.caption(
        "Places on a leaf, mm from its left edge and its top end as it lies. Open splits and holes "
        "that the photographs show are kept off the face anyway."
    )
    typed = st.data_editor(
        pd.DataFrame({name: pd.Series(dtype="str") for name in MARK_COLUMNS}),
        num_rows="dynamic",
        hide_index=True,
        key="marks",
        column_config={
            **{name: st.column_config.TextColumn(words) for name, words in MARK_COLUMNS.items()},
            "place": st.column_config.SelectboxColumn("Place", options=[p.value for p in Place]),
        },
    )
    rows = [
        {name: str(value).strip() for name, value in row.items() if pd.notna(value)}
        for row in typed.to_dict("records")
    ]
    whole = [row for row in rows if all(row.get(name) for name in list(MARK_COLUMNS)[:5])]
    return marks_from((f"Leaf {row['leaf']}", row) for row in whole)


def _show_plan(catalog: Catalog, number: int, one: StockPlan) -> None:
    plan = one.plan
    with st.container(border=True, key=f"plan-{number}"):
        st.subheader(
            plain(f"{number}. {one.flitch.name}, {bundles_words(plan)}: {match_words(plan)}"),
            anchor=False,
        )
        st.html(facts_html([taken_words(plan), yield_words(plan), f"Left: {left_words(plan)}"]))
        notes = [*flag_sentences(plan), turned_words(plan)]
        st.html(notes_html([note for note in notes if note]))
        scale = px_per_mm_for(one, wide_px=560, high_px=480)
        with st.container(horizontal=True):
            for index in range(len(plan.panels)):
                st.image(
                    panel_picture(catalog.pictures, one, index, px_per_mm=scale), width="content"
                )
        st.html(strip_html(plan))
        st.caption(strip_words(plan))
        with st.expander("Cuts in numbers"):
            st.dataframe(_table(one), hide_index=True)
        _offer(catalog, number, one)


def _table(one: StockPlan) -> pd.DataFrame:
    plan = one.plan
    return pd.DataFrame(
        {
            "Panel": panel.panel.name,
            "Size": size_words(panel.panel.width_mm, panel.panel.length_mm),
            "Leaves": run_words(plan.leaves, panel.leaves),
            "Pieces": pieces_words(panel),
            "Along the leaf, from its top end": along_words(panel),
        }
        for panel in plan.panels
    )


def _offer(catalog: Catalog, number: int, one: StockPlan) -> None:
    stem = f"cut-list-{number}-{file_word(one.flitch.name)}"
    with st.container(horizontal=True):
        st.download_button(
            "Cut list (PDF)",
            lambda: cut_sheet_pdf(catalog, one, on=catalog.now().date()),
            file_name=f"{stem}.pdf",
            mime="application/pdf",
            on_click="ignore",
            key=f"pdf-{number}",
        )
        st.download_button(
            "Cut list (CSV)",
            cut_list_csv(one.plan),
            file_name=f"{stem}.csv",
            mime="text/csv",
            on_click="ignore",
            key=f"csv-{number}",
        )


def _show_cautions() -> None:
    with st.expander("When cutting and pressing"):
        st.html(notes_html([*CUTTING_CAUTIONS, *PRESSING_CAUTIONS]))


show()
