"""What the photographs of a bundle show of its leaves' light, for judging light and dark."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from catalog.catalog import Catalog
from catalog.records import BundleId
from vision.alternation import SeenLeaf
from vision.readings import PhotoReading
from vision.shot import Shot


@dataclass(frozen=True, slots=True)
class SeenBundle:
    """Leaves in their order, every photograph of them, and how long they are."""

    order: tuple[str, ...]
    seen: tuple[SeenLeaf, ...]
    length_mm: float | None
    """The median of all readings; None where none has a scale."""


def seen_leaves(catalog: Catalog, bundle_id: BundleId) -> SeenBundle:
    """Return what is stored of a bundle."""
    order = [leaf.label for leaf in catalog.leaves(bundle_id)]
    photos = [(one.shot, one.reading) for one in catalog.photos(bundle_id) if not one.shot.blank]
    return seen_in(photos, order)


def seen_in(
    photos: Iterable[tuple[Shot, PhotoReading]], order: Sequence[str] | None = None
) -> SeenBundle:
    """Return what photographs show; the order is that of the photographs where none is given."""
    read = list(photos)
    labels = order or dict.fromkeys(leaf for shot, _ in read for leaf in shot.leaves)
    lengths = [
        leaf.size.length_mm for _, reading in read for leaf in reading.leaves if leaf.size.length_mm
    ]
    return SeenBundle(
        tuple(labels),
        tuple(SeenLeaf(shot, tuple(leaf.light for leaf in one.leaves)) for shot, one in read),
        median(lengths) if lengths else None,
    )
