"""``match``: leaves laid in a match, as a picture."""

from __future__ import annotations

from pathlib import Path

import click

from catalog.match_preview import preview_match
from ui.commands.alternation_table import alternation_table
from ui.commands.bundle_source import bundle_source
from ui.commands.exits import finish
from ui.commands.where import catalog_options
from ui.leaf_choice import choose_leaves
from vision.match_layout import Match
from vision.picture_file import PictureKind
from vision.shot import Lamp

KINDS = {
    ".jpg": PictureKind.JPEG,
    ".jpeg": PictureKind.JPEG,
    ".png": PictureKind.PNG,
    ".tif": PictureKind.TIFF,
    ".tiff": PictureKind.TIFF,
}


@click.command("match")
@click.argument(
    "folder", required=False, type=click.Path(path_type=Path, exists=True, file_okay=False)
)
@click.option("--bundle", "bundle", type=int, metavar="NUMBER", help="A bundle of the catalogue.")
@click.option("--leaves", default="", metavar="01-04", help="Which leaves; else all of them.")
@click.option(
    "--match",
    type=click.Choice([match.value for match in Match]),
    default="book",
    show_default=True,
)
@click.option("--lamp", type=click.Choice(["A", "B"]), default="A", show_default=True)
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="Picture to write: .jpg, .png or .tif.",
)
@click.option(
    "--long-px", type=click.IntRange(50, 20000), default=1600, show_default=True, help="Long side."
)
@catalog_options
def match_command(
    folder: Path | None,
    *,
    bundle: int | None,
    leaves: str,
    match: str,
    lamp: str,
    out: Path,
    long_px: int,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Lay leaves in a match and write what it will look like under one lamp.

    Takes the photographs in FOLDER, or a bundle of the catalogue.
    """
    kind = KINDS.get(out.suffix.lower())
    if kind is None:
        raise click.UsageError(f"{out.name} must end in one of {', '.join(KINDS)}.")
    with bundle_source(folder, bundle, catalog_url=catalog_url, pictures=pictures) as source:
        preview = preview_match(
            source.catalog,
            source.bundle_id,
            choose_leaves(leaves, source.labels),
            match=Match(match),
            lamp=Lamp(lamp),
            long_px=long_px,
        )
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_bytes(preview.file(kind))
        refused = source.refused
    click.echo(f"{out}: {preview.title}")
    joints = [pair for pair in preview.joints if pair is not None]
    if joints:
        click.echo(alternation_table(joints))
    for note in preview.notes:
        click.echo(f"- {note}")
    finish(done=1, refused=refused)
