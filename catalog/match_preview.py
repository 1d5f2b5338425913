"""Show a match from the photographs of its leaves, light and dark as far as they can tell it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from catalog.best_joints import find_joints, run_leaves
from catalog.catalog import Catalog
from catalog.errors import NotInCatalog
from catalog.leaf_pictures import fitted, leaf_extent, open_leaf, straight_cut
from catalog.leaf_views import Views, leaf_views, plain_views, shown_under
from catalog.light_asked import LightAsked
from catalog.match_light import STORED, judged_joints, light_words
from catalog.picture_caption import caption_match
from catalog.pictures import PictureStore
from catalog.preview_notes import preview_notes
from catalog.records import BundleId, LeafCard
from catalog.slanted_light import room_about, slant_words, slanted_light
from vision.cuts import CutPiece, cut_pieces
from vision.errors import MatchNotPossible
from vision.joint_cut import JointCut, JointLimits
from vision.match_layout import (
    Allowances,
    FaceWish,
    Layout,
    LeafExtent,
    Match,
    lay_out,
)
from vision.match_names import MATCH_NAMES
from vision.match_render import px_per_mm_to_fit, render
from vision.picture_file import PictureKind, encode_picture
from vision.readings import PairAlternation
from vision.settings import DEFAULT_VISION_SETTINGS, VisionSettings
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
    leaves: tuple[LeafExtent, ...] = ()
    """The straight-edged sizes of the leaves used."""
    allowances: Allowances = field(default_factory=Allowances)
    room: str = ""
    """The light in words, where it is not the lamp as photographed."""

    @property
    def title(self) -> str:
        """What the picture shows, in a few words."""
        match = MATCH_NAMES[self.layout.match].name
        if self.layout.is_slipped:
            match = f"{match}, slipped"
        if self.layout.trims:
            match = f"{match}, joints trimmed"
        if not self.shows_light_and_dark:
            return f"{match}, light and dark not shown"
        if self.room:
            return f"{match}, in the light of {self.room}"
        return f"{match}, lamp {self.lamp.value}"

    def cut_pieces(self) -> tuple[CutPiece, ...]:
        """Return how each piece is cut.

        Raises
        ------
        MatchNotPossible
            If a leaf has no scale.
        """
        if self.layout.unit != "mm":
            raise MatchNotPossible(
                "Cuts are in millimetres, but not every leaf has a scale. Type the length of the "
                "leaves in the list of photographs, and take them in again."
            )
        return cut_pieces(self.layout.placements, self.leaves, allowances=self.allowances)

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
    wish: FaceWish | None = None,
    joints: JointLimits | None = None,
    asked: LightAsked | None = None,
    settings: VisionSettings = DEFAULT_VISION_SETTINGS,
) -> MatchPreview:
    """Return a match of some leaves of a bundle as it would look in one light.

    Every leaf is shown under the same lamp. Where for one of them no photograph shows the slope
    of its fibres from the right end, all are shown as they lie, and the notes say that light and
    dark cannot be seen: a mirrored photograph never shows them. Where pieces lie at a slant, light
    and dark is worked out from the leaves' fibres as fitted, and so for every match in a light that
    was not photographed; see `catalog.slanted_light`.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    labels : sequence of str
        Leaves in the order in which they are used.
    match : Match
    lamp : Lamp
        A (past the top end) or B.
    long_px : int
        The picture's longer side, at most.
    wish : FaceWish or None
        Size and pieces of the face.
    joints : JointLimits or None
        Cut each joint of a run of whole leaves where the figure meets, within these limits; None:
        butt the leaves' straight edges.
    asked : LightAsked or None
        A light to be worked out, in place of the lamp's.
    settings : VisionSettings
        Limits of the words for light and dark.

    Raises
    ------
    NotInCatalog
        If a leaf is not in the bundle.
    MatchNotPossible
        If no leaf is chosen, or the leaves do not give the match.
    RoomNotPossible
        If the light cannot be.
    """
    cards = cards_of(catalog, bundle_id, labels)
    views = leaf_views(catalog.photos(bundle_id))
    layout, extents = _lay_out(catalog.pictures, cards, labels, views, match, wish, joints)
    wanted = [(place.leaf, place.laid) for place in layout.placements]
    light, is_photographed = asked or lamp, layout.lies_along and asked is None
    slanted = None
    if not is_photographed:
        slanted = slanted_light(layout, extents, light, views, settings)
    true = shown_under(wanted, lamp, views) if is_photographed else None
    if slanted is not None:
        true = slanted.shown
    shown = plain_views(wanted, lamp, views, cards) if true is None else true
    scale = px_per_mm_to_fit(layout, long_px)
    pictures, trims = [], []
    for (label, _), one in zip(wanted, shown, strict=True):
        picture = open_leaf(
            catalog.pictures,
            one,
            cards[label].size,
            rows_wanted=extents[label].length_mm * scale,
            in_mm=layout.unit == "mm",
        )
        trims.append(straight_cut(picture))
        pictures.append(fitted(picture, trims[-1], extents[label]))
    known = [
        pair
        for stored in ([match] if match in STORED else STORED)
        for pair in catalog.alternation(bundle_id, match=stored.value)
    ]
    notes = preview_notes(
        wanted, lamp, views, shown, unit=layout.unit, is_photographed=is_photographed
    )
    said = light_words(
        layout,
        known,
        slant=slant_words(layout, light, views, slanted),
        is_lit=true is not None,
    )
    judged: tuple[PairAlternation | None, ...] = (None,) * len(layout.joints)
    if asked is None:
        judged = judged_joints(layout, lamp, views, known, settings)
    if slanted is not None:
        judged = tuple(one or other for one, other in zip(judged, slanted.joints, strict=True))
    return MatchPreview(
        rgb=render(layout, pictures, trims=trims, px_per_mm=scale),
        layout=layout,
        lamp=lamp,
        px_per_mm=scale,
        shows_light_and_dark=true is not None,
        notes=(*notes, *said, *layout.notes),
        joints=judged,
        leaves=tuple(extents.values()),
        allowances=(wish or FaceWish()).allowances,
        room="" if asked is None else room_about(layout, asked).words,
    )


def _lay_out(
    kept: PictureStore,
    cards: Mapping[str, LeafCard],
    labels: Sequence[str],
    views: Views,
    match: Match,
    wish: FaceWish | None,
    joints: JointLimits | None,
) -> tuple[Layout, dict[str, LeafExtent]]:
    """Return where the pieces of some leaves go, and the straight-edged size of each leaf."""
    in_mm = all(card.size.length_mm for card in cards.values())
    extents = {label: leaf_extent(kept, cards[label], in_mm=in_mm) for label in labels}
    run = [extents[label] for label in labels]
    trims: tuple[JointCut, ...] = ()
    if joints is not None:
        start = (wish or FaceWish()).start
        leaves = run_leaves(kept, cards, run, views, match=match, start=start)
        trims = find_joints(leaves, joints, shifts_mm=dict((wish or FaceWish()).shifts_mm))
    unit = "mm" if in_mm else "px"
    layout = lay_out(run, match, unit=unit, wish=wish, trims=trims)
    return layout, extents


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
