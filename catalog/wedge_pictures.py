"""The leaves on which two mirrors stand: one picture of them all side by side, at one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from catalog.catalog import Catalog
from catalog.leaf_pictures import open_leaf
from catalog.leaf_views import leaf_views, plain_views
from catalog.match_preview import cards_of
from catalog.records import BundleId
from vision.colour_space import srgb_to_linear
from vision.errors import MatchNotPossible
from vision.light_profile import LUMINANCE
from vision.match_render import whole_leaf
from vision.picture_file import PictureKind, encode_picture
from vision.picture_scale import scale_cover, scale_picture
from vision.placed_picture import PlacedPicture
from vision.shot import Laid, Lamp

MOST_WIDE_PX, MOST_LONG_PX = 4096, 2048
"""What every graphics card of the last ten years takes as one picture."""
ALONE_LONG_PX = 4096
GAP_PX = 4
"""Between leaves, that none bleeds into the next."""
BESIDE, STRIPE = (229, 222, 209), (140, 132, 122)
"""sRGB of what is no leaf: paper, striped, so that no one takes it for wood."""
STRIPE_PX = 14


@dataclass(frozen=True, slots=True, eq=False)
class WedgePictures:
    """Leaves as they lie, in order, in one picture."""

    jpeg: bytes
    labels: tuple[str, ...]
    frames: tuple[tuple[int, int, int, int], ...]
    """Left, top, width and height of each leaf, pixels of the picture."""
    px_per_mm: float
    sizes_mm: tuple[tuple[float, float], ...]
    """Width and length of each."""
    lightness: tuple[NDArray[np.float32], ...]
    """Relative luminance of each leaf, 0 to 1, shape (rows, columns); NaN beside it."""


def wedge_pictures(
    catalog: Catalog, bundle_id: BundleId, labels: Sequence[str], *, lamp: Lamp = Lamp.BOTH
) -> WedgePictures:
    """Return some leaves of a bundle side by side, as they lie and lit alike.

    Raises
    ------
    NotInCatalog
        If a leaf is not in the bundle.
    MatchNotPossible
        If a leaf has no scale: a wedge is cut in millimetres.
    """
    cards = cards_of(catalog, bundle_id, labels)
    bare = [label for label in labels if not cards[label].size.length_mm]
    if bare:
        raise MatchNotPossible(
            f"Leaf {', '.join(bare)} has no size in millimetres, and a wedge is cut in "
            "millimetres. Give the length of the leaf, or photograph it with the rails."
        )
    wanted = [(label, Laid.AS_LIES) for label in labels]
    shown = plain_views(wanted, lamp, leaf_views(catalog.photos(bundle_id)), cards)
    long_px = ALONE_LONG_PX if len(labels) == 1 else MOST_LONG_PX
    opened = [
        open_leaf(catalog.pictures, one, cards[label].size, rows_wanted=long_px, in_mm=True)
        for one, label in zip(shown, labels, strict=True)
    ]
    leaves = [_cropped(one) for one in opened]
    scale = _common_scale(leaves, long_px)
    pictures, masks = zip(*(_scaled(leaf, scale) for leaf in leaves), strict=True)
    sheet, frames = _side_by_side(pictures, masks)
    return WedgePictures(
        jpeg=encode_picture(sheet, PictureKind.JPEG, quality=88),
        labels=tuple(labels),
        frames=frames,
        px_per_mm=scale,
        sizes_mm=tuple((frame[2] / scale, frame[3] / scale) for frame in frames),
        lightness=tuple(
            np.where(mask, srgb_to_linear(picture) @ LUMINANCE, np.float32("nan"))
            for picture, mask in zip(pictures, masks, strict=True)
        ),
    )


def _cropped(leaf: PlacedPicture) -> PlacedPicture:
    frame = whole_leaf(leaf.on_leaf)
    part = np.s_[frame.top : frame.bottom, frame.left : frame.right]
    return replace(leaf, pixels=leaf.pixels[part], on_leaf=leaf.on_leaf[part], name="")


def _common_scale(leaves: Sequence[PlacedPicture], long_px: int) -> float:
    """Return pixels per millimetre that no leaf has to be enlarged for and that fit one picture."""
    longest = max(leaf.pixels.shape[0] / leaf.px_per_mm for leaf in leaves)
    side_by_side = sum(leaf.pixels.shape[1] / leaf.px_per_mm for leaf in leaves)
    room = MOST_WIDE_PX - GAP_PX * (len(leaves) + 1) - len(leaves)
    finest = min(leaf.px_per_mm for leaf in leaves)
    return float(min(finest, (long_px - 2) / longest, room / side_by_side))


def _scaled(leaf: PlacedPicture, scale: float) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    share = scale / leaf.px_per_mm
    rows, columns = (max(1, round(side * share)) for side in leaf.on_leaf.shape)
    cover = scale_cover(leaf.on_leaf, rows=rows, columns=columns)
    return scale_picture(leaf.pixels, rows=rows, columns=columns), cover > 127


def _side_by_side(
    pictures: Sequence[NDArray[np.uint8]], masks: Sequence[NDArray[np.bool_]]
) -> tuple[NDArray[np.uint8], tuple[tuple[int, int, int, int], ...]]:
    rows = max(picture.shape[0] for picture in pictures)
    columns = sum(picture.shape[1] for picture in pictures) + GAP_PX * (len(pictures) + 1)
    down, across = np.indices((rows, columns), sparse=True)
    striped = (down + across) % STRIPE_PX < STRIPE_PX // 4
    stripe, beside = np.array([STRIPE, BESIDE], np.uint8)
    sheet = np.where(striped[..., np.newaxis], stripe, beside)
    frames = []
    left = GAP_PX
    for picture, mask in zip(pictures, masks, strict=True):
        high, wide = mask.shape
        sheet[:high, left : left + wide][mask] = picture[mask]
        frames.append((left, 0, wide, high))
        left += wide + GAP_PX
    return sheet, tuple(frames)
