"""A stack as a strip of leaves to be dragged into order, by mouse, finger or keyboard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import streamlit as st

_FOLDER = Path(__file__).parent / "theme"

_HTML = """
<div class="stack">
  <div class="tools top">
    <span>Show <button type="button" data-act="proposed">Proposed order</button>
      <button type="button" data-act="present">Order as it lies</button></span>
    <span class="legend"><i class="mark sure"></i>sure <i class="mark likely"></i>likely
      <i class="mark doubtful"></i>doubtful <i class="mark unknown"></i>not neighbours as
      proposed</span>
  </div>
  <ol class="strip" aria-label="Leaves in order. Arrows left and right move the chosen leaf"></ol>
  <div class="tools">
    <span><b class="chosen-name">No leaf chosen</b>
      <button type="button" data-act="left" aria-label="Move left">&#8592;</button>
      <button type="button" data-act="right" aria-label="Move right">&#8594;</button>
      <button type="button" data-act="put">Put it where proposed</button></span>
    <span><button type="button" data-act="back">Step back</button>
      <button type="button" data-act="save" class="save">Keep this order</button></span>
  </div>
  <p class="said" role="status"></p>
</div>
"""

_strip = st.components.v2.component(
    "order_strip",
    html=_HTML,
    css=(_FOLDER / "order_strip.css").read_text(encoding="utf-8"),
    js=(_FOLDER / "order_strip.js").read_text(encoding="utf-8"),
)


@dataclass(frozen=True, slots=True)
class StripLeaf:
    """One leaf of the strip."""

    label: str
    picture: str
    """Address of its picture."""
    lies: str
    """How it lies against most, in words; empty if like most."""


@dataclass(frozen=True, slots=True)
class StripJoint:
    """Two neighbours as proposed."""

    kind: str
    """``sure``, ``likely`` or ``doubtful``: its pattern."""
    words: str
    """The same with the chance."""
    gap: str
    """What is perhaps missing between them, in words; empty if nothing is."""


@dataclass(frozen=True, slots=True)
class StripAct:
    """What was just done on the strip."""

    kept: list[str] | None = None
    """Labels in order, in the run after "Keep this order" was pressed."""
    looked: tuple[str, str] | None = None
    """Two neighbours, in the run after their joint was chosen."""


def order_strip(
    proposed: Sequence[StripLeaf],
    joints: Sequence[StripJoint],
    *,
    present: Sequence[str],
    looked: tuple[str, str] | None,
    key: str,
) -> StripAct:
    """Show the strip and return what was just done on it.

    Parameters
    ----------
    proposed : sequence of StripLeaf
        In proposed order.
    joints : sequence of StripJoint
        One between each two of ``proposed``.
    present : sequence of str
        Labels as the leaves lie now.
    looked : tuple of str or None
        The joint that is looked at.
    key : str
        Unique on the page; another key forgets what was not kept.
    """
    data = {
        "leaves": [asdict(leaf) for leaf in proposed],
        "joints": [asdict(joint) for joint in joints],
        "present": list(present),
        "looked": looked,
        "version": key,
    }
    done = _strip(data=data, key=key, on_kept_change=lambda: None, on_looked_change=lambda: None)
    return StripAct(
        None if done.kept is None else [str(label) for label in done.kept],
        None if done.looked is None else (str(done.looked[0]), str(done.looked[1])),
    )
