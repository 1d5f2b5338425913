"""Look for a loose leaf among all leaves of the catalogue.

A trace is drawn once from the kept picture of each leaf and stays in the catalogue. Only the few
bundles that look likest are opened again, to lay the loose leaf onto their leaves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from catalog.catalog import Catalog
from catalog.errors import EntryFaulty
from catalog.leaf_views import LeafView
from catalog.records import Bundle, BundleId, Flitch
from catalog.store_traces import StockLeaf, TraceKey
from catalog.stored_stack import kept_leaf, stored_stack
from vision.errors import LeafNotFound
from vision.leaf_descriptor import describe_leaf
from vision.leaf_trace import LeafTrace, trace_leaf
from vision.loose_leaf import Placing, Stock, likely_bundles, place_leaf
from vision.stack_order import StackLeaf
from vision.stand_in import as_single

TRACES_AT_ONCE = 50
"""So many are kept in one transaction."""


@dataclass(frozen=True, slots=True)
class LoosePlace:
    """Where a loose leaf belongs, or what comes nearest where it is not in the catalogue."""

    placing: Placing
    flitch: Flitch
    bundle: Bundle


def stock_to_search(catalog: Catalog) -> tuple[StockLeaf, ...]:
    """Return the leaves that a loose one is looked for among.

    Raises
    ------
    EntryFaulty
        If there is none.
    """
    leaves = catalog.stock_leaves()
    if not leaves:
        raise EntryFaulty(
            "The catalogue holds no leaf to look for this one among. Take photographs in first: "
            "python -m ui take-in FOLDER --flitch NAME"
        )
    return leaves


def draw_traces(catalog: Catalog, leaves: Sequence[StockLeaf]) -> Iterator[StockLeaf]:
    """Yield the leaves whose traces had to be drawn, as they are drawn and kept.

    A leaf that shows too little wood is given none, and is never found.

    Raises
    ------
    CatalogError
        If a picture is gone from the picture store.
    """
    known = catalog.leaf_traces()
    missing = {leaf.trace_key: leaf for leaf in leaves if leaf.trace_key not in known}
    drawn: dict[TraceKey, bytes] = {}
    for bundle_id in dict.fromkeys(leaf.bundle_id for leaf in missing.values()):
        for photo in catalog.photos(bundle_id):
            for reading, keys in zip(photo.reading.leaves, photo.pictures, strict=True):
                leaf = missing.get((keys.screen, keys.mask))
                if leaf is None:
                    continue
                view = LeafView(as_single(photo.shot, reading.leaf), reading.size, keys)
                try:
                    seen = describe_leaf(kept_leaf(catalog.pictures, view))
                except LeafNotFound:
                    continue
                drawn[leaf.trace_key] = trace_leaf(seen).to_bytes()
                if len(drawn) == TRACES_AT_ONCE:
                    catalog.keep_traces(drawn)
                    drawn = {}
                yield leaf
    catalog.keep_traces(drawn)


def read_stock(catalog: Catalog) -> Stock[StockLeaf]:
    """Return all leaves that have a trace, with it, at the sizes that the catalogue tells now."""
    known = catalog.leaf_traces()
    held = [leaf for leaf in catalog.stock_leaves() if leaf.trace_key in known]
    return Stock(
        tuple(held),
        tuple(_sized(LeafTrace.from_bytes(known[leaf.trace_key]), leaf) for leaf in held),
        tuple(int(leaf.bundle_id) for leaf in held),
        tuple(int(leaf.flitch_id) for leaf in held),
    )


def find_place(wanted: StackLeaf, stock: Stock[StockLeaf], *, catalog: Catalog) -> LoosePlace:
    """Return where a loose leaf belongs, or the place that came nearest.

    Raises
    ------
    EntryFaulty
        If no leaf of the catalogue shows enough wood.
    CatalogError
        If a picture is gone from the picture store.
    """
    candidates = likely_bundles(trace_leaf(wanted.front), stock)
    if not candidates:
        raise EntryFaulty(
            "No leaf of the catalogue shows enough wood to be compared. Correct their outlines, or "
            "photograph them again."
        )
    records = [
        _drawn(catalog, BundleId(one.bundle), [leaf.label for leaf in one.leaves])
        for one in candidates
    ]
    best = place_leaf(wanted, candidates, records)[0]
    bundle = catalog.bundle(BundleId(best.bundle))
    return LoosePlace(best, catalog.flitch(bundle.flitch_id), bundle)


def _drawn(catalog: Catalog, bundle_id: BundleId, labels: Sequence[str]) -> list[StackLeaf]:
    """Return the drawings of some leaves of a bundle, in the order of ``labels``."""
    photos = [
        photo
        for photo in catalog.photos(bundle_id)
        if not set(labels).isdisjoint(photo.shot.leaves)
    ]
    drawn = {leaf.name: leaf for leaf in stored_stack(catalog, photos)}
    return [drawn[label] for label in labels]


def _sized(trace: LeafTrace, leaf: StockLeaf) -> LeafTrace:
    if leaf.length_mm is None or leaf.width_mm is None:
        return replace(trace, is_in_mm=False)
    return replace(trace, length=leaf.length_mm, width=leaf.width_mm, is_in_mm=True)
