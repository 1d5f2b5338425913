"""One bundle: its leaves in order, and light and dark between neighbours."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from catalog.catalog import Catalog
from catalog.records import Bundle, LeafCard, PhotoRecord
from catalog.set_words import EVIDENCE_WORDS, size_mm
from ui.bundle_choice import choose_bundle
from ui.bundle_view import film_leaves, run_joints
from ui.lamp_choice import choose_lamp
from ui.leaf_film import facts_html, film_html, flag_words, legend_html, refused_html
from ui.photo_section import show_photo
from ui.plain_markdown import plain
from ui.shared_catalog import shared_catalog
from ui.words import flags_words, lighter_words, shot_words, step_words
from vision.match_layout import Match
from vision.readings import PairAlternation


def show() -> None:
    """Show the bundle that the address names."""
    catalog = shared_catalog()
    heading = st.container()
    bundle = choose_bundle(catalog)
    if bundle is None:
        heading.title("Bundle", anchor=False)
        return
    flitch = catalog.flitch(bundle.flitch_id)
    heading.title(plain(f"{flitch.name}, bundle {bundle.label}"), anchor=False)
    leaves = catalog.leaves(bundle.bundle_id)
    photos = catalog.photos(bundle.bundle_id)
    if leaves:
        heading.html(facts_html([flitch.species, flitch.cut, flitch.figure, *_tally(leaves)]))
        _show_film(catalog, bundle, leaves, photos)
        _show_leaf_table(leaves)
    else:
        st.info("No leaf is in yet.")
    _show_photos(catalog, bundle, photos)
    show_photo(catalog, photos)


def _show_film(
    catalog: Catalog, bundle: Bundle, leaves: Sequence[LeafCard], photos: Sequence[PhotoRecord]
) -> None:
    lamp = choose_lamp()
    pairs = catalog.alternation(bundle.bundle_id)
    labels = [leaf.label for leaf in leaves]
    joints = run_joints(labels, pairs, match=Match.BOOK, lamp=lamp)
    st.html(legend_html())
    st.html(film_html(film_leaves(leaves, photos, lamp), joints))
    st.caption(
        "Leaves as they lie, in stack order. Between them: how light and dark the two will show "
        "if the whole bundle is book matched from the left and lit from this end. L* is right "
        "leaf minus left leaf."
    )
    match_place, set_place, _rest = st.columns([1, 1, 3])
    number = {"bundle": str(bundle.bundle_id)}
    match_place.page_link("screens/match.py", label="See the match", query_params=number)
    set_place.page_link("screens/picture_set.py", label="Make a picture set", query_params=number)
    with st.expander("Light and dark in numbers"):
        _show_table(_joint_table(joints))


def _tally(leaves: Sequence[LeafCard]) -> list[str]:
    count = "1 leaf" if len(leaves) == 1 else f"{len(leaves)} leaves"
    sizes = [
        leaf.size.length_mm * leaf.size.width_mm
        for leaf in leaves
        if leaf.size.length_mm and leaf.size.width_mm
    ]
    if not sizes:
        return [count]
    area = f"{sum(sizes) / 1e6:.2f} m²"
    return [count, area if len(sizes) == len(leaves) else f"{area} in {len(sizes)} of them"]


def _joint_table(joints: Sequence[PairAlternation | None]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "Pair": f"{pair.left} | {pair.right}",
            "Light and dark": flag_words(pair.flag),
            "Which": lighter_words(pair),
            "Step L* (95 % range)": step_words(pair),
            "Worst fifth ΔE00": pair.delta_e00,
            "From the slope L*": pair.tilt_part,
            "From the faces L*": pair.face_part,
            "Stripes at the joint L*": pair.local_rms,
            "Rests on": EVIDENCE_WORDS[pair.evidence],
        }
        for pair in joints
        if pair is not None
    )


def _show_table(table: pd.DataFrame) -> None:
    table = table.dropna(axis="columns", how="all")
    decimal = st.column_config.NumberColumn(format="%.1f")
    formats = {name: decimal for name, kind in table.dtypes.items() if kind == "float64"}
    st.dataframe(table, hide_index=True, column_config=formats)


def _show_leaf_table(leaves: Sequence[LeafCard]) -> None:
    with st.expander("Leaves in numbers"):
        table = pd.DataFrame(
            {
                "Place": leaf.position,
                "Leaf": leaf.label,
                "Size": size_mm(leaf.size),
                "L*": leaf.colour.lightness,
                "a*": leaf.colour.a,
                "b*": leaf.colour.b,
                "Grain °": leaf.figure.grain_angle_deg,
                "Line pitch mm": leaf.figure.line_pitch_mm,
                "Stripes every mm": leaf.figure.cross_figure_period_mm,
                "Stripes L*": leaf.figure.cross_figure_strength,
                "Look at": flags_words(leaf.flags),
            }
            for leaf in leaves
        )
        _show_table(table)


def _show_photos(catalog: Catalog, bundle: Bundle, photos: Sequence[PhotoRecord]) -> None:
    refusals = catalog.refusals(bundle.bundle_id)
    with st.expander(f"Photographs ({len(photos)} in, {len(refusals)} refused)"):
        if refusals:
            st.html(refused_html([(refusal.file, refusal.reason) for refusal in refusals]))
        if photos:
            table = pd.DataFrame(
                {
                    "Number": int(photo.photo_id),
                    "File": photo.shot.file,
                    "Shows": shot_words(photo.shot),
                    "Look at": flags_words(photo.reading.flags),
                    "Taken": (photo.reading.taken_at or "").replace("T", " "),
                }
                for photo in photos
            )
            _show_table(table)


show()
