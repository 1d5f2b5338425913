"""``place``: the flitch, the place and the laying of a loose leaf, or that it is not in stock."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import click

from catalog.catalog import Catalog, open_catalog
from catalog.loose_leaf import LoosePlace, draw_traces, find_place, read_stock, stock_to_search
from ui.commands.at_station import station_option
from ui.commands.exits import finish
from ui.commands.folder_reading import open_photos, read_photos
from ui.commands.progress import with_bar
from ui.commands.where import catalog_options
from ui.loose_words import loose_record, loose_sentences
from ui.settings_file import read_settings
from vision.leaf_image import LeafImage
from vision.shooting_station import ShootingStation
from vision.shot import Shot
from vision.shot_list import Refusal
from vision.stack_order import StackLeaf
from vision.stack_views import StackViews

Seen = tuple[str, StackLeaf]
"""The file of a photograph, and a leaf in it."""


@click.command()
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Write records for other programs.")
@station_option
@catalog_options
def place(
    photos: tuple[Path, ...],
    *,
    as_json: bool,
    station_name: str | None,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Tell which flitch the loose leaf in each of PHOTOS is of, and where in it it belongs.

    Every leaf of the catalogue is looked through, in all four layings. Photograph the leaf whole,
    on the plain board, as for a take-in.
    """
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        leaves = stock_to_search(catalog)
        station = None if station_name is None else catalog.station_named(station_name).station
        seen, refused = _see(photos, station)
        found: list[tuple[str, LoosePlace]] = []
        if seen:
            drawing = draw_traces(catalog, leaves)
            for _ in with_bar(drawing, length=len(leaves), label="Drawing new leaves"):
                pass
            found = _find(seen, catalog=catalog)
    if as_json:
        records = [loose_record(file, one) for file, one in found]
        refusals = [{"file": one.file, "reason": one.reason} for one in refused]
        click.echo(
            json.dumps({"leaves": records, "refused": refusals}, indent=2, ensure_ascii=False)
        )
    else:
        for file, one in found:
            click.echo(f"{file}: {' '.join(loose_sentences(one))}")
    finish(done=len(found), refused=refused)


def _see(
    photos: Sequence[Path], station: ShootingStation | None
) -> tuple[list[Seen], list[Refusal]]:
    """Read photographs behind a progress bar, each for itself."""
    settings = read_settings().vision
    seen: list[Seen] = []

    def look(shot: Shot, leaves: Sequence[LeafImage]) -> None:
        views = StackViews()
        views.add(shot, leaves)
        seen.extend((shot.file, leaf) for leaf in views.leaves())

    opened = open_photos(photos, settings=settings, station=station)
    _, refused = read_photos(opened, settings=settings, look=look)
    return seen, refused


def _find(seen: Sequence[Seen], *, catalog: Catalog) -> list[tuple[str, LoosePlace]]:
    stock = read_stock(catalog)
    bar = with_bar(seen, length=len(seen), label="Looking through the catalogue")
    return [(file, find_place(leaf, stock, catalog=catalog)) for file, leaf in bar]
