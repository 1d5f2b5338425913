"""``outline``: a leaf's outline corrected by hand, as on the Bundle screen."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from catalog.catalog import open_catalog
from catalog.outline_correction import SIDES, correct_outline, found_outline, undo_outline
from catalog.records import PhotoId, PhotoRecord
from catalog.set_words import size_mm
from ui.commands.exits import NOTHING_DONE
from ui.commands.where import catalog_options
from ui.settings_file import read_settings
from ui.words import history_line


@click.command("outline")
@click.argument("photo_id", type=int, metavar="PHOTO")
@click.option(
    "--points",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A JSON file: [[x, y], ...], pixels of the full-size photograph.",
)
@click.option("--found", is_flag=True, help="Go back to the outline that the program finds.")
@click.option("--undo", is_flag=True, help="Take the last change back.")
@click.option(
    "--write",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the outline as it stands to a JSON file.",
)
@click.option(
    "--side",
    type=click.Choice(SIDES),
    default=SIDES[0],
    show_default=True,
    help="Which leaf of an opened pair.",
)
@click.option("--who", default="", metavar="NAME", help="Who makes the change, for the record.")
@catalog_options
def outline_command(
    photo_id: int,
    *,
    points: Path | None,
    found: bool,
    undo: bool,
    write: Path | None,
    side: str,
    who: str,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Correct the outline of the leaf in photograph number PHOTO, and measure the leaf again.

    The numbers stand in the Bundle screen's list of photographs. Every change stays on record and
    can be undone. Without an option, the history is shown.
    """
    if sum((points is not None, found, undo)) > 1:
        raise click.UsageError("Name one of --points, --found and --undo.")
    number, at = PhotoId(photo_id), SIDES.index(side)
    settings = read_settings().vision
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        photo = catalog.photo(number)
        if points is not None:
            drawn = _read_points(points)
            photo = correct_outline(catalog, number, drawn, side=at, settings=settings, who=who)
        elif found:
            photo = found_outline(catalog, number, side=at, settings=settings, who=who)
        elif undo:
            photo = undo_outline(catalog, number, side=at, settings=settings, who=who)
        history = catalog.outline_corrections(number)
    if write is not None:
        write.write_text(_points_text(photo, at), encoding="utf-8")
    for leaf in photo.reading.leaves:
        click.echo(f"{photo.shot.file}, leaf {leaf.leaf}: {size_mm(leaf.size)}")
    for correction in history:
        click.echo(f"- {history_line(correction, photo)}")


def _read_points(file: Path) -> Any:
    """Return what the file holds; whether it is an outline is asked further down."""
    try:
        return json.loads(file.read_text(encoding="utf-8"))
    except (ValueError, OSError) as error:
        click.echo(
            f"{file} cannot be read as JSON ({error}). It should hold the outline's points: "
            "[[120, 80], [940, 84], ...]",
            err=True,
        )
        raise click.exceptions.Exit(NOTHING_DONE) from error


def _points_text(photo: PhotoRecord, side: int) -> str:
    leaves = photo.reading.leaves
    outline = leaves[side].outline if side < len(leaves) else ()
    return json.dumps([list(point) for point in outline])
