"""``measure``: size, colour and figure of the leaves in photographs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import click

from catalog.set_words import size_mm
from ui.commands.at_station import chosen_station, station_option
from ui.commands.exits import finish
from ui.commands.folder_reading import ShotRead, open_photos, read_photos
from ui.commands.text_table import text_table
from ui.commands.where import catalog_options
from ui.records import measured_record
from ui.settings_file import read_settings
from ui.words import flags_words


@click.command()
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Write records for other programs.")
@station_option
@catalog_options
def measure(
    photos: tuple[Path, ...],
    *,
    as_json: bool,
    station_name: str | None,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Measure the leaves in PHOTOS: files, or folders of them.

    Length and width are taken from marker rails in the picture, else from a shots.csv beside
    the photograph. At a station each photograph stands for itself: its own chart and greys.
    """
    settings = read_settings().vision
    known = chosen_station(station_name, catalog_url=catalog_url, pictures=pictures)
    station = None if known is None else known.station
    opened = open_photos(photos, settings=settings, station=station)
    read, refused = read_photos(opened, settings=settings)
    if as_json:
        records = [
            measured_record(entry.shot, entry.reading, leaf)
            for entry in read
            for leaf in entry.reading.leaves
        ]
        records += [{"file": refusal.file, "refused": refusal.reason} for refusal in refused]
        click.echo(json.dumps(records, indent=2, ensure_ascii=False))
    elif read:
        click.echo(_table(read))
    finish(done=len(read), refused=refused)


def _table(read: Sequence[ShotRead]) -> str:
    rows = [("Photograph", "Leaf", "Size", "L*", "a*", "b*", "Grain", "Stripes", "Look at")]
    for entry in read:
        for leaf in entry.reading.leaves:
            colour, figure = leaf.colour, leaf.figure
            grain, stripes = figure.grain_angle_deg, figure.cross_figure_period_mm
            rows.append(
                (
                    entry.reading.file,
                    leaf.leaf,
                    size_mm(leaf.size),
                    f"{colour.lightness:.1f}",
                    f"{colour.a:.1f}",
                    f"{colour.b:.1f}",
                    "–" if grain is None else f"{grain:.1f}°",
                    "–" if stripes is None else f"every {stripes:.0f} mm",
                    flags_words(entry.reading.flags),
                )
            )
    return text_table(rows)
