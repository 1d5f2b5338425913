"""``order --against``: a bundle photographed again, compared with its record in the catalogue."""

from __future__ import annotations

import json

import click

from catalog.catalog import open_catalog
from catalog.errors import EntryFaulty
from catalog.records import BundleId
from catalog.stored_stack import stored_stack
from ui.commands.progress import with_bar
from ui.commands.seen_stack import SeenStack
from ui.commands.text_table import text_table
from ui.record_words import check_record_json, check_sentences
from ui.words import LAID_WORDS
from vision.record_check import RecordCheck, check_record
from vision.stack_order import StackLeaf


def read_record(
    bundle_id: BundleId, *, catalog_url: str | None, pictures: str | None
) -> tuple[StackLeaf, ...]:
    """Return the leaves of a bundle as the catalogue has them, in its order."""
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        catalog.bundle(bundle_id)
        cards = catalog.leaves(bundle_id)
        if not cards:
            raise EntryFaulty(
                f"Bundle {bundle_id} holds no leaf yet, so there is nothing to compare with. Take "
                "its photographs in first: python -m ui take-in"
            )
        drawn = with_bar(
            stored_stack(catalog, catalog.photos(bundle_id)),
            length=len(cards),
            label="Reading the record",
        )
        by_name = {leaf.name: leaf for leaf in drawn}
    return tuple(by_name[card.label] for card in cards)


def tell_against(
    seen: SeenStack, record: tuple[StackLeaf, ...], *, bundle: int, as_json: bool
) -> None:
    """Write what became of a bundle since it was catalogued."""
    check = check_record(seen.leaves, record)
    if as_json:
        refused = [{"file": one.file, "reason": one.reason} for one in seen.refused]
        told = {"bundle": bundle, **check_record_json(check, seen.files, refused)}
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
        return
    click.echo(_table(seen, check))
    click.echo()
    for sentence in check_sentences(check, seen.files):
        click.echo(sentence)


def _table(seen: SeenStack, check: RecordCheck) -> str:
    rows = [("File", "Leaf of the record", "Lies against it")]
    for one in check.photographed:
        if one.leaf is not None:
            rows.append((seen.files[one.name], one.leaf, LAID_WORDS[one.laid]))
        else:
            what = "of another flitch" if one.is_foreign else "of this flitch, not recorded"
            rows.append((seen.files[one.name], what, "\u2013"))
    return text_table(rows)
