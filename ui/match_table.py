"""A match to look at closely and to lay otherwise: leaves moved, swapped, begun another way."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st

from catalog.match_preview import MatchPreview
from catalog.surroundings import Scene
from vision.laying import shows_other_face
from vision.picture_file import PictureKind, encode_picture
from vision.piece import middle_of
from vision.shift_room import shift_room
from vision.shot import Laid

_FOLDER = Path(__file__).parent / "theme"

_HTML = """
<div class="match-table">
  <div class="stage" tabindex="0" role="application"><img alt="" draggable="false"><svg></svg></div>
  <div class="tools">
    <span><button type="button" data-act="in" aria-label="Come nearer">+</button>
      <button type="button" data-act="out" aria-label="Step back">&minus;</button>
      <button type="button" data-act="fit">Whole</button>
      <button type="button" data-act="moves" aria-pressed="false">Drag leaves</button></span>
    <span><button type="button" data-act="flip">Flip the centre</button>
      <button type="button" data-act="edge">Other edge first</button>
      <button type="button" data-act="again">All as it was</button></span>
  </div>
  <div class="tools">
    <span><b class="chosen-name">No leaf chosen</b>
      <button type="button" data-act="left">&#8592; Swap</button>
      <button type="button" data-act="right">Swap &#8594;</button>
      <button type="button" data-act="with" aria-pressed="false">Swap with ...</button></span>
    <span><button type="button" data-act="up" aria-label="Move up">&#8593;</button>
      <button type="button" data-act="down" aria-label="Move down">&#8595;</button>
      <select aria-label="Step"><option>1</option><option selected>5</option><option>25</option>
      </select>
      <label>down, mm <input type="number" step="0.1" aria-label="Moved down, mm"></label>
      <button type="button" data-act="zero">Put back</button></span>
  </div>
  <p class="said" role="status">Tap a leaf to choose it; with the keyboard, left and right arrows
    choose, up and down move it, with Shift left and right swap it.</p>
</div>
"""

_table = st.components.v2.component(
    "match_table",
    html=_HTML,
    css=(_FOLDER / "match_table.css").read_text(encoding="utf-8"),
    js=(_FOLDER / "match_table.js").read_text(encoding="utf-8"),
)
START_WORDS = {
    Laid.AS_LIES: "face up, left edge first, top end up",
    Laid.FACE_OVER: "turned over, right edge first, top end up",
    Laid.END_TURNED: "face up, right edge first, spun end for end",
    Laid.END_OVER: "turned over, left edge first, spun end for end",
}


@dataclass(frozen=True, slots=True)
class Arrangement:
    """How the leaves of a run are laid by hand."""

    order: tuple[str, ...]
    start: Laid = Laid.AS_LIES
    shifts_mm: tuple[tuple[str, float], ...] = ()

    @classmethod
    def told(cls, value: Mapping[str, Any]) -> Arrangement:
        """Return what the table told."""
        shifts = sorted((str(leaf), float(down)) for leaf, down in value["shifts"].items())
        return cls(tuple(map(str, value["order"])), Laid(value["start"]), tuple(shifts))


def arranged(labels: Sequence[str], *, key: str) -> Arrangement:
    """Return how the leaves of a run are to lie: as told by the table of that key, else as stacked.

    Parameters
    ----------
    labels : sequence of str
        The run, in log order.
    key : str
        Of the table; see `match_table`.
    """
    told = st.session_state.get(f"laid-{key}")
    if isinstance(told, Arrangement) and sorted(told.order) == sorted(labels):
        return told
    return Arrangement(tuple(labels))


def forget_arrangement(*, key: str) -> None:
    """Lay the leaves as they come from the stack."""
    st.session_state.pop(f"laid-{key}", None)


def match_table(
    preview: MatchPreview,
    laid: Arrangement,
    *,
    labels: Sequence[str],
    scene: Scene,
    key: str,
) -> None:
    """Show a match; what is done to it on screen is there in the next run, see `arranged`.

    Parameters
    ----------
    preview : MatchPreview
        As laid by ``laid``.
    laid : Arrangement
    labels : sequence of str
        The run in log order.
    scene : Scene
        What is drawn round the match.
    key : str
        Unique on the page.
    """
    name = f"table-{key}"

    def keep() -> None:
        told = st.session_state[name].arranged
        if told is not None:
            st.session_state[f"laid-{key}"] = Arrangement.told(told)

    data = _data(preview, laid, labels, scene)
    digest = hashlib.sha256(repr(data).encode()).hexdigest()
    _table(data={**data, "version": digest}, key=name, on_arranged_change=keep)


def _data(
    preview: MatchPreview, laid: Arrangement, labels: Sequence[str], scene: Scene
) -> dict[str, Any]:
    layout = preview.layout
    picture = encode_picture(preview.rgb, PictureKind.JPEG, half_colour=True)
    return {
        "picture": base64.b64encode(picture).decode("ascii"),
        "perMm": preview.px_per_mm,
        "unit": layout.unit,
        "length": layout.length_mm,
        "row": layout.is_one_row,
        "alt": preview.title,
        "box": list(scene.box),
        "scene": [{"path": one.path, "kind": one.kind} for one in scene.shapes],
        "pieces": [
            {
                "leaf": place.leaf,
                "points": [[round(x, 2), round(y, 2)] for x, y in place.outline_mm],
                "at": middle_of(place.outline_mm),
                "wide": place.width_mm,
                "angle": place.turned_deg,
                "turned": shows_other_face(place.laid),
            }
            for place in layout.placements
        ],
        "room": {
            leaf: [round(-up, 1), round(down, 1)]
            for leaf, (up, down) in shift_room(layout, preview.leaves, laid.shifts_mm).items()
        },
        "order": list(laid.order),
        "start": laid.start.value,
        "shifts": dict(laid.shifts_mm),
        "stock": list(labels),
    }
