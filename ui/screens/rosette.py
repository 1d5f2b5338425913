"""Where to cut the wedges of a rosette: two mirrors moved over a leaf."""

from __future__ import annotations

from datetime import datetime

import streamlit as st

from catalog.catalog import Catalog
from catalog.cut_list import cut_list_csv
from catalog.rails_layout import RailsPaper
from catalog.records import Bundle
from catalog.template_sheets import print_templates
from catalog.template_words import CAUTIONS
from catalog.wedge_pictures import WedgePictures, wedge_pictures
from ui.bundle_choice import choose_bundle
from ui.leaf_film import notes_html
from ui.plain_markdown import plain
from ui.shared_catalog import shared_catalog
from ui.two_mirrors import two_mirrors
from vision.cuts import cut_pieces, overhang_words
from vision.layout import Allowances, LeafExtent
from vision.rosette_layout import rosette_layout
from vision.wedge import Wedge
from vision.wedge_follow import Followed, follow_wedge

PLACED = "wedge-placed"
START_PIECES = 12


def show() -> None:
    """Show the mirrors on the chosen leaf."""
    catalog = shared_catalog()
    st.title("Rosette", anchor=False)
    st.caption(
        "Two mirrors stand on a leaf. What you see between them, laid round a point, is the "
        "sunburst you would get from wedges cut there."
    )
    bundle = choose_bundle(catalog)
    if bundle is None:
        return
    labels = [leaf.label for leaf in catalog.leaves(bundle.bundle_id)]
    if not labels:
        st.info("No leaf of this bundle is in yet.")
        return
    leaf_place, source_place = st.columns(2)
    first = leaf_place.selectbox("First leaf", labels, key=f"rosette-leaf-{bundle.bundle_id}")
    placed: Wedge | None = st.session_state.get(_key(bundle, first))
    count = START_PIECES if placed is None else placed.pieces
    run = labels[labels.index(first) :][:count]
    each = source_place.segmented_control(
        "Wedges",
        ["one", "each"],
        format_func={
            "one": "All from this leaf",
            "each": "From leaves in order",
        }.__getitem__,
        default="one",
        required=True,
        key="rosette-source",
    )
    _show_mirrors(catalog, bundle, tuple(run) if each == "each" else (first,), wanted=count)


def _show_mirrors(
    catalog: Catalog, bundle: Bundle, labels: tuple[str, ...], *, wanted: int
) -> None:
    pictures = _pictures(catalog, bundle, labels)
    wedge: Wedge = st.session_state.get(_key(bundle, labels[0])) or _start(pictures)
    followed = follow_wedge(pictures.lightness, wedge, px_per_mm=pictures.px_per_mm)
    moved = two_mirrors(
        pictures,
        wedge,
        followed=followed,
        key=f"mirrors-{bundle.bundle_id}-{'-'.join(labels)}",
    )
    if moved is not None and moved != wedge:
        st.session_state[_key(bundle, labels[0])] = moved
        st.rerun()
    _say_what_holds(pictures, wedge, followed, wanted=wanted)
    _offer_cuts(pictures, wedge, followed)


def _offer_cuts(pictures: WedgePictures, wedge: Wedge, followed: tuple[Followed, ...]) -> None:
    leaves = [
        LeafExtent(label, *size)
        for label, size in zip(pictures.labels, pictures.sizes_mm, strict=True)
    ]
    layout = rosette_layout(wedge, leaves, followed)
    pieces = cut_pieces(layout.placements, leaves, allowances=Allowances())
    lacking = overhang_words(pieces)
    if lacking:
        st.caption(plain(lacking))
    with st.expander("Before cutting and pressing"):
        st.html(notes_html(CAUTIONS))
    stem = f"rosette-{pictures.labels[0]}-{wedge.pieces}"

    def templates() -> bytes:
        today = datetime.now().astimezone().date()
        return print_templates(layout, pieces, paper=RailsPaper.A4, on=today)

    st.download_button(
        "Download the templates at 1:1, A4 (PDF)",
        templates,
        file_name=f"{stem}-templates.pdf",
        mime="application/pdf",
        on_click="ignore",
    )
    if len(leaves) < wedge.pieces:
        st.caption(
            f"The rosette takes {wedge.pieces} leaves, one wedge from each. The cut list follows "
            "once the wedges are taken from that many leaves in order."
        )
        return
    st.download_button(
        "Download the cut list (CSV)",
        cut_list_csv(layout, pieces),
        file_name=f"{stem}-cuts.csv",
        mime="text/csv",
        on_click="ignore",
    )


