"""A set of pictures for a customer: one PDF and one zip."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from catalog.picture_set import make_picture_set
from ui.bundle_choice import choose_bundle
from ui.bundle_view import picture_address
from ui.flitch_shelf import rack_html
from ui.leaf_film import notes_html
from ui.leaf_run import choose_run
from ui.shared_catalog import shared_catalog

MADE = "picture-set"


@dataclass(frozen=True, slots=True)
class Made:
    """A finished picture set, ready to be handed over."""

    about: tuple[object, ...]
    """What it was made from; another choice makes it stale."""
    files: tuple[tuple[str, bytes], ...]
    notes: tuple[str, ...]
    """Sentences for the dealer on what could not be shown."""


def show() -> None:
    """Ask what goes into the set, make it, offer the files."""
    catalog = shared_catalog()
    st.title("Picture set", anchor=False)
    st.caption("Pictures of a run of leaves for a customer, with what light will do to them.")
    bundle = choose_bundle(catalog)
    if bundle is None:
        return
    labels = choose_run(catalog, bundle)
    if not labels:
        return
    thumbs = {leaf.label: leaf.pictures.thumb for leaf in catalog.leaves(bundle.bundle_id)}
    st.html(rack_html([picture_address(thumbs[label]) for label in labels]))
    customer_place, dealer_place = st.columns(2)
    customer = customer_place.text_input("For the customer", key="customer")
    dealer = dealer_place.text_input("From", key="dealer", persist_state="session")
    about = (bundle.bundle_id, tuple(labels), customer, dealer)
    if st.button("Make the picture set", type="primary"):
        with st.spinner("Laying out and writing pictures"), tempfile.TemporaryDirectory() as place:
            made = make_picture_set(
                catalog,
                bundle.bundle_id,
                labels=labels,
                folder=Path(place),
                customer=customer or "",
                dealer=dealer or "",
            )
            files = tuple((file.name, file.read_bytes()) for file in (made.pdf, made.zip))
        st.session_state[MADE] = Made(about, files, made.notes)
    ready: Made | None = st.session_state.get(MADE)
    if ready is not None and ready.about == about:
        _offer(ready)


def _offer(made: Made) -> None:
    st.success("The picture set is ready.")
    st.html(notes_html(made.notes))
    for name, data in made.files:
        st.download_button(
            f"Download {name} ({len(data) / 1e6:.1f} MB)",
            data,
            file_name=name,
            on_click="ignore",
            key=name,
        )


show()
