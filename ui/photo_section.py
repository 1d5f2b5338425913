"""One photograph of a bundle on screen: its quality sheet, and its outline to correct by hand."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any

import streamlit as st

from catalog.catalog import Catalog
from catalog.errors import CatalogError
from catalog.outline_correction import (
    correct_outline,
    found_outline,
    leaf_name,
    standing_outline,
    undo_outline,
)
from catalog.photo_picture import quality_sheet_of, upright_picture
from catalog.records import OutlineCorrection, PhotoId, PhotoRecord
from catalog.set_words import file_word, size_mm
from catalog.standing_outlines import standing_acts
from ui.light_table import light_table
from ui.outline_editor import outline_editor
from ui.plain_markdown import plain
from ui.settings_file import read_settings
from ui.words import history_line, shot_words
from vision.errors import VisionError
from vision.hand_outline import corner_points
from vision.picture_file import PictureKind, encode_picture

EDITOR_PX = 2000
"""Long side of the photograph under the outline: an edge can be set to a pixel or two."""
VIEWS = ("Quality sheet", "Outline")
_DONE = "outline-done"
"""What the last change of an outline did, kept in the session over one new run."""


def show_photo(catalog: Catalog, photos: Sequence[PhotoRecord]) -> None:
    """Show a chooser of photographs and, of the chosen one, sheet or outline."""
    if not photos:
        return
    st.subheader("One photograph", anchor=False)
    by_number = {int(photo.photo_id): photo for photo in photos}
    number = st.selectbox(
        "Photograph",
        list(by_number),
        index=None,
        placeholder="Choose one to see how far it can be trusted, or to correct its outline",
        format_func=lambda one: f"{by_number[one].shot.file} ({shot_words(by_number[one].shot)})",
        key=f"photo-{photos[0].bundle_id}",
    )
    if number is None:
        return
    photo = by_number[number]
    view = st.segmented_control(
        "Show",
        VIEWS,
        default=VIEWS[0],
        required=True,
        key="photo-view",
        label_visibility="collapsed",
    )
    if view == VIEWS[0]:
        _show_sheet(catalog, photo)
    elif photo.shot.blank:
        st.info("This photograph shows the bare board; there is no leaf to outline.")
    else:
        _show_outline(catalog, photo)


def _show_sheet(catalog: Catalog, photo: PhotoRecord) -> None:
    sheet = quality_sheet_of(catalog, photo.photo_id, settings=read_settings().vision)
    file = io.BytesIO()
    sheet.save(file, "PNG")
    words = f"Quality sheet of {photo.shot.file}"
    light_table(file.getvalue(), kind="image/png", alt=words, key=f"sheet-{photo.photo_id}")
    st.download_button(
        "Download the sheet (PNG)",
        file.getvalue(),
        file_name=f"quality-{file_word(photo.shot.file)}.png",
        mime="image/png",
        on_click="ignore",
    )


def _show_outline(catalog: Catalog, photo: PhotoRecord) -> None:
    side = 0
    if len(photo.shot.leaves) > 1:
        names = [leaf_name(photo, at) for at in range(len(photo.shot.leaves))]
        chosen = st.segmented_control(
            "Leaf", names, default=names[0], required=True, key=f"side-{photo.photo_id}"
        )
        side = names.index(chosen)
    history = catalog.outline_corrections(photo.photo_id)
    st.caption(_explained(catalog, photo, side))
    who = st.text_input(
        "Your name, for the record", key="outline-who", max_chars=60, width=320
    ).strip()
    told = st.container()
    _tell_done(told)
    outline = photo.reading.leaves[side].outline
    settings = read_settings().vision
    rgb = upright_picture(catalog, photo, long_px=EDITOR_PX, settings=settings)
    saved = outline_editor(
        encode_picture(rgb, PictureKind.JPEG, quality=85),
        outline=outline,
        corners=corner_points(outline),
        size_px=(photo.reading.width_px, photo.reading.height_px),
        name=leaf_name(photo, side),
        key=f"outline-{photo.photo_id}-{side}-{len(history)}",
    )
    _show_history(catalog, photo, side, history, told=told, who=who)
    if saved is not None:
        _act(told, photo, side, lambda: correct_outline(
            catalog, photo.photo_id, saved, side=side, settings=settings, who=who))  # fmt: skip


def _explained(catalog: Catalog, photo: PhotoRecord, side: int) -> str:
    name = leaf_name(photo, side)
    drawn = standing_outline(catalog, photo.photo_id, side=side) is not None
    stands = "drawn by hand" if drawn else "as the program found it"
    size = size_mm(photo.reading.leaves[side].size)
    return plain(
        f"Outline of {name}, {stands}: {size}. Drag its corners to the edge of the leaf and save: "
        "the leaf is measured again, and the bundle with it. The photograph stays as it is."
    )


def _show_history(
    catalog: Catalog,
    photo: PhotoRecord,
    side: int,
    history: Sequence[OutlineCorrection],
    *,
    told: Any,
    who: str,
) -> None:
    """Show who did what, with the ways back."""
    settings = read_settings().vision
    number = photo.photo_id
    acts = standing_acts(history, side)
    with st.container(horizontal=True):
        back = st.button("Back to the found outline", disabled=not acts or acts[-1].points is None)
        undo = st.button("Undo the last change", disabled=not acts)
    if history:
        lines = [f"- {plain(history_line(one, photo))}" for one in reversed(history)]
        st.markdown("\n".join(["**What was done to this photograph's outline**", "", *lines]))
    if back:
        _act(told, photo, side, lambda: found_outline(
            catalog, number, side=side, settings=settings, who=who))  # fmt: skip
    if undo:
        _act(told, photo, side, lambda: undo_outline(
            catalog, number, side=side, settings=settings, who=who))  # fmt: skip


def _act(told: Any, photo: PhotoRecord, side: int, act: Callable[[], PhotoRecord]) -> None:
    """Do one thing to the outline, then show the bundle anew; a refusal leaves all as it was."""
    try:
        with told, st.spinner("Measuring the leaf again ..."):
            after = act()
    except (CatalogError, VisionError) as error:
        told.error(plain(str(error)))
        return
    before, now = (size_mm(one.reading.leaves[side].size) for one in (photo, after))
    words = f"Measured again: {leaf_name(photo, side)} is {now} now; it was {before}."
    st.session_state[_DONE] = (photo.photo_id, words)
    st.rerun()


def _tell_done(told: Any) -> None:
    done: tuple[PhotoId, str] | None = st.session_state.pop(_DONE, None)
    if done is not None:
        told.success(plain(done[1]))
