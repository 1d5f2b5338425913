"""Two mirrors standing on a leaf, and live beside it the rosette they show."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import streamlit as st

from catalog.wedge_pictures import WedgePictures
from vision.wedge import Wedge
from vision.wedge_follow import Followed

_FOLDER = Path(__file__).parent / "theme"
PIECES = (6, 8, 10, 12, 16)

_HTML = (
    """
<div class="mirrors">
  <div class="both">
    <div class="stage" tabindex="0" role="application"
      aria-label="Leaf with a wedge. Arrows move it, brackets turn it, plus and minus size it">
      <img alt="" draggable="false">
      <svg><path class="shade"/><path class="wedge"/><path class="first"/><path class="second"/>
        <g class="tip"><circle r="5"/></g>
        <g class="grip"><circle class="reach" r="22"/><circle class="dot" r="9"/></g></svg>
    </div>
    <div class="rosette"><canvas role="img"></canvas></div>
  </div>
  <div class="tools">
    <span>Wedges """
    + "".join(f'<button type="button" data-pieces="{count}">{count}</button>' for count in PIECES)
    + """</span>
    <span>Turn <button type="button" data-act="left" aria-label="Turn left">&#8634;</button>
      <button type="button" data-act="right" aria-label="Turn right">&#8635;</button></span>
    <span>Size <button type="button" data-act="smaller" aria-label="Smaller">&minus;</button>
      <button type="button" data-act="larger" aria-label="Larger">+</button></span>
    <span><button type="button" data-act="hand">Other hand first</button></span>
  </div>
  <p class="numbers"></p>
  <p class="said" role="status"></p>
</div>
"""
)

_mirrors = st.components.v2.component(
    "two_mirrors",
    html=_HTML,
    css=(_FOLDER / "two_mirrors.css").read_text(encoding="utf-8"),
    js=(_FOLDER / "two_mirrors.js").read_text(encoding="utf-8"),
)


def two_mirrors(
    pictures: WedgePictures,
    wedge: Wedge,
    *,
    followed: Sequence[Followed],
    key: str,
) -> Wedge | None:
    """Show the mirrors; return the wedge in the run after it was moved, else None.

    Parameters
    ----------
    pictures : WedgePictures
        One leaf for all wedges, or one for each.
    wedge : Wedge
        Where the mirrors stand at first.
    followed : sequence of Followed
        One a leaf: by how much its figure lies off that of the first.
    key : str
        Unique on the page; another key forgets where the mirrors stood.
    """
    data: dict[str, Any] = {
        "picture": base64.b64encode(pictures.jpeg).decode("ascii"),
        "frames": [list(frame) for frame in pictures.frames],
        "names": list(pictures.labels),
        "perMm": pictures.px_per_mm,
        "shifts": [[one.across_mm, one.along_mm] for one in followed],
        "wedge": {
            "x": wedge.x_mm,
            "y": wedge.y_mm,
            "turn": wedge.turn_deg,
            "radius": wedge.radius_mm,
            "pieces": wedge.pieces,
            "booked": wedge.is_booked,
            "startsTurned": wedge.starts_turned,
        },
        "plain": st.query_params.get("painter") == "plain",
        "version": key,
    }
    placed = _mirrors(data=data, key=key, on_placed_change=lambda: None).placed
    if placed is None:
        return None
    return Wedge(
        float(placed["x"]),
        float(placed["y"]),
        turn_deg=float(placed["turn"]),
        radius_mm=float(placed["radius"]),
        pieces=int(placed["pieces"]),
        is_booked=bool(placed["booked"]),
        starts_turned=bool(placed["startsTurned"]),
    )
