"""``order``: the leaves of a shuffled stack in log order, and how each lies."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import click

from catalog.catalog import open_catalog
from catalog.errors import EntryFaulty
from catalog.records import BundleId
from catalog.stored_stack import stored_stack
from ui.commands.at_station import chosen_station, station_option
from ui.commands.bundle_source import bundle_source
from ui.commands.exits import finish
from ui.commands.folder_reading import read_photos
from ui.commands.order_against import read_record, tell_against
from ui.commands.order_blink import blink_wish, tell_blink
from ui.commands.progress import with_bar
from ui.commands.seen_stack import SeenStack
from ui.commands.text_table import text_table
from ui.commands.where import catalog_options
from ui.known_order import read_known
from ui.settings_file import read_settings
from ui.words import LAID_WORDS, sure_words
from vision.folder_walk import open_folder
from vision.order_leaves import STEPS, order_in_steps
from vision.order_words import order_words
from vision.shooting_station import ShootingStation
from vision.stack_order import Known, StackLeaf, StackOrder
from vision.stack_views import StackViews

Record = dict[str, Any]


@click.command()
@click.argument(
    "folder", required=False, type=click.Path(path_type=Path, exists=True, file_okay=False)
)
@click.option("--bundle", "bundle", type=int, metavar="NUMBER", help="A bundle of the catalogue.")
@click.option(
    "--known",
    "known_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A table with the column leaf and any of number, bundle, place and laid: the order "
    "keeps to it.",
)
@click.option(
    "--against",
    "record",
    type=int,
    metavar="NUMBER",
    help="The bundle of the catalogue that FOLDER shows again: what is gone, moved, turned or of "
    "another flitch.",
)
@click.option(
    "--blink",
    nargs=2,
    metavar="LEFT RIGHT",
    help="Write these two leaves in turn, laid on each other, as a moving picture.",
)
@click.option(
    "--out",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    help="With --blink: picture to write, .gif (opens everywhere), .webp or .png.",
)
@click.option(
    "--seconds",
    type=float,
    default=0.8,
    show_default=True,
    help="With --blink: how long each leaf shows, 0.34 at least.",
)
@click.option(
    "--stretch",
    nargs=2,
    type=float,
    metavar="FROM TO",
    help="With --blink: only this stretch, in mm from the top end.",
)
@click.option("--json", "as_json", is_flag=True, help="Write records for other programs.")
@station_option
@catalog_options
def order(
    folder: Path | None,
    *,
    bundle: int | None,
    known_file: Path | None,
    record: int | None,
    blink: tuple[str, str] | None,
    out: Path | None,
    seconds: float,
    stretch: tuple[float, float] | None,
    as_json: bool,
    station_name: str | None,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Put the leaves photographed in FOLDER, or those of a --bundle, back in log order.

    One photograph a leaf is enough; both faces, or both lamps, make it surer. The order is told
    from one end of the stack or the other: photographs do not show which end was up.
    """
    known = Known() if known_file is None else read_known(known_file)
    if (folder is None) == (bundle is None):
        raise click.UsageError("Name either a FOLDER of photographs or a --bundle, not both.")
    if record is not None and (folder is None or known_file is not None):
        raise click.UsageError("--against compares a FOLDER with a bundle, and takes no --known.")
    wish = blink_wish(blink, out, seconds=seconds, stretch=stretch)
    if wish is not None:
        if record is not None or station_name is not None:
            raise click.UsageError(
                "--blink goes with neither --against nor --station. Take photographs of a station "
                "in first, then name their --bundle."
            )
        with bundle_source(folder, bundle, catalog_url=catalog_url, pictures=pictures) as source:
            tell_blink(source, wish, known, as_json=as_json)
            refused = source.refused
        finish(done=1, refused=refused)
        return
    recorded = None
    if record is not None:
        recorded = read_record(BundleId(record), catalog_url=catalog_url, pictures=pictures)
    if folder is None:
        seen = _see_bundle(BundleId(bundle or 0), catalog_url=catalog_url, pictures=pictures)
    else:
        station = chosen_station(station_name, catalog_url=catalog_url, pictures=pictures)
        seen = see_stack(folder, None if station is None else station.station)
    if not seen.leaves:
        finish(done=0, refused=seen.refused)
    if recorded is not None:
        tell_against(seen, recorded, bundle=record or 0, as_json=as_json)
        finish(done=len(seen.leaves), refused=seen.refused)
        return
    found = find_order(seen.leaves, known)
    if as_json:
        click.echo(json.dumps(order_record(seen, found), indent=2, ensure_ascii=False))
    else:
        click.echo(_table(seen, found))
        click.echo()
        for sentence in order_words([leaf.name for leaf in seen.leaves], found):
            click.echo(sentence)
    finish(done=len(found.leaves), refused=seen.refused)


