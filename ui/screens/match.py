"""Leaves laid in a match, as they would look under one lamp or in the light of a room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial

import streamlit as st

from catalog.catalog import Catalog
from catalog.cut_list import cut_list_csv
from catalog.joint_words import trim_words
from catalog.leaf_views import leaf_views
from catalog.light_asked import LightAsked
from catalog.match_chart import match_chart
from catalog.match_preview import MatchPreview, preview_match
from catalog.rails_layout import RailsPaper
from catalog.records import Bundle
from catalog.slanted_light import judged_in_rooms
from catalog.surroundings import Scene, file_in_place, surround
from catalog.template_sheets import MOST_SHEETS, print_templates, template_sheets
from catalog.template_words import CAUTIONS
from ui.bundle_choice import choose_bundle
from ui.face_entry import choose_match, choose_surroundings, enter_face, enter_joints
from ui.lamp_choice import choose_lamp
from ui.leaf_film import joint_line_html, notes_html
from ui.leaf_run import choose_run
from ui.light_rooms import choose_room, enter_light, free_html, rooms_html
from ui.match_table import START_WORDS, Arrangement, arranged, forget_arrangement, match_table
from ui.plain_markdown import plain
from ui.print_size import full_resolution_px, size_words
from ui.relit_view import show_relit
from ui.settings_file import read_settings
from ui.shared_catalog import shared_catalog
from vision.errors import MatchNotPossible, RoomNotPossible
from vision.joint_cut import JointLimits
from vision.match_layout import FaceWish
from vision.picture_file import PictureKind

PREVIEW_PX = 1800


def show() -> None:
    """Show the match of the chosen leaves."""
    catalog = shared_catalog()
    st.title("Match", anchor=False)
    bundle = choose_bundle(catalog)
    if bundle is None:
        return
    labels = choose_run(catalog, bundle)
    if not labels:
        return
    match_place, lamp_place = st.columns(2)
    with match_place:
        match = choose_match()
    with lamp_place:
        lamp_switch = st.container()
        room = choose_room()
    with lamp_switch:
        lamp = choose_lamp(is_off=bool(room))
    asked = enter_light(room) if room else None
    wish = enter_face(match)
    joints = enter_joints(match)
    around, person = choose_surroundings()
    key = f"{bundle.bundle_id}-{match.value}"
    laid = arranged(labels, key=key)
    wish = replace(wish, start=laid.start, shifts_mm=laid.shifts_mm)
    with st.expander("Every match, drawn"):
        st.image(match_chart())
    try:
        preview = preview_match(
            catalog,
            bundle.bundle_id,
            laid.order,
            match=match,
            lamp=lamp,
            long_px=PREVIEW_PX,
            wish=wish,
            joints=joints,
            asked=asked,
            settings=read_settings().vision,
        )
        scene = surround(preview.layout, around, person=person)
    except (MatchNotPossible, RoomNotPossible) as refusal:
        st.warning(str(refusal))
        if laid != Arrangement(tuple(labels)) and st.button("Lay the leaves as they come"):
            forget_arrangement(key=key)
            st.rerun()
        return
    match_table(preview, laid, labels=labels, scene=scene, key=key)
    _tell(preview, laid)
    _tell_rooms(catalog, bundle, preview, asked)
    show_relit(catalog, bundle.bundle_id, preview.layout)
    _offer_downloads(catalog, bundle, laid.order, preview, (wish, joints, asked))
    if scene.shapes:
        _offer_view(preview, scene)


def _tell(preview: MatchPreview, laid: Arrangement) -> None:
    size = size_words(preview.layout)
    first = f"Leaf {plain(laid.order[0])} begins: {START_WORDS[laid.start]}."
    st.caption(f"{preview.title}, {size}. {first}")
    st.html(joint_line_html(preview.joints))
    if not preview.shows_light_and_dark:
        st.warning("Light and dark are not shown in this picture.")
    st.html(notes_html(preview.notes))
    trims = trim_words(preview.layout)
    if trims:
        with st.expander("Where each joint is cut"):
            st.html(notes_html(trims))


def _tell_rooms(
    catalog: Catalog, bundle: Bundle, preview: MatchPreview, asked: LightAsked | None
) -> None:
    """Show the light asked for, and on demand what the match shows in every light with a name."""
    length = preview.layout.length_mm if preview.layout.unit == "mm" else None
    every = bool(preview.layout.joints) and st.toggle(
        "This match in every light", key="every-light", bind="query-params"
    )
    if asked is not None and not (every and asked.name):
        st.html(free_html(asked, length_mm=length))
    if not every:
        return
    by_room = judged_in_rooms(
        preview.layout,
        preview.leaves,
        leaf_views(catalog.photos(bundle.bundle_id)),
        read_settings().vision,
    )
    if not by_room:
        st.info(
            "In other lights nothing can be told: every leaf takes a photograph under lamp A and "
            "one under lamp B."
        )
        return
    chosen = "" if asked is None else asked.name
    st.html(rooms_html(by_room, chosen=chosen, length_mm=length))


def _offer_view(preview: MatchPreview, scene: Scene) -> None:
    st.download_button(
        "Download with what is drawn round it (PNG)",
        lambda: file_in_place(preview, scene, PictureKind.PNG),
        file_name=f"{preview.layout.match}-in-place.png",
        mime="image/png",
        on_click="ignore",
    )


def _offer_downloads(
    catalog: Catalog,
    bundle: Bundle,
    labels: Sequence[str],
    preview: MatchPreview,
    asked: tuple[FaceWish, JointLimits | None, LightAsked | None],
) -> None:
    long_px = full_resolution_px(preview.layout, catalog.leaves(bundle.bundle_id))
    match, lamp = preview.layout.match, preview.lamp
    stem = f"{match}-{labels[0]}-{labels[-1]}"
    light = f"lamp-{lamp}" if asked[2] is None else asked[2].name or "placed-lamp"

    def print_size(kind: PictureKind) -> bytes:
        return preview_match(
            catalog,
            bundle.bundle_id,
            labels,
            match=match,
            lamp=lamp,
            long_px=long_px,
            wish=asked[0],
            joints=asked[1],
            asked=asked[2],
        ).file(kind)

    for kind, ending in ((PictureKind.PNG, "png"), (PictureKind.TIFF, "tif")):
        st.download_button(
            f"Download at full resolution, {size_words(preview.layout)} ({kind.name})",
            partial(print_size, kind),
            file_name=f"{stem}-{light}.{ending}",
            mime=f"image/{kind.value}",
            on_click="ignore",
        )
    if preview.layout.unit != "mm":
        return
    with st.expander("Before cutting and pressing"):
        st.html(notes_html(CAUTIONS))

    def templates() -> bytes:
        return print_templates(
            preview.layout,
            preview.cut_pieces(),
            paper=RailsPaper.A4,
            on=datetime.now().astimezone().date(),
        )

    if template_sheets(preview.cut_pieces(), RailsPaper.A4) <= MOST_SHEETS:
        st.download_button(
            "Download templates at 1:1, A4 (PDF)",
            templates,
            file_name=f"{stem}-templates.pdf",
            mime="application/pdf",
            on_click="ignore",
        )
    st.download_button(
        "Download the cut list (CSV)",
        cut_list_csv(preview.layout, preview.cut_pieces()),
        file_name=f"{stem}-cuts.csv",
        mime="text/csv",
        on_click="ignore",
    )


show()
