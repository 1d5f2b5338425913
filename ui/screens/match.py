"""Leaves laid in a match, as they would look under one lamp."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from catalog.catalog import Catalog
from catalog.match_preview import MatchPreview, preview_match
from catalog.records import Bundle, BundleId
from ui.bundle_choice import choose_bundle
from ui.lamp_choice import choose_lamp
from ui.leaf_film import joint_line_html, notes_html
from ui.leaf_run import choose_run
from ui.light_table import light_table
from ui.print_size import full_resolution_px, size_words
from ui.shared_catalog import shared_catalog
from vision.match_layout import Match
from vision.picture_file import PictureKind, encode_picture
from vision.shot import Lamp

PREVIEW_PX = 1800
MATCH_WORDS = {Match.BOOK: "Book match", Match.SLIP: "Slip match"}


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
        match = Match(
            st.segmented_control(
                "Match",
                list(MATCH_WORDS),
                format_func=MATCH_WORDS.__getitem__,
                default=Match.BOOK,
                required=True,
                key="match",
                bind="query-params",
            )
        )
    with lamp_place:
        lamp = choose_lamp()
    _show_preview(catalog, bundle, labels, match=match, lamp=lamp)


def _show_preview(
    catalog: Catalog, bundle: Bundle, labels: Sequence[str], *, match: Match, lamp: Lamp
) -> None:
    preview = preview_match(
        catalog, bundle.bundle_id, labels, match=match, lamp=lamp, long_px=PREVIEW_PX
    )
    picture = encode_picture(preview.captioned(), PictureKind.JPEG)
    light_table(picture, kind="image/jpeg", alt=preview.title, key="preview")
    st.html(joint_line_html(preview.joints))
    if not preview.shows_light_and_dark:
        st.warning("Light and dark are not shown in this picture.")
    st.html(notes_html(preview.notes))
    _offer_download(catalog, bundle.bundle_id, labels, preview)


def _offer_download(
    catalog: Catalog, bundle_id: BundleId, labels: Sequence[str], preview: MatchPreview
) -> None:
    long_px = full_resolution_px(preview.layout, catalog.leaves(bundle_id))

    def print_size() -> bytes:
        return preview_match(
            catalog,
            bundle_id,
            labels,
            match=preview.layout.match,
            lamp=preview.lamp,
            long_px=long_px,
        ).file(PictureKind.PNG)

    st.download_button(
        f"Download at full resolution, {size_words(preview.layout)} (PNG)",
        print_size,
        file_name=f"{preview.layout.match}-{labels[0]}-{labels[-1]}-lamp-{preview.lamp}.png",
        mime="image/png",
        on_click="ignore",
    )


show()
