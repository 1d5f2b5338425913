"""A match under a lamp that is dragged, lit in the browser: by mouse, finger or keyboard."""

from __future__ import annotations

import hashlib
from pathlib import Path

import streamlit as st

from catalog.catalog import Catalog
from catalog.errors import LampFixed
from catalog.records import BundleId
from catalog.relit_match import relit_match
from catalog.relit_payload import relit_payload
from ui.plain_markdown import plain
from vision.layout import Layout

_FOLDER = Path(__file__).parent / "theme"

_HTML = """
<div class="relit">
  <div class="seen"><canvas></canvas><p class="beyond" hidden>Beyond the photographs</p></div>
  <div>
    <svg class="side" viewBox="0 0 400 248">
      <defs><pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse"
        patternTransform="rotate(45)"><path class="hatch" d="M0,0V7"/></pattern></defs>
      <path class="ray"/><g class="scene"></g>
      <g class="lamp" tabindex="0" role="slider" aria-label="The lamp from the side: arrow keys
        move it along the leaves and up and down">
        <circle class="reach" r="24"/><rect class="cap" x="-4" y="-16" width="8" height="7"/>
        <circle class="bulb" r="10"/>
      </g>
    </svg>
    <p class="key"><span><svg viewBox="0 0 26 16"><rect width="26" height="16"
      fill="url(#hatch)"/></svg>beyond the photographs</span><span>Drag the lamp, or use the arrow
      keys (with Shift: further).</span></p>
    <div class="marks"></div>
    <div class="told">
      <p class="state" role="status"></p><p class="why"></p><p class="stands"></p>
      <p class="how">Lamp and eye stand over the middle line of each leaf, as in its photographs.
      That light falls off toward the far end is left out.</p>
    </div>
  </div>
</div>
"""

_view = st.components.v2.component(
    "relit_view",
    html=_HTML,
    css=(_FOLDER / "relit_view.css").read_text(encoding="utf-8"),
    js=(_FOLDER / "relit_view.js").read_text(encoding="utf-8"),
)


def show_relit(catalog: Catalog, bundle_id: BundleId, layout: Layout) -> None:
    """Offer to move the lamp over a match; show it, or say which photographs it takes.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    layout : Layout
        Of the match as previewed.
    """
    if not st.toggle("Move the lamp", key="move-lamp", bind="query-params"):
        return
    try:
        with st.spinner("Reading the slope of the fibres, place by place ..."):
            match = relit_match(catalog, bundle_id, layout)
    except LampFixed as error:
        st.info(plain(str(error)))
        return
    payload = relit_payload(match)
    digest = hashlib.sha256(repr(payload).encode()).hexdigest()
    _view(data={**payload, "version": digest}, key="relit")
