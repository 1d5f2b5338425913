"""``picture-set``: a PDF and a zip for a customer."""

from __future__ import annotations

from pathlib import Path

import click

from catalog.catalog import open_catalog
from catalog.picture_set import make_picture_set
from catalog.records import BundleId
from ui.commands.where import catalog_options
from ui.leaf_choice import choose_leaves


@click.command("picture-set")
@click.option("--bundle", "bundle", type=int, required=True, metavar="NUMBER")
@click.option("--leaves", default="", metavar="01-04", help="Which leaves; else all of them.")
@click.option("--customer", default="", help="Whom it is for.")
@click.option("--dealer", default="", help="Whom it comes from.")
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder to write to.",
)
@catalog_options
def picture_set_command(
    *,
    bundle: int,
    leaves: str,
    customer: str,
    dealer: str,
    out: Path,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Write pictures of a run of leaves for a customer: one PDF, and one zip of pictures."""
    bundle_id = BundleId(bundle)
    out.mkdir(parents=True, exist_ok=True)
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        labels = [leaf.label for leaf in catalog.leaves(bundle_id)]
        made = make_picture_set(
            catalog,
            bundle_id,
            labels=choose_leaves(leaves, labels),
            folder=out,
            customer=customer,
            dealer=dealer,
        )
    click.echo(made.pdf)
    click.echo(made.zip)
    for note in made.notes:
        click.echo(f"- {note}", err=True)
