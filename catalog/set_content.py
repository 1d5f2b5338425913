"""What goes into a customer's picture set: gathered once, then laid on paper and packed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from catalog.catalog import Catalog
from catalog.leaf_pictures import open_leaf
from catalog.leaf_views import plain_view
from catalog.match_preview import MatchPreview, cards_of, preview_match
from catalog.records import Bundle, BundleId, Flitch, LeafCard
from vision.match_layout import Match, lay_out
from vision.match_render import extent_of, render, whole_leaf
from vision.shot import Lamp

LEAF_LONG_PX = 2400
"""A leaf's picture for a customer: some 300 dots per inch at the height of an A4 sheet."""
MATCH_LONG_PX = 2000


@dataclass(frozen=True, slots=True, eq=False)
class SetLeaf:
    """One leaf of a picture set, whole, on paper."""

    card: LeafCard
    rgb: NDArray[np.uint8]
    px_per_mm: float
    """Pixels per millimetre; per pixel of the photograph where ``in_mm`` is False."""
    in_mm: bool


@dataclass(frozen=True, slots=True, eq=False)
class SetContent:
    """Everything a picture set shows."""

    flitch: Flitch
    bundle: Bundle
    leaves: tuple[SetLeaf, ...]
    previews: tuple[MatchPreview, ...]
    customer: str
    dealer: str
    on: date


def gather(
    catalog: Catalog,
    bundle_id: BundleId,
    labels: Sequence[str],
    *,
    matches: Sequence[Match],
    lamps: Sequence[Lamp],
) -> tuple[Flitch, Bundle, tuple[SetLeaf, ...], tuple[MatchPreview, ...]]:
    """Return the records and painted pictures of a set.

    Raises
    ------
    NotInCatalog
        If a leaf is not in the bundle.
    """
    bundle = catalog.bundle(bundle_id)
    cards = cards_of(catalog, bundle_id, labels)
    previews = [
        preview_match(catalog, bundle_id, labels, match=match, lamp=lamp, long_px=MATCH_LONG_PX)
        for match in matches
        for lamp in lamps
        if len(labels) > 1
    ]
    return (
        catalog.flitch(bundle.flitch_id),
        bundle,
        tuple(whole_picture(catalog, cards[label]) for label in labels),
        tuple(_telling(previews)),
    )


def whole_picture(catalog: Catalog, card: LeafCard, *, long_px: int = LEAF_LONG_PX) -> SetLeaf:
    """Return a leaf as it lies, uncut, at most ``long_px`` long and never enlarged."""
    in_mm = card.size.length_mm is not None
    picture = open_leaf(
        catalog.pictures, plain_view(card), card.size, rows_wanted=long_px, in_mm=in_mm
    )
    trim = whole_leaf(picture.on_leaf)
    layout = lay_out([extent_of(card.label, picture, trim)], Match.SLIP)
    scale = min(picture.px_per_mm, long_px / max(layout.length_mm, layout.width_mm))
    rgb = render(layout, [picture], trims=[trim], px_per_mm=scale)
    return SetLeaf(card, rgb, scale, in_mm)


def _telling(previews: Sequence[MatchPreview]) -> list[MatchPreview]:
    """Leave out pictures without light and dark where another shows the drawing already."""
    kept: list[MatchPreview] = []
    for match in dict.fromkeys(preview.layout.match for preview in previews):
        of_match = [preview for preview in previews if preview.layout.match is match]
        kept += [one for one in of_match if one.shows_light_and_dark] or of_match[:1]
    return kept
