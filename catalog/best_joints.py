"""Where the leaves of a run are cut so that their figure meets, from their kept pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.leaf_pictures import open_leaf, straight_cut
from catalog.leaf_views import Shown, Views, plain_views
from catalog.pictures import PictureStore
from catalog.records import LeafCard, PictureKeys
from vision.colour_space import linear_to_lab, srgb_to_linear
from vision.errors import MatchNotPossible
from vision.joined_run import JoinedLeaf
from vision.joint_choices import joint_choices
from vision.joint_cut import JointCut, JointLimits
from vision.laying import lay_pixels, reverses_columns
from vision.match_layout import LAYINGS, LeafExtent, Match, layings_of
from vision.readings import LeafSize
from vision.run_cuts import choose_cuts
from vision.shot import Laid, Lamp

LONG_PX = 1600
"""Rows of the longer leaf of a pair as compared."""


@dataclass(frozen=True, slots=True, eq=False)
class RunLeaf:
    """One leaf of a run: its picture, how that is moved into the match, and its size there."""

    kept: PictureStore
    shown: Shown
    size: LeafSize
    extent: LeafExtent
    laid: Laid

    @property
    def name(self) -> tuple[PictureKeys, Laid, LeafExtent, Laid]:
        """What tells it from every other."""
        return self.shown.view.pictures, self.shown.moved, self.extent, self.laid

    def picture(self, px_per_mm: float) -> NDArray[np.uint8]:
        """Return the leaf as it lies, between its straightened edges, at a scale; sRGB."""
        rows, columns = (
            round(side * px_per_mm) for side in (self.extent.length_mm, self.extent.width_mm)
        )
        whole = open_leaf(self.kept, self.shown, self.size, rows_wanted=rows, in_mm=True)
        trim = straight_cut(whole)
        part = whole.pixels[trim.top : trim.bottom, trim.left : trim.right]
        laid = np.ascontiguousarray(lay_pixels(part, self.shown.moved))
        return np.asarray(
            cv2.resize(laid, (columns, rows), interpolation=cv2.INTER_AREA), dtype=np.uint8
        )


def run_leaves(
    kept: PictureStore,
    cards: Mapping[str, LeafCard],
    extents: Sequence[LeafExtent],
    views: Views,
    *,
    match: Match,
    start: Laid = Laid.AS_LIES,
) -> tuple[RunLeaf, ...]:
    """Return the leaves of a book, slip or reverse slip run as they lie in it.

    Raises
    ------
    MatchNotPossible
        If the match is another, or a leaf has no scale.
    """
    if match not in LAYINGS:
        raise MatchNotPossible(
            f"Joints are trimmed where the figure meets in {', '.join(LAYINGS)} matches; the "
            f"{match.value} match cuts its pieces to equal or given sizes. Choose one of those."
        )
    for label, card in cards.items():
        if card.size.length_mm is None:
            raise MatchNotPossible(
                f"Leaf {label} has no scale; a joint needs millimetres. Photograph it between "
                "rails, or type its length and width into the shot list."
            )
    layings = layings_of(match, len(extents), start=start)
    wanted = [(size.label, laid) for size, laid in zip(extents, layings, strict=True)]
    shown = plain_views(wanted, Lamp.BOTH, views, cards)
    return tuple(
        RunLeaf(kept, one, cards[size.label].size, size, laid)
        for one, size, laid in zip(shown, extents, layings, strict=True)
    )


def find_joints(
    leaves: Sequence[RunLeaf], limits: JointLimits, *, shifts_mm: Mapping[str, float] | None = None
) -> tuple[JointCut, ...]:
    """Return where each two neighbours are cut so that their figure meets, chosen together.

    Parameters
    ----------
    leaves : sequence of RunLeaf
        From the left.
    limits : JointLimits
    shifts_mm : mapping of str to float, or None
        By how much leaves are moved down by hand, by their labels.

    Raises
    ------
    MatchNotPossible
        If two leaves are too small for a joint, or nothing may be cut.
    """
    down = shifts_mm or {}
    run = [JoinedLeaf(leaf.extent, leaf.laid, down.get(leaf.extent.label, 0.0)) for leaf in leaves]
    choices = [_choices(_Pair(left, right), limits) for left, right in pairwise(leaves)]
    return choose_cuts(run, choices, costs=limits.costs)


def scale_of(left: RunLeaf, right: RunLeaf) -> float:
    """Return the pixels per millimetre at which two leaves are compared."""
    return LONG_PX / max(left.extent.length_mm, right.extent.length_mm)


class _Pair:
    """Two leaves, equal to another two of the same pictures lying the same way."""

    def __init__(self, left: RunLeaf, right: RunLeaf) -> None:
        self.left, self.right = left, right
        self._name = (left.kept.place, left.name, right.name)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Pair) and self._name == other._name

    def __hash__(self) -> int:
        return hash(self._name)


@lru_cache(maxsize=512)
def _choices(pair: _Pair, limits: JointLimits) -> tuple[JointCut, ...]:
    scale = scale_of(pair.left, pair.right)
    return joint_choices(
        _lightness(pair.left.picture(scale)),
        _lightness(pair.right.picture(scale)),
        px_per_mm=scale,
        mirrored=reverses_columns(pair.left.laid) != reverses_columns(pair.right.laid),
        limits=limits,
    )


def _lightness(rgb: NDArray[np.uint8]) -> NDArray[np.float64]:
    return np.asarray(linear_to_lab(srgb_to_linear(rgb))[..., 0], dtype=np.float64)
