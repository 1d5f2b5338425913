"""The best joint of two leaves of a bundle, from their kept pictures, beside a straight one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from catalog.best_joints import find_joints, run_leaves, scale_of
from catalog.catalog import Catalog
from catalog.leaf_pictures import leaf_extent
from catalog.leaf_views import leaf_views
from catalog.match_preview import cards_of
from catalog.records import BundleId
from vision.joint_cut import JointCut, JointLimits
from vision.joint_finder import joint_picture
from vision.match_layout import Match
from vision.match_render import PAPER
from vision.shot import Laid

GAP_PX = 24


@dataclass(frozen=True, slots=True, eq=False)
class JointPreview:
    """A joint and how it looks: straight cuts on the left, the cuts found on the right."""

    cut: JointCut
    right_laid: Laid
    rgb: NDArray[np.uint8]
    px_per_mm: float


def preview_joint(
    catalog: Catalog,
    bundle_id: BundleId,
    labels: tuple[str, str],
    *,
    match: Match = Match.BOOK,
    limits: JointLimits | None = None,
) -> JointPreview:
    """Return where to cut two leaves, left and right in a match, so that their figure meets.

    Raises
    ------
    NotInCatalog
        If a leaf is not in the bundle.
    MatchNotPossible
        If a leaf has no scale, or the two are too small for a joint.
    """
    cards = cards_of(catalog, bundle_id, labels)
    in_mm = all(card.size.length_mm for card in cards.values())
    extents = [leaf_extent(catalog.pictures, cards[label], in_mm=in_mm) for label in labels]
    views = leaf_views(catalog.photos(bundle_id))
    left, right = run_leaves(catalog.pictures, cards, extents, views, match=match)
    (cut,) = find_joints((left, right), limits or JointLimits())
    half = (limits or JointLimits()).most_loss_mm / 4
    plain = replace(cut, left_mm=half, left_deg=0.0, right_mm=half, right_deg=0.0, slip_mm=0.0)
    scale = scale_of(left, right)
    sides = left.picture(scale), right.picture(scale)
    pictures = [joint_picture(*sides, one, px_per_mm=scale) for one in (plain, cut)]
    gap = np.full((pictures[0].shape[0], GAP_PX, 3), PAPER, np.uint8)
    return JointPreview(cut, right.laid, np.hstack([pictures[0], gap, pictures[1]]), scale)
