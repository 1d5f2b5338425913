"""Which leaves of a bundle: a run from one leaf to another, the way they are sold."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from catalog.catalog import Catalog
from catalog.records import Bundle


def choose_run(catalog: Catalog, bundle: Bundle) -> Sequence[str]:
    """Show a chooser for a run of leaves and return their labels in order."""
    labels = [leaf.label for leaf in catalog.leaves(bundle.bundle_id)]
    if not labels:
        st.info("No leaf of this bundle is in yet.")
        return ()
    if len(labels) == 1:
        return labels
    first, last = st.select_slider(
        "Leaves, from and to",
        labels,
        value=(labels[0], labels[-1]),
        key=f"leaves-{bundle.bundle_id}",
        bind="query-params",
    )
    return labels[labels.index(first) : labels.index(last) + 1]
