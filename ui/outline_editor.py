"""A leaf's outline over its photograph, with corners to drag, by mouse, finger or keyboard.

Between two corners the found edge keeps its shape: dragging a corner carries the edge beside it
along, less and less toward the next corner. A corner taken away leaves a straight edge.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import streamlit as st

_FOLDER = Path(__file__).parent / "theme"

_HTML = """
<div class="editor">
  <div class="stage">
    <img alt="" draggable="false">
    <svg><path class="shade"/><path class="halo"/><path class="line"/>
      <g class="others"></g><path class="grip"/><g class="corners"></g></svg>
  </div>
  <div class="tools">
    <span class="near">
      <button type="button" data-act="in" aria-label="Come nearer">+</button>
      <button type="button" data-act="out" aria-label="Step back">&minus;</button>
      <button type="button" data-act="fit">Whole</button>
    </span>
    <button type="button" data-act="remove" disabled>Remove point</button>
    <button type="button" data-act="again" disabled>Forget my changes</button>
    <button type="button" data-act="save" class="save" disabled>Save outline</button>
  </div>
  <p class="said" role="status"></p>
</div>
"""

_editor = st.components.v2.component(
    "outline_editor",
    html=_HTML,
    css=(_FOLDER / "outline_editor.css").read_text(encoding="utf-8"),
    js=(_FOLDER / "outline_editor.js").read_text(encoding="utf-8"),
)


def outline_editor(
    picture: bytes,
    *,
    outline: Sequence[tuple[float, float]],
    corners: Sequence[int],
    size_px: tuple[int, int],
    name: str,
    key: str,
) -> list[tuple[float, float]] | None:
    """Show the editor; return the outline in the run after "Save outline" was pressed, else None.

    Parameters
    ----------
    picture : bytes
        The photograph as JPEG, of any size.
    outline : sequence of (x, y)
        Full-size photo pixels.
    corners : sequence of int
        Which points can be dragged from the start.
    size_px : tuple of int
        Width and height of the full-size photograph.
    name : str
        Which leaf, in words.
    key : str
        Unique on the page; another key forgets what was not saved.
    """
    data: dict[str, Any] = {
        "picture": base64.b64encode(picture).decode("ascii"),
        "outline": [list(point) for point in outline],
        "corners": list(corners),
        "size": list(size_px),
        "name": name,
        "version": key,
    }
    result = _editor(data=data, key=key, on_saved_change=lambda: None)
    saved = result.saved
    return None if saved is None else [(float(x), float(y)) for x, y in saved]
