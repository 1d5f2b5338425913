"""Any two leaves of the film strip looked at in turn, below it."""

from __future__ import annotations

from functools import partial
from typing import Any

import streamlit as st

from catalog.blinked_pair import BlinkedPair, BlinkPictures, blink_pair, paint_pair
from catalog.catalog import Catalog
from catalog.records import BundleId
from ui.leaf_blink import leaf_blink
from ui.plain_markdown import plain
from vision.shot import Laid

Pair = tuple[str, str]


@st.fragment
def show_blink(
    catalog: Catalog,
    bundle_id: BundleId,
    pair: Pair,
    *,
    lies: dict[str, Laid],
    pictures: tuple[object, ...],
) -> None:
    """Show two leaves of a bundle in turn, or say how to choose them.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    pair : tuple of str
        Labels, as they follow each other in the strip.
    lies : dict
        How each leaf lies against most.
    pictures : tuple
        Names the pictures of the bundle: others are registered anew.
    """
    st.subheader(f"Leaves {plain(pair[0])} and {plain(pair[1])} in turn", anchor=False)
    named = (*pictures, bundle_id, pair, lies[pair[0]], lies[pair[1]])
    with st.spinner("Laying one leaf on the other ..."):
        laid = _registered(catalog, bundle_id, pair, (lies[pair[0]], lies[pair[1]]), named)
    leaf_blink(laid, partial(_painted, laid, named), name=_name(named), key="leaf-blink")


def _name(named: tuple[Any, ...]) -> str:
    return f"{hash(named):x}"


@st.cache_resource(max_entries=24, show_spinner=False)
def _registered(
    _catalog: Catalog,
    _bundle_id: BundleId,
    _pair: Pair,
    _laid: tuple[Laid, Laid],
    named: tuple[Any, ...],  # noqa: ARG001
) -> BlinkedPair:
    """Return a pair laid on each other; found once for the same pictures."""
    return blink_pair(_catalog, _bundle_id, _pair, laid=_laid)


@st.cache_resource(max_entries=16, show_spinner=False)
def _painted(
    _pair: BlinkedPair,
    named: tuple[Any, ...],  # noqa: ARG001
    start: float,
    end: float,
) -> BlinkPictures:
    return paint_pair(_pair, start=start, end=end)