def _say_what_holds(
    pictures: WedgePictures, wedge: Wedge, followed: tuple[Followed, ...], *, wanted: int
) -> None:
    off = _leaves_it_leaves(pictures, wedge, followed)
    if off:
        st.warning(
            f"The wedge reaches beyond leaf {plain(', '.join(off))} (striped in the picture). Move "
            "it, make it smaller, or take more wedges: each is then narrower."
        )
    if len(pictures.labels) > 1:
        if len(pictures.labels) < wanted:
            st.warning(
                f"{wanted} wedges from {wanted} leaves were asked for; from this leaf on the "
                f"bundle has {len(pictures.labels)}. The rosette takes them in turn."
            )
        lost = [
            label for label, one in zip(pictures.labels, followed, strict=True) if not one.is_sure
        ]
        if lost:
            st.warning(
                f"The figure under the wedge was not found again on leaf {plain(', '.join(lost))}: "
                "the place of the leaf before is shown. Look there yourself before you cut."
            )
        st.dataframe(
            [
                {
                    "Leaf": label,
                    "Wedge": number + 1,
                    "Lies": "turned over" if wedge.is_turned(number) else "as it lies",
                    "Tip from left edge, mm": round(wedge.x_mm + one.across_mm),
                    "Tip from top end, mm": round(wedge.y_mm + one.along_mm),
                    "Likeness to the leaf before": f"{one.likeness:.2f}",
                }
                for number, (label, one) in enumerate(zip(pictures.labels, followed, strict=True))
            ],
            hide_index=True,
        )
    st.caption(
        f"Each wedge: {wedge.angle_deg:.1f}° at the tip, {wedge.radius_mm:.0f} mm along either "
        f"edge, {wedge.chord_mm:.0f} mm across the wide end. Half of the wedges are cut from "
        "leaves turned over. Light and dark of wedges laid at an angle are not shown here: no "
        "photograph was taken in that light."
    )


def _leaves_it_leaves(
    pictures: WedgePictures, wedge: Wedge, followed: tuple[Followed, ...]
) -> list[str]:
    """Return the leaves that the wedge reaches beyond."""
    found = []
    for label, (width, length), one in zip(
        pictures.labels, pictures.sizes_mm, followed, strict=True
    ):
        corners = wedge.corners_mm() + [one.across_mm, one.along_mm]
        if (corners < 0).any() or (corners > [width, length]).any():
            found.append(label)
    return found


def _pictures(catalog: Catalog, bundle: Bundle, labels: tuple[str, ...]) -> WedgePictures:
    """Return the leaves, kept while the screen stays with them."""
    kept = st.session_state.get("wedge-pictures")
    if kept is not None and kept[0] == (bundle.bundle_id, labels):
        found: WedgePictures = kept[1]
        return found
    found = wedge_pictures(catalog, bundle.bundle_id, labels)
    st.session_state["wedge-pictures"] = ((bundle.bundle_id, labels), found)
    return found


def _start(pictures: WedgePictures) -> Wedge:
    """Return a wedge that lies well within the leaf."""
    width, length = pictures.sizes_mm[0]
    radius = min(0.9 * width, 0.4 * length) if width < length else 0.4 * width
    return Wedge(
        width / 2,
        length / 2 - radius / 2,
        turn_deg=90.0,
        radius_mm=max(radius, 20.0),
        pieces=START_PIECES,
    )


def _key(bundle: Bundle, label: str) -> str:
    return f"{PLACED}-{bundle.bundle_id}-{label}"


show()
