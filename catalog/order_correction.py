"""The order of a bundle's leaves set by hand: who did what, and the way back."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.catalog import Catalog
from catalog.errors import EntryFaulty
from catalog.intake import finish_bundle
from catalog.records import BundleId, OrderAct, OrderCorrection
from vision.settings import VisionSettings


def set_order(
    catalog: Catalog,
    bundle_id: BundleId,
    labels: Sequence[str],
    *,
    settings: VisionSettings,
    who: str = "",
    before: Sequence[str] | None = None,
) -> tuple[str, ...]:
    """Put the leaves of a bundle in an order, and work out light and dark for the new neighbours.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    labels : sequence of str
        Every leaf of the bundle once, the first on top.
    settings : VisionSettings
    who : str
        Who set it; without it whoever opened the catalogue.
    before : sequence of str or None
        The order that was looked at; None takes the one that stands now.

    Returns
    -------
    tuple of str
        The order that stands now.

    Raises
    ------
    EntryFaulty
        If leaves are left out, named twice or not of this bundle, or lie in this order already.
    AlreadyThere
        If the bundle is no longer as it was looked at.
    NotInCatalog
        If there is no such bundle.
    """
    present = _present(catalog, bundle_id)
    if sorted(labels) != sorted(present):
        raise EntryFaulty(
            f"An order of this bundle names each of its {len(present)} leaves once; this one does "
            "not. Look at the bundle again, then set its order."
        )
    if tuple(labels) == present:
        raise EntryFaulty("The leaves lie in this order already. Nothing has been changed.")
    return _put(catalog, bundle_id, OrderAct.SET, labels, before or present, settings, who)


def undo_order(
    catalog: Catalog, bundle_id: BundleId, *, settings: VisionSettings, who: str = ""
) -> tuple[str, ...]:
    """Put the leaves back as they lay before the last order that still stands.

    Leaves taken in since then stay behind the leaf that they follow now.

    Raises
    ------
    EntryFaulty
        If there is nothing left to undo.
    """
    present = _present(catalog, bundle_id)
    standing = standing_orders(catalog.order_corrections(bundle_id))
    if not standing:
        raise EntryFaulty("The order of this bundle was not changed; there is nothing to undo.")
    back = [label for label in standing[-1].before if label in present]
    for at, label in enumerate(present):
        if label not in back:
            back.insert(back.index(present[at - 1]) + 1 if at else 0, label)
    return _put(catalog, bundle_id, OrderAct.UNDONE, back, present, settings, who)


def standing_orders(done: Sequence[OrderCorrection]) -> tuple[OrderCorrection, ...]:
    """Return the orders set and not taken back, oldest first."""
    standing: list[OrderCorrection] = []
    for one in done:
        if one.act is OrderAct.SET:
            standing.append(one)
        elif standing:
            standing.pop()
    return tuple(standing)


def _present(catalog: Catalog, bundle_id: BundleId) -> tuple[str, ...]:
    catalog.bundle(bundle_id)
    return tuple(leaf.label for leaf in catalog.leaves(bundle_id))


def _put(
    catalog: Catalog,
    bundle_id: BundleId,
    act: OrderAct,
    labels: Sequence[str],
    before: Sequence[str],
    settings: VisionSettings,
    who: str,
) -> tuple[str, ...]:
    seen = len(catalog.order_corrections(bundle_id))
    correction = OrderCorrection(
        bundle_id, act, tuple(labels), tuple(before), at=catalog.now(), who=who
    )
    catalog.record_order(correction, seen=seen)
    finish_bundle(bundle_id, catalog=catalog, settings=settings)
    return _present(catalog, bundle_id)
