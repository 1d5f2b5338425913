"""Two leaves laid on each other and shown in turn: what belongs together stands still."""

from __future__ import annotations

import base64
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import streamlit as st

from catalog.blinked_pair import LONG_PX, BlinkedPair, BlinkPictures
from ui.blink_words import leaf_words, pair_words

_FOLDER = Path(__file__).parent / "theme"

_HTML = """
<div class="blink">
  <p class="now"><i class="mark"></i><span></span></p>
  <div class="frame">
    <div class="stage" tabindex="0" role="group" aria-label="Two leaves at the same place. Space
      plays and pauses, Enter shows the other leaf, arrows move along, plus and minus zoom">
      <canvas role="img" aria-label="The leaf named above"></canvas></div>
    <p class="ends flat"><span>&#9664; top end</span><span>right edge above</span>
      <span>bottom end &#9654;</span></p>
    <p class="ends tall"><span>&#9650; top end above</span><span>bottom end below &#9660;</span></p>
  </div>
  <div class="tools">
    <span><button type="button" data-act="play" class="play">Play</button>
      <button type="button" data-act="step">Show the other</button></span>
    <span><button type="button" data-act="slower">Slower</button><b class="pace"></b>
      <button type="button" data-act="faster">Faster</button></span>
    <span>Look by <button type="button" data-mode="blink">Blinking</button>
      <button type="button" data-mode="slide">Sliding a line</button>
      <button type="button" data-mode="stripes">Stripes</button></span>
    <label class="line">Line <input type="range" data-range="line" min="0" max="1000" value="500"
      aria-label="Place of the line between the two leaves"></label>
  </div>
  <div class="tools">
    <span>Zoom <button type="button" data-act="farther" aria-label="Farther">&minus;</button>
      <button type="button" data-act="nearer" aria-label="Nearer">+</button></span>
    <label>Along the leaf <input type="range" data-range="along" min="0" max="1000" value="500"
      aria-label="Which stretch of the leaf is seen"></label>
    <span class="seen"></span>
  </div>
  <p class="said" role="status"></p>
  <ul class="words"></ul>
  <p class="keys">With the picture chosen: Space plays and pauses, Enter shows the other leaf,
    arrows move along, + and &minus; zoom.</p>
</div>
"""

_blink = st.components.v2.component(
    "leaf_blink",
    html=_HTML,
    css=(_FOLDER / "leaf_blink.css").read_text(encoding="utf-8"),
    js=(_FOLDER / "leaf_blink.js").read_text(encoding="utf-8"),
)
LEAST_STRETCH = 0.01
NO_BREAK = "\N{NO-BREAK SPACE}"


def leaf_blink(
    pair: BlinkedPair,
    paint: Callable[[float, float], BlinkPictures],
    *,
    name: str,
    key: str,
) -> None:
    """Show two leaves in turn; finer pictures of a stretch are painted when it is looked at.

    Parameters
    ----------
    pair : BlinkedPair
    paint : callable
        Returns both leaves between two shares of the frame's length.
    name : str
        Names the pair and its pictures; another name begins anew.
    key : str
        Unique on the page.
    """
    seen = f"{key}-seen"

    def note() -> None:
        wanted = st.session_state[key].wanted
        if wanted is not None:
            st.session_state[seen] = (name, _stretch(wanted))

    of_pair, stretch = st.session_state.get(seen, (name, None))
    sheets = [_sheet(paint(0.0, 1.0))]
    if of_pair == name and stretch is not None:
        sheets.append(_sheet(paint(*stretch)))
    data: dict[str, Any] = {
        "pair": name,
        "version": f"{name} {stretch if len(sheets) > 1 else ''}",
        "leaves": [
            {"label": label, "words": leaf_words(label, laid)}
            for label, laid in zip(pair.labels, pair.laid, strict=True)
        ],
        "length": pair.frame.length,
        "width": pair.frame.width,
        "unit": pair.unit,
        "finest": pair.finest,
        "longPx": LONG_PX,
        "sheets": sheets,
        "words": [_unbroken(words) for words in pair_words(pair)],
    }
    _blink(data=data, key=key, on_wanted_change=note)


def _unbroken(words: str) -> str:
    """Return words whose numbers stay with their units at the end of a line."""
    return words.replace(" %", f"{NO_BREAK}%").replace(" mm", f"{NO_BREAK}mm")


def _stretch(wanted: Sequence[Any]) -> tuple[float, float]:
    """Return a stretch asked for, kept within the leaf."""
    start, end = (min(1.0, max(0.0, float(share))) for share in wanted)
    start = min(start, 1.0 - LEAST_STRETCH)
    return start, max(end, start + LEAST_STRETCH)


def _sheet(pictures: BlinkPictures) -> dict[str, Any]:
    return {
        "name": f"{pictures.start} {pictures.end}",
        "from": pictures.start,
        "to": pictures.end,
        "perUnit": pictures.px_per_mm,
        "pictures": [base64.b64encode(one).decode("ascii") for one in pictures.jpegs()],
    }
