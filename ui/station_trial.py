"""A photograph uploaded to a station: judged once, shown with its quality sheet."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from catalog.errors import CatalogError
from catalog.station_setting import Tried
from ui.plain_markdown import plain
from ui.settings_file import data_folder
from ui.station_view import verdict_html
from vision.errors import VisionError
from vision.shot_list import PHOTO_ENDINGS


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """What a photograph said; it stands until something else is typed or chosen."""

    about: tuple[object, ...]
    tried: Tried | None
    sheet: bytes
    """PNG."""
    refusal: str


def ask_photo(key: str) -> UploadedFile | None:
    """Ask for one photograph."""
    chosen: UploadedFile | None = st.file_uploader(
        "Photograph",
        type=[ending.removeprefix(".") for ending in sorted(PHOTO_ENDINGS)],
        key=key,
    )
    return chosen


def judge_upload(
    upload: UploadedFile,
    judge: Callable[[Path], Tried],
    *,
    typed: tuple[object, ...],
    key: str,
) -> Tried | None:
    """Judge an upload, once for all that was ``typed``, and show verdict, reasons and sheet.

    Returns None where the photograph is refused, which is then said.
    """
    about = (*typed, upload.file_id)
    judged: Judged | None = st.session_state.get(key)
    if judged is None or judged.about != about:
        with st.spinner("Reading the photograph"):
            judged = _judged(upload, judge, about)
        st.session_state[key] = judged
    if judged.tried is None:
        st.error(plain(judged.refusal))
        return None
    st.html(verdict_html(judged.tried.verdict))
    with st.expander("Quality sheet"):
        st.image(judged.sheet)
    return judged.tried


def _judged(
    upload: UploadedFile, judge: Callable[[Path], Tried], about: tuple[object, ...]
) -> Judged:
    uploads = data_folder() / "uploads"
    uploads.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=uploads) as place:
        photo = Path(place) / Path(upload.name).name
        photo.write_bytes(upload.getbuffer())
        try:
            tried = judge(photo)
        except (CatalogError, VisionError) as error:
            return Judged(about, None, b"", str(error))
    held = BytesIO()
    tried.sheet().save(held, "PNG")
    return Judged(about, tried, held.getvalue(), "")
