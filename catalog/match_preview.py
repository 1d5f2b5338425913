"""Show a match from the photographs of its leaves, light and dark as far as they can tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog.catalog import Catalog
from catalog.errors import NotInCatalog
from catalog.leaf_pictures import open_leaf
from catalog.leaf_views import Shown, leaf_views, plain_views, shown_under
from catalog.picture_caption import caption_match
from catalog.preview_notes import preview_notes
from catalog.records import BundleId, LeafCard
from vision.joint_alternation import alternation_at
from vision.match_layout import LAYINGS, Layout, Match, lay_out
from vision.match_render import (
    PlacedPicture,
    extent_of,
    px_per_mm_to_fit,
    render,
    straight_edges,
)
from vision.picture_file import PictureKind, encode_picture
from vision.readings import PairAlternation
from vision.shot import Lamp


@dataclass(frozen=True, slots=True, eq=False)
class MatchPreview:
    """A painted match and what may and may not be read from it."""

    rgb: NDArray[np.uint8]
    """sRGB, rows from the top ends down."""
    layout: Layout
    lamp: Lamp
    px_per_mm: float
    """Pixels per millimetre; per pixel of the photographs where ``layout.unit`` is ``px``."""
    shows_light_and_dark: bool
    """False where a photograph with the slope seen from the right end is missing."""
    notes: tuple[str, ...]
    """Sentences that belong beside the picture."""
    joints: tuple[PairAlternation | None, ...]
    """Light and dark at each joint, left to right; None where the pair was not judged."""

    @property
    def title(self) -> str:
        """What the picture shows, in a few words."""
        match = f"{self.layout.match.value.capitalize()} match"
        if not self.shows_light_and_dark:
            return f"{match}, light and dark not shown"
        return f"{match}, lamp {self.lamp.value}"

    def captioned(self) -> NDArray[np.uint8]:
        """Return the picture with the leaves' labels, a title and a scale bar below it."""
        return caption_match(self.rgb, self.layout, title=self.title, px_per_mm=self.px_per_mm)

    def file(self, kind: PictureKind = PictureKind.JPEG, *, quality: int = 90) -> bytes:
        """Return the bare picture as a file that is marked sRGB and prints at real size."""
        scale = self.px_per_mm if self.layout.unit == "mm" else None
        return encode_picture(self.rgb, kind, px_per_mm=scale, quality=quality)


def preview_match(
    catalog: Catalog,
    bundle_id: BundleId,
    labels: Sequence[str],
    *,
    match: Match,
    lamp: Lamp,
    long_px: int = 1600,
) -> MatchPreview:
    """Return a match of some leaves of a bundle as it would look under one lamp.

    Every leaf is shown under the same lamp. Where for one of them no photograph shows the slope
    of its fibres from the right end, all are shown as they lie, and the notes say that light and
    dark cannot be seen: a mirrored photograph never shows them.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    labels : sequence of str
        Leaves from left to right.
    match : Match
    lamp : Lamp
        A (past the top end) or B.
    long_px : int
        The picture's longer side, at most.

    Raises
    ------
    NotInCatalog
        If a leaf is not in the bundle.
    MatchNotPossible
        If no leaf is chosen.
    """
    cards = cards_of(catalog, bundle_id, labels)
    views = leaf_views(catalog.photos(bundle_id))
    layings = [LAYINGS[match][i % len(LAYINGS[match])] for i in range(len(labels))]
    wanted = list(zip(labels, layings, strict=True))
    true = shown_under(wanted, lamp, views)
    shown = plain_views(wanted, lamp, views, cards) if true is None else true
    in_mm = all(card.size.length_mm for card in cards.values())
    pictures = _opened(catalog, shown, [cards[label] for label in labels], long_px, in_mm=in_mm)
    trims = [straight_edges(picture.on_leaf, px_per_mm=picture.px_per_mm) for picture in pictures]
    run = [
        extent_of(label, picture, trim)
        for label, picture, trim in zip(labels, pictures, trims, strict=True)
    ]
    layout = lay_out(run, match, unit="mm" if in_mm else "px")
    scale = px_per_mm_to_fit(layout, long_px)
    known = catalog.alternation(bundle_id, match=match.value)
    return MatchPreview(
        rgb=render(layout, pictures, trims=trims, px_per_mm=scale),
        layout=layout,
        lamp=lamp,
        px_per_mm=scale,
        shows_light_and_dark=true is not None,
        notes=preview_notes(wanted, lamp, views, shown, unit=layout.unit),
        joints=tuple(alternation_at(joint, match, lamp, known) for joint in layout.joints),
    )


def cards_of(catalog: Catalog, bundle_id: BundleId, labels: Sequence[str]) -> dict[str, LeafCard]:
    """Return the chosen leaves of a bundle by label; `NotInCatalog` names any that are absent."""
    cards = {card.label: card for card in catalog.leaves(bundle_id)}
    absent = [label for label in labels if label not in cards]
    if absent:
        raise NotInCatalog(
            f"No leaf {', '.join(absent)} in this bundle; it holds {', '.join(cards) or 'none'}. "
            "Choose among those."
        )
    return {label: cards[label] for label in labels}


def _opened(
    catalog: Catalog,
    shown: Sequence[Shown],
    cards: Sequence[LeafCard],
    long_px: int,
    *,
    in_mm: bool,
) -> list[PlacedPicture]:
    """Return each leaf's picture, at no more pixels than the match will need of it."""
    lengths = [one.view.size.length_px for one in shown]
    widths = [one.view.size.width_px for one in shown]
    share = long_px / max(*lengths, sum(widths), 1.0)
    return [
        open_leaf(catalog.pictures, one, card.size, rows_wanted=length * share, in_mm=in_mm)
        for one, card, length in zip(shown, cards, lengths, strict=True)
    ]
