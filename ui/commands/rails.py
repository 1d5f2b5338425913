"""``rails``: the marker rails of a shooting station, to print and glue."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from catalog.rails_layout import RailsPaper
from catalog.rails_sheets import make_rails


@click.command()
@click.option(
    "--length-mm",
    type=float,
    required=True,
    metavar="MM",
    help="First marker to last, at most; as long as your longest leaf, up to 3500.",
)
@click.option("--pitch-mm", type=float, default=100.0, show_default=True, help="100 or 400.")
@click.option(
    "--paper",
    type=click.Choice([paper.value for paper in RailsPaper]),
    default=RailsPaper.A4.value,
    show_default=True,
)
@click.option(
    "--gap-mm",
    type=float,
    default=700.0,
    show_default=True,
    help="Centre line to centre line of the rails; the stop is made to fit.",
)
@click.option(
    "--chart-patch-mm",
    type=float,
    default=40.0,
    show_default=True,
    help="Centre to centre of two neighbouring patches of your chart.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="The PDF; a list of everything on it goes beside it.",
)
def rails(
    *,
    length_mm: float,
    pitch_mm: float,
    paper: str,
    gap_mm: float,
    chart_patch_mm: float,
    out: Path,
) -> None:
    """Make the marker rails, leaf-end stop and chart holder as a PDF of exact size.

    Glue them up as its first page says, measure them with a steel tape, and store the lengths
    with the station.
    """
    listed = out.with_suffix(".json")
    if listed == out:
        raise click.BadParameter("The PDF cannot be called .json: the list beside it is.")
    today = datetime.now().astimezone().date()
    made = make_rails(
        length_mm,
        pitch_mm=pitch_mm,
        paper=RailsPaper(paper),
        gap_mm=gap_mm,
        chart_patch_mm=chart_patch_mm,
        on=today,
    )
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_bytes(made.pdf)
    listed.write_text(made.listed, encoding="utf-8")
    click.echo(out)
    click.echo(listed)
    click.echo(
        f"{made.page_count} sheets: {made.plan.markers} markers on each rail, "
        f"{made.plan.length_mm:g} mm from the first to the last. Print at 100 %.",
        err=True,
    )
