"""``take-in``: a folder of photographs into the catalogue."""

from __future__ import annotations

import os
from pathlib import Path

import click

from catalog.catalog import Catalog, open_catalog
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.records import AlreadyIn, BundleId, KnownStation, Refused, TakenIn
from catalog.set_words import size_mm
from ui.bundle_entry import bundle_for
from ui.commands.alternation_table import alternation_table
from ui.commands.at_station import station_option
from ui.commands.exits import finish
from ui.commands.progress import with_bar
from ui.commands.text_table import text_table
from ui.commands.where import catalog_options
from ui.settings_file import read_settings
from ui.words import flags_words
from vision.settings import VisionSettings

MOST_WORKERS = 4
"""Each holds one photograph as floating point numbers: up to a gigabyte."""
MANY_SHOTS = 16
"""Below, starting further processes takes longer than they save."""


@click.command("take-in")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.option("--flitch", required=True, metavar="NAME", help="Name or number of the flitch.")
@click.option("--species", default="", help="For a new flitch.")
@click.option("--cut", default="", help="For a new flitch: crown cut, quartered, ...")
@click.option("--bundle", "label", default="1", show_default=True, metavar="LABEL")
@click.option(
    "--workers",
    type=click.IntRange(1, 64),
    default=None,
    help="Photographs measured at once; else one a processor core, four at most.",
)
@station_option
@catalog_options
def take_in_command(
    folder: Path,
    *,
    flitch: str,
    species: str,
    cut: str,
    label: str,
    workers: int | None,
    station_name: str | None,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Take the photographs in FOLDER into the catalogue.

    Interrupted? Run the same command again: what is in stays in, and nothing comes in twice.
    """
    settings = read_settings().vision
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        station = None if station_name is None else catalog.station_named(station_name)
        bundle_id = bundle_for(catalog, flitch=flitch, species=species, cut=cut, label=label)
        done, refused = take_in_folder(
            folder,
            bundle_id,
            catalog=catalog,
            settings=settings,
            workers=workers,
            station=station,
        )
        click.echo(bundle_report(catalog, bundle_id))
    finish(done=done, refused=refused)


def take_in_folder(
    folder: Path,
    bundle_id: BundleId,
    *,
    catalog: Catalog,
    settings: VisionSettings,
    workers: int | None = None,
    station: KnownStation | None = None,
) -> tuple[int, list[Refused]]:
    """Take a folder in behind a progress bar; return how many photographs are in, and refusals.

    Without ``workers``, small folders are measured by this process alone.
    """
    plan = plan_intake(folder, bundle_id, catalog=catalog)
    if workers is None:
        workers = min(os.cpu_count() or 1, MOST_WORKERS) if len(plan.shots) >= MANY_SHOTS else 1
    outcomes = take_in(plan, catalog=catalog, settings=settings, workers=workers, station=station)
    refused: list[Refused] = []
    done = 0
    for outcome in with_bar(outcomes, length=plan.total, label=f"Taking in {folder.name}"):
        match outcome:
            case Refused():
                refused.append(outcome)
            case TakenIn() | AlreadyIn():
                done += 1
    finish_bundle(bundle_id, catalog=catalog, settings=settings)
    return done, refused


def bundle_report(catalog: Catalog, bundle_id: BundleId) -> str:
    """Return leaf order and alternation of a bundle as text."""
    bundle = catalog.bundle(bundle_id)
    flitch = catalog.flitch(bundle.flitch_id)
    rows = [("Place", "Leaf", "Size", "L*", "a*", "b*", "Look at")]
    rows += [
        (
            str(leaf.position),
            leaf.label,
            size_mm(leaf.size),
            f"{leaf.colour.lightness:.1f}",
            f"{leaf.colour.a:.1f}",
            f"{leaf.colour.b:.1f}",
            flags_words(leaf.flags),
        )
        for leaf in catalog.leaves(bundle_id)
    ]
    head = f"{flitch.name}, bundle {bundle.label} (number {bundle.bundle_id} in the catalogue)"
    pairs = catalog.alternation(bundle_id)
    parts = [head, "", "Leaves in order", text_table(rows)]
    if pairs:
        parts += ["", "Light and dark if book matched", alternation_table(pairs)]
    return "\n".join(parts)
