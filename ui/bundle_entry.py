"""Find a flitch and bundle by their names, or enter them: for `take-in` and its screen."""

from __future__ import annotations

from catalog.catalog import Catalog
from catalog.records import BundleId, Flitch

CUTS = ("crown cut", "quartered", "rift", "half round", "rotary", "sawn")
"""Proposals only: another word may be typed."""


def flitch_named(catalog: Catalog, name: str) -> Flitch | None:
    """Return the flitch of exactly this name, None if there is none."""
    found = catalog.find_flitches(text=name)
    return next((card.flitch for card in found if card.flitch.name == name), None)


def bundle_for(catalog: Catalog, *, flitch: str, species: str, cut: str, label: str) -> BundleId:
    """Return the bundle ``label`` of the flitch named ``flitch``; what is missing is entered.

    ``species`` and ``cut`` are written down with a new flitch only.
    """
    known = flitch_named(catalog, flitch)
    if known is None:
        flitch_id = catalog.add_flitch(name=flitch, species=species, cut=cut)
    else:
        flitch_id = known.flitch_id
    for bundle in catalog.bundles(flitch_id):
        if bundle.label == label:
            return bundle.bundle_id
    return catalog.add_bundle(flitch_id, label=label)
