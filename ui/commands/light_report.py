"""``light-report``: what a run of leaves will show in which light, as a PDF for a customer."""

from __future__ import annotations

from pathlib import Path

import click

from catalog.catalog import open_catalog
from catalog.finish_file import read_finish_file
from catalog.light_report import REPORT_MATCHES, light_report
from catalog.records import BundleId
from ui.commands.where import catalog_options
from ui.leaf_choice import choose_leaves
from ui.settings_file import read_settings
from vision.match_names import Match


@click.command("light-report")
@click.option("--bundle", "bundle", type=int, required=True, metavar="NUMBER")
@click.option("--leaves", default="", metavar="01-06", help="Which leaves; else all of them.")
@click.option(
    "--match",
    type=click.Choice([match.value for match in REPORT_MATCHES]),
    default="book",
    show_default=True,
)
@click.option("--customer", default="", help="Whom it is for.")
@click.option("--dealer", default="", help="Whom it comes from.")
@click.option(
    "--finish",
    "finish_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Speak of the leaves as finished (see `finish`).",
)
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="PDF to write.",
)
@catalog_options
def light_report_command(
    *,
    bundle: int,
    leaves: str,
    match: str,
    customer: str,
    dealer: str,
    finish_file: Path | None,
    out: Path,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Write a page or two for a customer: a match, and what it shows in which light."""
    bundle_id = BundleId(bundle)
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        labels = [leaf.label for leaf in catalog.leaves(bundle_id)]
        made = light_report(
            catalog,
            bundle_id,
            choose_leaves(leaves, labels),
            match=Match(match),
            customer=customer,
            dealer=dealer,
            finish=None if finish_file is None else read_finish_file(finish_file),
            settings=read_settings().vision,
        )
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_bytes(made)
    click.echo(out)
