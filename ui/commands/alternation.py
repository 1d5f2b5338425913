"""``alternation``: which neighbours will show light and dark, under which lamp."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import click

from catalog.catalog import open_catalog
from catalog.records import BundleId
from ui.commands.alternation_table import alternation_table
from ui.commands.exits import finish
from ui.commands.folder_reading import ShotRead, open_photos, read_photos
from ui.commands.where import catalog_options
from ui.records import pair_record, refused_record
from ui.settings_file import read_settings
from vision.alternation import SeenLeaf, predict_alternation
from vision.readings import PairAlternation
from vision.shot_list import Refusal


@click.command()
@click.argument(
    "folder", required=False, type=click.Path(path_type=Path, exists=True, file_okay=False)
)
@click.option("--bundle", "bundle", type=int, metavar="NUMBER", help="A bundle of the catalogue.")
@click.option("--match", type=click.Choice(["book", "slip"]), default="book", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Write records for other programs.")
@catalog_options
def alternation(
    folder: Path | None,
    *,
    bundle: int | None,
    match: str,
    as_json: bool,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Say for each pair of neighbours how light and dark they will show.

    Reads the photographs in FOLDER (no catalogue is needed), or takes a bundle of the catalogue.
    Neighbours are the leaves in the order of the shot list. Steps are L* of the right leaf minus
    L* of the left leaf, the left one as it lies.
    """
    if (folder is None) == (bundle is None):
        raise click.UsageError("Name either a FOLDER of photographs or a --bundle, not both.")
    refused: list[Refusal] = []
    if folder is not None:
        read, refused = _read(folder)
        pairs = _predict(read, match)
        done = len(read)
    else:
        with open_catalog(catalog_url, pictures=pictures) as catalog:
            known = catalog.bundle(BundleId(bundle or 0))
            pairs = catalog.alternation(known.bundle_id, match=match)
        done = len(pairs)
    if as_json:
        records = {
            "pairs": [pair_record(pair) for pair in pairs],
            "refused": [refused_record(refusal) for refusal in refused],
        }
        click.echo(json.dumps(records, indent=2, ensure_ascii=False))
    elif pairs:
        click.echo(alternation_table(pairs))
    else:
        click.echo("No two leaves to compare.", err=True)
    finish(done=done, refused=refused)


def _read(folder: Path) -> tuple[list[ShotRead], list[Refusal]]:
    settings = read_settings().vision
    return read_photos(open_photos([folder], settings=settings), settings=settings)


def _predict(read: Sequence[ShotRead], match: str) -> tuple[PairAlternation, ...]:
    order = tuple(dict.fromkeys(leaf for entry in read for leaf in entry.shot.leaves))
    seen = [
        SeenLeaf(entry.shot, tuple(leaf.light for leaf in entry.reading.leaves)) for entry in read
    ]
    return predict_alternation(order, seen, match=match, settings=read_settings().vision)
