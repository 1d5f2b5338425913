"""Order: the stack in the order that its drawing tells, to be corrected by hand and kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import streamlit as st

from catalog.catalog import Catalog
from catalog.errors import CatalogError
from catalog.order_correction import set_order, standing_orders, undo_order
from catalog.records import BundleId, LeafCard, OrderAct, OrderCorrection, PhotoRecord
from catalog.stored_stack import stored_stack
from ui.blink_view import show_blink
from ui.bundle_choice import choose_bundle
from ui.bundle_view import picture_address
from ui.leaf_film import notes_html
from ui.order_strip import StripJoint, StripLeaf, order_strip
from ui.plain_markdown import plain
from ui.settings_file import read_settings
from ui.shared_catalog import shared_catalog
from ui.words import LAID_WORDS, sure_words
from vision.order_leaves import LEAST_LEAVES, order_leaves
from vision.order_words import GAP_TOLD, order_words
from vision.shot import Laid
from vision.stack_order import StackOrder

_DONE, _LOOKED = "order-done", "order-looked"
ACT_WORDS = {OrderAct.SET: "order set", OrderAct.UNDONE: "last order taken back"}


def show() -> None:
    """Show the proposed order of a bundle, and keep the one that is made of it."""
    catalog = shared_catalog()
    st.title("Order", anchor=False)
    st.caption(
        "Leaves out of log order, turned or missing: what the drawing of the wood says. Nothing "
        "is changed until you keep an order."
    )
    bundle = choose_bundle(catalog)
    if bundle is None:
        return
    number = bundle.bundle_id
    cards = catalog.leaves(number)
    if len(cards) < LEAST_LEAVES:
        st.info("At least three leaves are needed to tell an order.")
        return
    told = st.container()
    _tell_done(told, number)
    photos = catalog.photos(number)
    pictures = tuple(sorted(one.flat for photo in photos for one in photo.pictures))
    with st.spinner("Comparing every two leaves ..."):
        names = (str(catalog.pictures.place), pictures)
        found = _found_order(catalog, photos, names)
    present = [card.label for card in cards]
    st.html(notes_html(order_words(present, found)))
    done = catalog.order_corrections(number)
    act = order_strip(
        *_strip_of(found, cards),
        present=present,
        looked=_looked(number, present),
        key=f"order-{number}-{len(done)}",
    )
    if act.looked is not None:
        st.session_state[_LOOKED] = (number, act.looked)
    pair = _looked(number, present)
    if pair is None:
        st.caption(
            "*Blink* at a joint shows its two leaves in turn at one place: figure that belongs "
            "together stands still."
        )
    else:
        show_blink(catalog, number, pair, lies=found.against_most(), pictures=names)
    st.caption(
        "Which end of the stack was the top no photograph shows; it is shown the way that asks "
        "for fewer moves. A missing leaf is a hint, never a finding. Turned leaves are told in "
        "words only: the catalogue keeps each leaf as it was photographed."
    )
    who = st.text_input("Your name, for the record", key="order-who", max_chars=60, width=320)
    settings = read_settings().vision
    undo = st.button("Undo the last order kept", disabled=not standing_orders(done))
    _show_history(done)
    if (kept := act.kept) is not None:
        _act(told, number, lambda: set_order(
            catalog, number, kept, settings=settings, who=who.strip(), before=present))  # fmt: skip
    elif undo:
        _act(told, number, lambda: undo_order(
            catalog, number, settings=settings, who=who.strip()))  # fmt: skip


@st.cache_resource(max_entries=16, show_spinner=False)
def _found_order(
    _catalog: Catalog,
    _photos: Sequence[PhotoRecord],
    pictures: tuple[object, ...],  # noqa: ARG001
) -> StackOrder:
    """Return the order that the pictures tell; found once for the same ``pictures``."""
    return order_leaves(list(stored_stack(_catalog, _photos)))


def _strip_of(
    found: StackOrder, cards: Sequence[LeafCard]
) -> tuple[list[StripLeaf], list[StripJoint]]:
    """Return the strip, from the end that agrees better with how the leaves lie now."""
    card = {one.label: one for one in cards}
    placed = list(found.leaves)
    lies = found.against_most()
    sure = [leaf.confidence for leaf in placed]
    joints = []
    for at in range(len(placed) - 1):
        words = sure_words(min(sure[at], sure[at + 1]))
        is_gap = found.gaps[at].likelihood >= GAP_TOLD
        told = words.replace(" %", "\N{NO-BREAK SPACE}%")
        joints.append(StripJoint(words.split()[0], told, "leaf missing?" if is_gap else ""))
    rising = sum(
        (at - (len(placed) - 1) / 2) * card[leaf.name].position for at, leaf in enumerate(placed)
    )
    if rising < 0:
        placed.reverse()
        joints.reverse()
    leaves = [
        StripLeaf(
            leaf.name,
            picture_address(card[leaf.name].pictures.thumb),
            _lies(lies[leaf.name]),
        )
        for leaf in placed
    ]
    return leaves, joints


def _looked(number: BundleId, present: Sequence[str]) -> tuple[str, str] | None:
    """Return the joint that is looked at, None if none of this bundle is."""
    looked: tuple[BundleId, tuple[str, str]] | None = st.session_state.get(_LOOKED)
    if looked is None or looked[0] != number or not set(looked[1]) <= set(present):
        return None
    return looked[1]


def _lies(laid: Laid) -> str:
    return "" if laid is Laid.AS_LIES else LAID_WORDS[laid]


def _show_history(done: Sequence[OrderCorrection]) -> None:
    """Show who did what, the last first."""
    lines = []
    for one in reversed(done):
        who = plain(one.who or "name not noted")
        first = plain(", ".join(one.labels[:4]))
        lines.append(
            f"- {one.at:%Y-%m-%d %H:%M} UTC, {who}: {ACT_WORDS[one.act]}, beginning {first}"
        )
    if lines:
        st.markdown("\n".join(["**What was done to this bundle's order**", "", *lines]))


def _act(told: Any, number: BundleId, act: Callable[[], tuple[str, ...]]) -> None:
    """Change the order, then show the bundle anew; a refusal leaves all as it was."""
    try:
        with told, st.spinner("Working out light and dark of the new neighbours ..."):
            labels = act()
    except CatalogError as error:
        told.error(plain(str(error)))
        return
    words = f"The leaves lie in this order now: {', '.join(labels)}."
    st.session_state[_DONE] = (number, words)
    st.rerun()


def _tell_done(told: Any, number: BundleId) -> None:
    done: tuple[BundleId, str] | None = st.session_state.pop(_DONE, None)
    if done is not None and done[0] == number:
        told.success(plain(done[1]))


show()
