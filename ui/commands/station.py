"""``station``: set up the place where leaves are photographed, and look at it."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import click

from catalog.catalog import open_catalog
from catalog.reading_json import to_json
from catalog.records import KnownStation
from catalog.station_setting import keep_station, rails_by_tape, try_photo
from catalog.station_setting import set_up as set_up_from
from ui.commands.exits import PlainGroup
from ui.commands.text_table import text_table
from ui.commands.where import catalog_options
from ui.settings_file import read_settings
from ui.station_words import expiry_words, verdict_line, verdict_reasons
from vision.chart_references import EDITIONS, read_chips
from vision.rail_plan import PITCHES_MM
from vision.shooting_station import STATION_DAYS, ShootingStation
from vision.station_verdict import StationVerdict


@click.group(cls=PlainGroup)
def station() -> None:
    """Set up a shooting station: rails by tape, camera, lamps and colour chart."""


@station.command("set-up")
@click.option("--name", required=True, help="Name of the station.")
@click.option(
    "--photo",
    required=True,
    type=click.Path(path_type=Path),
    help="Photograph of rails, bare board and chart, lit as the leaves will be.",
)
@click.option("--left-mm", required=True, type=float, help="First to last marker, left, by tape.")
@click.option("--right-mm", required=True, type=float, help="The same on the right rail.")
@click.option("--gap-top-mm", type=float, help="Between the rails' centre lines, first markers.")
@click.option("--gap-bottom-mm", type=float, help="The same at the last markers.")
@click.option(
    "--pitch-mm",
    type=click.Choice([f"{pitch:g}" for pitch in PITCHES_MM]),
    default="100",
    show_default=True,
    help="Marker to marker, as printed.",
)
@click.option("--camera-height-mm", type=float, help="Lens above the table, for thick stacks.")
@click.option(
    "--chart",
    "edition",
    metavar="EDITION",
    help=f"Edition of the 24-patch chart ({', '.join(EDITIONS)}), or a list name,L,a,b (D50).",
)
@click.option("--chart-patch-mm", type=float, default=40.0, show_default=True)
@click.option(
    "--chips",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Wood of known colour on the table: a list name,L,a,b,x_mm,y_mm.",
)
@click.option("--lamps", default="", help="Which lamps, in your words.")
@click.option("--camera", default="", help="Camera and lens, in your words.")
@click.option("--days", type=click.IntRange(1, 3650), default=STATION_DAYS, show_default=True)
@catalog_options
def set_up(
    name: str,
    photo: Path,
    *,
    left_mm: float,
    right_mm: float,
    gap_top_mm: float | None,
    gap_bottom_mm: float | None,
    pitch_mm: str,
    camera_height_mm: float | None,
    edition: str | None,
    chart_patch_mm: float,
    chips: Path | None,
    lamps: str,
    camera: str,
    days: int,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Set a station up from one photograph and what a steel tape says."""
    rails = rails_by_tape(
        left_mm=left_mm,
        right_mm=right_mm,
        gap_top_mm=gap_top_mm,
        gap_bottom_mm=gap_bottom_mm,
        pitch_mm=float(pitch_mm),
    )
    typed = ShootingStation(
        name=name,
        made_on=date.today(),  # noqa: DTZ011 - the dealer's own calendar
        camera=camera,
        lamps=lamps,
        rails=rails,
        camera_height_mm=camera_height_mm,
        chart_edition=edition,
        chart_patch_mm=chart_patch_mm,
        chips=() if chips is None else read_chips(chips),
        days=days,
    )
    today = typed.made_on
    tried = set_up_from(photo, typed, settings=read_settings().vision, today=today)
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        keep_station(tried, catalog=catalog)
    click.echo(f"Station {tried.station.name} is set up; it {expiry_words(tried.station, today)}.")
    _say(tried.verdict)


@station.command("verdict")
@click.argument("photo", type=click.Path(path_type=Path))
@click.option(
    "--station", "name", required=True, metavar="NAME", help="Station to hold it against."
)
@click.option("--json", "as_json", is_flag=True, help="Write a record for other programs.")
@catalog_options
def verdict(
    photo: Path, *, name: str, as_json: bool, catalog_url: str | None, pictures: str | None
) -> None:
    """Say how sure millimetres and colour of PHOTO are at a station; nothing is recorded."""
    today = date.today()  # noqa: DTZ011 - the dealer's own calendar
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        known = catalog.station_named(name)
    tried = try_photo(photo, known, settings=read_settings().vision, today=today)
    if as_json:
        click.echo(json.dumps(to_json(tried.verdict), indent=2, ensure_ascii=False))
    else:
        _say(tried.verdict)


def _say(verdict: StationVerdict) -> None:
    for line in (verdict_line(verdict), *verdict_reasons(verdict)):
        click.echo(line)


@station.command("list")
@click.option("--json", "as_json", is_flag=True, help="Write records for other programs.")
@catalog_options
def list_stations(*, as_json: bool, catalog_url: str | None, pictures: str | None) -> None:
    """List the stations of the catalogue and until when they hold."""
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        known = catalog.stations()
    if as_json:
        records = [to_json(one.station) for one in known]
        click.echo(json.dumps(records, indent=2, ensure_ascii=False))
    elif known:
        today = date.today()  # noqa: DTZ011 - the dealer's own calendar
        rows = [("Station", "Set up", "Believed", "Rails", "Chart", "Lamps")]
        click.echo(text_table([*rows, *(_row(one, today) for one in known)]))
    else:
        click.echo("No station is set up yet.")


def _row(known: KnownStation, today: date) -> tuple[str, ...]:
    one = known.station
    rails = "–" if one.rails is None else f"{one.rails.left_length_mm:.0f} mm"
    return (
        one.name,
        one.made_on.isoformat(),
        expiry_words(one, today),
        rails,
        one.chart_edition or "–",
        one.lamps or "–",
    )
