"""Two leaves of a bundle laid on each other as their figure lies, to be looked at in turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from catalog.catalog import Catalog
from catalog.kept_pictures import FLAT_LONG_PX, SCREEN_LONG_PX
from catalog.leaf_pictures import open_leaf
from catalog.leaf_views import Shown, leaf_views, plain_views, shown_under
from catalog.match_preview import cards_of
from catalog.pictures import PictureStore
from catalog.records import BundleId
from vision.blink_frame import (
    BlinkFrame,
    PictureSpan,
    as_laid,
    frame_of,
    mean_light,
    paint_in_frame,
    span_of,
)
from vision.leaf_register import Register, register
from vision.picture_file import PictureKind, encode_picture
from vision.placed_picture import PlacedPicture
from vision.readings import LeafSize
from vision.register_fits import leaf_box
from vision.shot import Laid, Lamp

LONG_PX = 1600
"""Longer side of a picture for the screen."""
QUALITY = 86
"""Of its JPEG: 50 to 300 kB."""


@dataclass(frozen=True, slots=True, eq=False)
class BlinkedPair:
    """Two leaves in one frame; pictures are opened only when a stretch of them is painted."""

    labels: tuple[str, str]
    laid: tuple[Laid, Laid]
    """How each is turned for the frame, against how it lies in the stack."""
    register: Register | None
    """How the second lies on the first; None if their figure does not tell."""
    frame: BlinkFrame
    unit: str
    """``mm``, or ``px`` (pixels of the photographs) where a leaf has no scale."""
    finest: float
    """Pixels per unit of the finer of the two photographs."""
    gain: NDArray[np.float64]
    """What brings the second to the first's mean colour: linear R, G, B."""
    spans: tuple[PictureSpan, PictureSpan]
    shown: tuple[Shown, Shown]
    sizes: tuple[LeafSize, LeafSize]
    store: PictureStore


@dataclass(frozen=True, slots=True, eq=False)
class BlinkPictures:
    """Both leaves over one stretch of the frame, in pictures of one size."""

    start: float
    end: float
    """Shares of the frame's length, 0 at its upper end."""
    rgb: tuple[NDArray[np.uint8], NDArray[np.uint8]]
    px_per_mm: float

    def jpegs(self) -> tuple[bytes, bytes]:
        """Return both as files for the screen."""
        first, second = (encode_picture(one, PictureKind.JPEG, quality=QUALITY) for one in self.rgb)
        return first, second


def blink_pair(
    catalog: Catalog,
    bundle_id: BundleId,
    labels: tuple[str, str],
    *,
    laid: Sequence[Laid] = (Laid.AS_LIES, Laid.AS_LIES),
) -> BlinkedPair:
    """Return two leaves of a bundle laid as told, the second registered on the first.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    labels : tuple of str
        Two different leaves.
    laid : sequence of Laid
        How each is turned so that they lie alike.

    Raises
    ------
    NotInCatalog
        If a leaf is not in the bundle.
    """
    cards = cards_of(catalog, bundle_id, labels)
    wanted = list(zip(labels, laid, strict=True))
    views = leaf_views(catalog.photos(bundle_id))
    lit = (shown_under(wanted, lamp, views) for lamp in (Lamp.BOTH, Lamp.A, Lamp.B))
    found = next((one for one in lit if one is not None), None)
    shown = found or plain_views(wanted, Lamp.BOTH, views, cards)
    sizes = (cards[labels[0]].size, cards[labels[1]].size)
    in_mm = all(size.length_mm is not None for size in sizes)
    unit = "mm" if in_mm else "px"
    both = _open(catalog.pictures, shown, sizes, rows=SCREEN_LONG_PX, unit=unit)
    move = register(as_laid(both[0]), as_laid(both[1]))
    flat = _open(catalog.pictures, shown, sizes, rows=FLAT_LONG_PX, unit=unit)
    spans = (span_of(both[0]), span_of(both[1]))
    return BlinkedPair(
        labels=labels,
        laid=(laid[0], laid[1]),
        register=move,
        frame=frame_of(both[0], both[1], move),
        unit=unit,
        finest=max(len(one.pixels) / span.height for one, span in zip(flat, spans, strict=True)),
        gain=mean_light(both[0]) / np.maximum(mean_light(both[1]), 1e-4),
        spans=spans,
        shown=(shown[0], shown[1]),
        sizes=sizes,
        store=catalog.pictures,
    )


def paint_pair(
    pair: BlinkedPair, *, start: float = 0.0, end: float = 1.0, long_px: int = LONG_PX
) -> BlinkPictures:
    """Return both leaves over a stretch of their frame, at the same place and size.

    Parameters
    ----------
    pair : BlinkedPair
    start, end : float
        Shares of the frame's length, 0 <= start < end <= 1.
    long_px : int
        Longer side of the pictures, at most; never finer than the photographs.

    Raises
    ------
    ValueError
        If the stretch is none.
    """
    if not 0 <= start < end <= 1:
        raise ValueError(f"A stretch from {start} to {end} of the length is none.")
    frame = pair.frame.stretch(start, end)
    scale = min(pair.finest, long_px / max(frame.width, frame.length))
    rows = 2 * scale * pair.frame.length
    leaves = _open(pair.store, pair.shown, pair.sizes, rows=rows, unit=pair.unit)
    rgb = (
        paint_in_frame(leaves[0], pair.spans[0], frame, px_per_mm=scale),
        paint_in_frame(
            leaves[1],
            pair.spans[1],
            frame,
            px_per_mm=scale,
            register=pair.register,
            gain=pair.gain,
        ),
    )
    return BlinkPictures(start, end, rgb, scale)


def _open(
    store: PictureStore,
    shown: Sequence[Shown],
    sizes: Sequence[LeafSize],
    *,
    rows: float,
    unit: str,
) -> tuple[PlacedPicture, PlacedPicture]:
    """Return both pictures at one scale; without millimetres both leaves are equally long."""
    first, second = (
        open_leaf(store, one, size, rows_wanted=rows, in_mm=unit == "mm")
        for one, size in zip(shown, sizes, strict=True)
    )
    if unit == "mm":
        return first, second
    held = [leaf_box(one.on_leaf)[0] for one in (first, second)]
    long_px = [max(1, rows.stop - rows.start) for rows in held]
    return first, replace(second, px_per_mm=first.px_per_mm * long_px[1] / long_px[0])
