"""``matches``: every match by name, and the drawing that shows them."""

from __future__ import annotations

from pathlib import Path

import click

from catalog.match_chart import match_chart
from ui.commands.text_table import text_table
from vision.match_layout import Match
from vision.match_names import MATCH_NAMES


@click.command("matches")
@click.option(
    "--drawing",
    type=click.Path(path_type=Path, dir_okay=False),
    help="SVG to write: every match drawn, with its names.",
)
def matches(drawing: Path | None) -> None:
    """Tell what each match is, by the name that `match --match` takes."""
    rows = [("Name", "Kind", "What it is")]
    for match in Match:
        named = MATCH_NAMES[match]
        also = f" Also called {named.also}." if named.also else ""
        rows.append((match.value, named.family.value, f"{named.sentence}{also}"))
    click.echo(text_table(rows))
    if drawing is not None:
        drawing.parent.mkdir(parents=True, exist_ok=True)
        drawing.write_text(match_chart(), "utf-8")
        click.echo(f"{drawing}: every match drawn")
