"""``python -m sample_images``: draw a flitch into a folder."""

from __future__ import annotations

from pathlib import Path

import click

from sample_images.draw import draw_flitch
from sample_images.plan import BOARDS, CUTS, FIGURES, FlitchPlan
from sample_images.species import SPECIES


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option("--seed", default=1, show_default=True)
@click.option("--species", type=click.Choice(list(SPECIES)), default="walnut", show_default=True)
@click.option("--cut", type=click.Choice(CUTS), default="plain", show_default=True)
@click.option("--figure", type=click.Choice(FIGURES), default="none", show_default=True)
@click.option("--leaves", default=8, show_default=True)
@click.option("--length-mm", default=2000.0, show_default=True)
@click.option("--width-mm", default=240.0, show_default=True)
@click.option("--board", type=click.Choice(list(BOARDS)), default="mid", show_default=True)
@click.option("--strip/--no-strip", default=True, show_default=True)
@click.option("--rails/--no-rails", default=False, show_default=True)
@click.option("--photo-px", nargs=2, type=int, default=(4000, 6000), show_default=True)
@click.option(
    "--shot",
    "shots",
    multiple=True,
    default=("as-lies/A", "as-lies/B"),
    show_default=True,
    help="LAID/LAMP, as often as wanted: as-lies, end-turned, face-over, end-over, opened-pair or "
    "blank, and A, B, side or both.",
)
@click.option("--label", default="", help="Opens the file names.")
def main(folder: Path, **plan: object) -> None:
    """Draw a flitch of leaves as photographs into FOLDER, with shots.csv and truth.json."""
    try:
        drawn = FlitchPlan(**plan)  # type: ignore[arg-type]
    except ValueError as error:
        raise click.ClickException(str(error)) from error
    for path in draw_flitch(drawn, folder):
        click.echo(path)


if __name__ == "__main__":
    main()
