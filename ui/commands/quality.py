"""``quality``: how far one photograph can be trusted, as a picture."""

from __future__ import annotations

from pathlib import Path

import click

from catalog.quality_sheet import draw_quality_sheet
from ui.commands.at_station import chosen_station, station_option
from ui.commands.exits import finish
from ui.commands.folder_reading import open_photos, read_photos
from ui.commands.where import catalog_options
from ui.settings_file import read_settings
from vision.photo import read_photo

PICTURE_PX = 1500
"""Long side to which the photograph is opened for the sheet, or more."""


@click.command()
@click.argument("photo", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="Picture to write: .png.",
)
@station_option
@catalog_options
def quality(
    photo: Path,
    *,
    out: Path,
    station_name: str | None,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Draw the quality sheet of PHOTO: where its millimetres and colour come from, and how good.

    Leaf, lamp and size are taken from a shots.csv beside the photograph, if there is one.
    With --station rails, chart and greys are held against that station.
    """
    if out.suffix.lower() != ".png":
        raise click.UsageError(f"{out.name} must end in .png.")
    settings = read_settings().vision
    known = chosen_station(station_name, catalog_url=catalog_url, pictures=pictures)
    station = None if known is None else known.station
    opened = open_photos([photo], settings=settings, station=station)
    read, refused = read_photos(opened, settings=settings)
    if read:
        shown = read_photo(photo, settings=settings, least_long_px=PICTURE_PX)
        out.parent.mkdir(parents=True, exist_ok=True)
        draw_quality_sheet(shown.rgb, read[0].reading).save(out, optimize=True)
        click.echo(out)
    finish(done=len(read), refused=refused)
