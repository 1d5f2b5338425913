"""``alternation``: which neighbours will show light and dark, under which lamp."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from catalog.catalog import open_catalog
from catalog.finish_file import read_finish_file
from catalog.light_words import RAW_WORDS
from catalog.records import BundleId
from catalog.seen_leaves import SeenBundle, seen_in, seen_leaves
from ui.commands.alternation_table import alternation_table
from ui.commands.at_station import chosen_station, station_option
from ui.commands.exits import finish as leave
from ui.commands.folder_reading import ShotRead, read_photos
from ui.commands.forecast import Asked, forecast
from ui.commands.light_options import ALL, chosen_rooms, light_options
from ui.commands.order import find_order
from ui.commands.where import catalog_options
from ui.records import pair_record, refused_record
from ui.settings_file import read_settings
from vision.alternation import TURNED_IN, predict_alternation
from vision.finish import Finish
from vision.folder_walk import open_folder
from vision.laying import compose
from vision.readings import PairAlternation
from vision.room_alternation import predict_rooms
from vision.room_lights import Room, Triple
from vision.shooting_station import ShootingStation
from vision.shot import Laid, Shot
from vision.shot_list import Refusal
from vision.stack_order import Known, StackOrder
from vision.stack_views import StackViews


@click.command()
@click.argument(
    "folder", required=False, type=click.Path(path_type=Path, exists=True, file_okay=False)
)
@click.option("--bundle", "bundle", type=int, metavar="NUMBER", help="A bundle of the catalogue.")
@click.option(
    "--match",
    type=click.Choice([*TURNED_IN, ALL]),
    default="book",
    show_default=True,
    help=f"{ALL}: judge every match and say which to take.",
)
@light_options
@click.option(
    "--finish",
    "finish_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Speak of the leaves as finished, in lights of --room or --lamp-at (see `finish`).",
)
@click.option("--by-leaf", is_flag=True, help="Which leaf breaks the pattern, which was turned.")
@click.option("--worst-light", is_flag=True, help="Where a lamp shows it worst, and where not.")
@click.option(
    "--recover-order",
    is_flag=True,
    help="Neighbours are the leaves in the log order that the photographs show.",
)
@click.option("--json", "as_json", is_flag=True, help="Write records for other programs.")
@station_option
@catalog_options
def alternation(
    folder: Path | None,
    *,
    bundle: int | None,
    match: str,
    room_names: tuple[str, ...],
    lamp_at: Triple | None,
    eye_at: Triple | None,
    finish_file: Path | None,
    by_leaf: bool,
    worst_light: bool,
    recover_order: bool,
    as_json: bool,
    station_name: str | None,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Say for each pair of neighbours how light and dark they will show.

    Reads the photographs in FOLDER (no catalogue is needed, but for --station), or takes a bundle
    of the catalogue. At a station too, the photographs of a folder share one scale of lightness.
    Neighbours are the leaves in the order of the shot list, or in the order recovered from the
    photographs. Steps are L* of the right leaf minus L* of the left leaf, the left one as it lies;
    in an end match right is lower. A light named by --room or placed by --lamp-at was not
    photographed: it is worked out from how the fibres slope and shine, which takes photographs of
    each leaf under both lamps, or turned under one.
    """
    if (folder is None) == (bundle is None):
        raise click.UsageError("Name either a FOLDER of photographs or a --bundle, not both.")
    if bundle is not None and station_name is not None:
        raise click.UsageError("--station goes with a FOLDER; a --bundle was measured already.")
    if bundle is not None and recover_order:
        raise click.UsageError("--recover-order goes with a FOLDER of photographs.")
    read: list[ShotRead] = []
    refused: list[Refusal] = []
    if folder is not None:
        known = chosen_station(station_name, catalog_url=catalog_url, pictures=pictures)
        views = StackViews() if recover_order else None
        read, refused = _read(folder, None if known is None else known.station, views)
        seen = _seen(read, None if views is None else find_order(views.leaves(), Known()))
    else:
        with open_catalog(catalog_url, pictures=pictures) as catalog:
            seen = seen_leaves(catalog, catalog.bundle(BundleId(bundle or 0)).bundle_id)
    rooms = chosen_rooms(room_names, lamp_at, eye_at, length_mm=seen.length_mm)
    one_match = "book" if match == ALL else match
    if finish_file is not None and not rooms:
        raise click.UsageError("--finish goes with --room or --lamp-at.")
    finish_known = None if finish_file is None else read_finish_file(finish_file)
    pairs = _predict(seen, one_match, rooms, finish_known)
    asked = Asked(match == ALL, by_leaf, worst_light, one_match, rooms, eye_at)
    more = forecast(seen, asked, settings=read_settings().vision)
    if as_json:
        records = {
            "pairs": [pair_record(pair) for pair in pairs],
            "refused": [refused_record(refusal) for refusal in refused],
            **more.records(),
        }
        click.echo(json.dumps(records, indent=2, ensure_ascii=False))
    elif pairs:
        words = RAW_WORDS if finish_known is None else f"Said of the wood with {finish_known.name}."
        told = [alternation_table(pairs), *([words] if rooms else []), *more.paragraphs()]
        click.echo("\n\n".join(told))
    else:
        click.echo("No two leaves to compare.", err=True)
    leave(done=len(pairs) if folder is None else len(read), refused=refused)


def _read(
    folder: Path, station: ShootingStation | None, views: StackViews | None
) -> tuple[list[ShotRead], list[Refusal]]:
    settings = read_settings().vision
    today = date.today()  # noqa: DTZ011 - the dealer's own calendar
    opened = open_folder(folder, settings=settings, station=station, today=today)
    return read_photos([opened], settings=settings, look=None if views is None else views.add)


def _predict(
    known: SeenBundle, match: str, rooms: Sequence[Room], finish: Finish | None
) -> tuple[PairAlternation, ...]:
    settings = read_settings().vision
    if not rooms:
        return predict_alternation(known.order, known.seen, match=match, settings=settings)
    return predict_rooms(
        known.order,
        known.seen,
        rooms=rooms,
        match=match,
        length_mm=known.length_mm,
        finish=finish,
        settings=settings,
    )


def _seen(read: Sequence[ShotRead], found: StackOrder | None) -> SeenBundle:
    """Return what the photographs show, in list order or in the order found."""
    if found is None:
        return seen_in((entry.shot, entry.reading) for entry in read)
    laid = {leaf.name: leaf.laid for leaf in found.leaves}
    return seen_in(
        ((_in_stack(entry.shot, laid), entry.reading) for entry in read),
        [leaf.name for leaf in found.leaves],
    )


def _in_stack(shot: Shot, laid: Mapping[str, Laid]) -> Shot:
    """Return a shot as seen from the first leaf of the stack, which others may lie turned to."""
    if len(shot.leaves) != 1 or shot.leaf not in laid:
        return shot
    return replace(shot, laid=compose(laid[shot.leaf], shot.laid))
