"""Take photographs in: into a new bundle, or more of them into one that is there."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from catalog.catalog import Catalog
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.records import AlreadyIn, BundleId, KnownStation, Outcome, Refused, TakenIn
from ui.bundle_entry import CUTS, bundle_for
from ui.leaf_film import refused_html
from ui.plain_markdown import plain
from ui.settings_file import data_folder, read_settings
from ui.shared_catalog import shared_catalog
from ui.station_choice import choose_station
from vision.shot_list import PHOTO_ENDINGS, SHOT_LIST_NAME

NEW = "A new flitch"
UPLOAD, FOLDER = "From this browser", "From a folder of the machine that runs this"
LAST = "taken-in"


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed about the bundle."""

    flitch: str
    species: str
    cut: str
    label: str


@dataclass(frozen=True, slots=True)
class Report:
    """What became of the last take-in."""

    bundle_id: BundleId
    outcomes: tuple[Outcome, ...]


def show() -> None:
    """Ask for a bundle and its photographs, take them in, say what was refused."""
    catalog = shared_catalog()
    st.title("Take in", anchor=False)
    bundle_place, photo_place = st.columns(2, gap="large")
    with bundle_place:
        st.subheader("Which bundle", anchor=False)
        entry = _ask_bundle(catalog)
    with photo_place:
        st.subheader("Which photographs", anchor=False)
        source = _ask_photos()
        station = choose_station(catalog, key="take-in-station")
    ready = bool(entry.flitch and entry.label and source)
    if st.button("Take in", type="primary", disabled=not ready):
        st.session_state[LAST] = _take_in(catalog, entry, source, station)
    elif not ready:
        st.caption("Name the flitch and choose photographs first.")
    if LAST in st.session_state:
        _show_report(st.session_state[LAST])


def _ask_bundle(catalog: Catalog) -> Entry:
    known = {card.flitch.name: card.flitch for card in catalog.find_flitches()}
    chosen = st.selectbox("Flitch", [NEW, *known], key="into")
    if chosen in known:
        flitch = known[chosen]
        labels = [bundle.label for bundle in catalog.bundles(flitch.flitch_id)]
        label = st.selectbox(
            "Bundle", labels, accept_new_options=True, placeholder="Choose or type a new one"
        )
        return Entry(flitch.name, flitch.species, flitch.cut, (label or "").strip())
    name = st.text_input("Name or number of the flitch", key="new-flitch")
    species = st.selectbox(
        "Species",
        catalog.species_in_use(),
        index=None,
        accept_new_options=True,
        placeholder="Choose or type",
        key="new-species",
    )
    cut = st.selectbox(
        "Cut",
        CUTS,
        index=None,
        accept_new_options=True,
        placeholder="Choose or type",
        key="new-cut",
    )
    label = st.text_input("Label of the bundle", value="1", key="new-label")
    return Entry(
        (name or "").strip(), (species or "").strip(), (cut or "").strip(), (label or "").strip()
    )


def _ask_photos() -> Path | Sequence[UploadedFile] | None:
    where = st.radio("Where they are", [UPLOAD, FOLDER], key="where")
    if where == FOLDER:
        typed = (st.text_input("Folder", key="folder") or "").strip()
        folder = Path(typed).expanduser() if typed else None
        if folder is not None and not folder.is_dir():
            st.warning(f"There is no folder {plain(typed)} on this machine. Check the spelling.")
            return None
        return folder
    uploads = st.file_uploader(
        f"Photographs, and {SHOT_LIST_NAME} if there is one",
        type=[*(ending.removeprefix(".") for ending in sorted(PHOTO_ENDINGS)), "csv"],
        accept_multiple_files=True,
        key="photographs",
    )
    st.caption(
        f"{SHOT_LIST_NAME} says which leaf each photograph shows, how it lay and which lamp was "
        "on. Without it each photograph is one leaf, in the order of the file names, and light "
        "and dark cannot be told."
    )
    return uploads or None


def _take_in(
    catalog: Catalog,
    entry: Entry,
    source: Path | Sequence[UploadedFile] | None,
    station: KnownStation | None,
) -> Report:
    bundle_id = bundle_for(
        catalog, flitch=entry.flitch, species=entry.species, cut=entry.cut, label=entry.label
    )
    if isinstance(source, Path):
        return Report(bundle_id, _run(catalog, bundle_id, source, station))
    uploads = data_folder() / "uploads"
    uploads.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=uploads) as place:
        for upload in source or ():
            (Path(place) / Path(upload.name).name).write_bytes(upload.getbuffer())
        return Report(bundle_id, _run(catalog, bundle_id, Path(place), station))


def _run(
    catalog: Catalog, bundle_id: BundleId, folder: Path, station: KnownStation | None
) -> tuple[Outcome, ...]:
    settings = read_settings().vision
    bar = st.progress(0.0, text="Reading the shot list")
    plan = plan_intake(folder, bundle_id, catalog=catalog)
    outcomes: list[Outcome] = []
    for outcome in take_in(plan, catalog=catalog, settings=settings, station=station):
        outcomes.append(outcome)
        bar.progress(
            min(len(outcomes) / max(plan.total, 1), 1.0),
            text=f"{len(outcomes)} of {plan.total}: {plain(outcome.file)}",
        )
    bar.progress(1.0, text="Comparing neighbours")
    finish_bundle(bundle_id, catalog=catalog, settings=settings)
    bar.empty()
    return tuple(outcomes)


def _show_report(report: Report) -> None:
    taken = sum(isinstance(outcome, TakenIn) for outcome in report.outcomes)
    before = sum(isinstance(outcome, AlreadyIn) for outcome in report.outcomes)
    refused = [outcome for outcome in report.outcomes if isinstance(outcome, Refused)]
    words = f"{taken} taken in"
    words += f", {before} were in already" if before else ""
    words += f", {len(refused)} refused" if refused else ""
    (st.success if taken or before else st.error)(f"Photographs: {words}.")
    if taken or before:
        st.page_link(
            "screens/bundle.py",
            label="Look at the bundle",
            query_params={"bundle": str(report.bundle_id)},
        )
    if refused:
        st.html(refused_html([(outcome.file, outcome.reason) for outcome in refused]))


show()