def see_stack(folder: Path, station: ShootingStation | None) -> SeenStack:
    """Read a folder behind a progress bar, keeping of each leaf what its order needs."""
    settings = read_settings().vision
    today = date.today()  # noqa: DTZ011 - the dealer's own calendar
    opened = open_folder(folder, settings=settings, station=station, today=today)
    views = StackViews()
    read, refused = read_photos([opened], settings=settings, look=views.add)
    files: dict[str, str] = {}
    for entry in read:
        for name in entry.shot.leaves:
            files.setdefault(name, entry.shot.file)
    return SeenStack(views.leaves(), files, tuple(refused))


def _see_bundle(bundle_id: BundleId, *, catalog_url: str | None, pictures: str | None) -> SeenStack:
    """Read a bundle from its kept pictures, its leaves as the catalogue has them in order."""
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        catalog.bundle(bundle_id)
        photos = catalog.photos(bundle_id)
        cards = catalog.leaves(bundle_id)
        if not cards:
            raise EntryFaulty(
                f"Bundle {bundle_id} holds no leaf yet. Take its photographs in, then ask again."
            )
        drawn = with_bar(
            stored_stack(catalog, photos), length=len(cards), label="Reading the pictures"
        )
        by_name = {leaf.name: leaf for leaf in drawn}
    files: dict[str, str] = {}
    for photo in photos:
        for name in photo.shot.leaves:
            files.setdefault(name, photo.shot.file)
    return SeenStack(tuple(by_name[card.label] for card in cards), files, ())


def find_order(leaves: Sequence[StackLeaf], known: Known) -> StackOrder:
    """Put leaves in order behind a progress bar."""
    steps = order_in_steps(leaves, known)
    *_, last = with_bar(steps, length=STEPS + 1, label="Finding the order")
    if not isinstance(last, StackOrder):
        raise TypeError("The last step is no order.")
    return last


def order_record(seen: SeenStack, found: StackOrder) -> Record:
    """Return an order as other programs read it."""
    files = seen.files
    return {
        "leaves": [
            {
                "file": files[leaf.name],
                "leaf": leaf.name,
                "position": leaf.position + 1,
                "laid": str(leaf.laid),
                "confidence": round(leaf.confidence, 3),
            }
            for leaf in found.leaves
        ],
        "gaps": [
            {"after_file": files[gap.after], "likelihood": round(gap.likelihood, 3)}
            for gap in found.gaps
        ],
        "reversed_stretch_warning": bool(found.stretches),
        "reversed_stretches": [
            {
                "first_file": files[one.first],
                "last_file": files[one.last],
                "likelihood": round(one.likelihood, 3),
            }
            for one in found.stretches
        ],
        "duplicates": [
            {
                "files": [files[one.first], files[one.second]],
                "likelihood": round(one.likelihood, 3),
            }
            for one in found.twins
        ],
        "same_cut": [[files[one], files[other]] for one, other in found.same_cut],
        "summary": list(order_words([leaf.name for leaf in seen.leaves], found)),
        "refused": [{"file": one.file, "reason": one.reason} for one in seen.refused],
    }


def _table(seen: SeenStack, found: StackOrder) -> str:
    rows = [("Place", "Leaf", "File", "Lies", "Sure")]
    rows += [
        (
            str(leaf.position + 1),
            leaf.name,
            seen.files[leaf.name],
            LAID_WORDS[leaf.laid],
            sure_words(leaf.confidence),
        )
        for leaf in found.leaves
    ]
    return text_table(rows)
