"""``plan``: is this run enough for the job, and which leaves make which panel."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click

from catalog.catalog import Catalog, open_catalog
from catalog.errors import EntryFaulty
from catalog.panel_cuts import cut_list_csv
from catalog.panel_sheet import cut_sheet_pdf
from catalog.panel_stock import Known, StockPlan, plan_from_stock
from catalog.panel_words import (
    along_words,
    bundles_words,
    flag_sentences,
    left_words,
    match_words,
    pieces_words,
    run_words,
    size_words,
    taken_words,
    turned_words,
    yield_words,
)
from catalog.records import BundleId, Refused
from catalog.set_words import file_word
from ui.commands.allowance_options import allowance_options, chosen_allowances
from ui.commands.bundle_source import bundle_source
from ui.commands.exits import finish
from ui.commands.text_table import text_table
from ui.commands.where import catalog_options
from ui.job_entry import known_leaves, panels_from, read_marks
from ui.plan_records import plan_record
from ui.settings_file import read_settings
from vision.match_layout import LAYINGS, Match
from vision.panel_job import Edge, Face, Job


@click.command("plan")
@click.argument(
    "folder", required=False, type=click.Path(path_type=Path, exists=True, file_okay=False)
)
@click.option(
    "--bundle",
    "bundles",
    type=int,
    multiple=True,
    metavar="NUMBER",
    help="A bundle of the catalogue; several of one flitch in order. Without: all of stock.",
)
@click.option(
    "--panel",
    "panels",
    multiple=True,
    required=True,
    metavar="SIZE",
    help="900x2100 (mm, grain along the second), 3x900x2100 for three, NAME=900x2100, or a list "
    "job.csv: name,width_mm,length_mm,count.",
)
@click.option(
    "--face",
    type=click.Choice([face.value for face in Face]),
    default=Face.BALANCE.value,
    show_default=True,
    help="How leaves make up a face.",
)
@click.option(
    "--match",
    type=click.Choice([match.value for match in LAYINGS]),
    default=Match.BOOK.value,
    show_default=True,
    help="Between leaves; slip-centre-book and four-way bring their own.",
)
@click.option("--gone", default="", metavar="03,07-09", help="Leaves sold, cut or spoilt.")
@click.option("--held", default="", metavar="10-12", help="Leaves promised to somebody.")
@click.option(
    "--marks",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Places to avoid or to show: leaf,kind,left_mm,top_mm,right_mm,bottom_mm,place,at_mm.",
)
@click.option(
    "--register",
    type=click.Choice([edge.value for edge in Edge]),
    default=Edge.MIDDLE.value,
    show_default=True,
    help="By what the leaves are laid over each other for cutting.",
)
@allowance_options
@click.option("--choices", type=click.IntRange(1, 20), default=3, show_default=True)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the cut lists (CSV and PDF).",
)
@click.option("--json", "as_json", is_flag=True, help="Write records for other programs.")
@catalog_options
def plan_command(
    folder: Path | None,
    *,
    bundles: Sequence[int],
    panels: Sequence[str],
    face: str,
    match: str,
    gone: str,
    held: str,
    marks: Path | None,
    register: str,
    choices: int,
    out: Path | None,
    as_json: bool,
    catalog_url: str | None,
    pictures: str | None,
    **allowances: float | None,
) -> None:
    """Say which leaves make the panels of a job, what it costs, and what is left.

    Takes a bundle of the catalogue, several of one flitch, all of stock, or the photographs in
    FOLDER. Every leaf of a panel is cut at the same lines, so that its figure stays in register.
    """
    try:
        wished = panels_from(panels)
    except EntryFaulty as error:
        raise click.BadParameter(str(error), param_hint="--panel") from error
    job = Job(
        wished,
        Match(match),
        Face(face),
        chosen_allowances(read_settings().panels, allowances),
        Edge(register),
    )
    with _stock(folder, bundles, catalog_url=catalog_url, pictures=pictures) as source:
        catalog, numbers, refused = source
        known = Known()
        if gone or held or marks is not None:
            if numbers is None:
                raise click.UsageError("--gone, --held and --marks go with a --bundle or FOLDER.")
            marked = {} if marks is None else read_marks(marks)
            known = known_leaves(catalog, numbers, gone=gone, held=held, marks=marked)
        plans, others = plan_from_stock(
            catalog,
            job,
            bundles=numbers,
            known=known,
            by_cut=allowances.get("least_piece_mm") is None,
            most=choices,
        )
        if out is not None:
            _write(catalog, plans, out)
    if as_json:
        records = {
            "plans": [plan_record(one) for one in plans],
            "not_possible": [{"flitch": flitch.name, "reason": why} for flitch, why in others],
            "refused": [{"file": one.file, "reason": one.reason} for one in refused],
        }
        click.echo(json.dumps(records, indent=2, ensure_ascii=False))
    elif plans:
        click.echo("\n\n".join(_report(i, one) for i, one in enumerate(plans, start=1)))
    for flitch, why in others:
        click.echo(f"{flitch.name}: {why}", err=True)
    if not plans and not others:
        click.echo("There is no leaf in stock yet. Take a bundle in first.", err=True)
    finish(done=len(plans), refused=refused)


@contextmanager
def _stock(
    folder: Path | None,
    bundles: Sequence[int],
    *,
    catalog_url: str | None,
    pictures: str | None,
) -> Iterator[tuple[Catalog, list[BundleId] | None, Sequence[Refused]]]:
    if len(set(bundles)) < len(bundles):
        raise click.UsageError(
            "A bundle was named twice; its leaves are there once. Name each once."
        )
    if folder is None:
        with open_catalog(catalog_url, pictures=pictures) as catalog:
            yield catalog, [BundleId(number) for number in bundles] or None, ()
        return
    if bundles:
        raise click.UsageError("Name either a FOLDER of photographs or a --bundle, not both.")
    with bundle_source(folder, None, catalog_url=catalog_url, pictures=pictures) as source:
        yield source.catalog, [source.bundle_id], source.refused


def _report(number: int, one: StockPlan) -> str:
    plan = one.plan
    rows = [("Panel", "Size", "Leaves", "Pieces", "Along the leaf")]
    rows += [
        (
            panel.panel.name,
            size_words(panel.panel.width_mm, panel.panel.length_mm),
            run_words(plan.leaves, panel.leaves),
            pieces_words(panel),
            along_words(panel),
        )
        for panel in plan.panels
    ]
    lines = [
        f"{number}. {one.flitch.name}, {bundles_words(plan)}: {match_words(plan)}",
        f"   Takes {taken_words(plan)}",
        f"   {yield_words(plan)}",
        f"   Left: {left_words(plan)}",
        *(f"   ! {sentence}" for sentence in flag_sentences(plan)),
    ]
    turned = turned_words(plan)
    lines += [f"   - {turned}"] if turned else []
    table = "\n".join(f"   {line}" for line in text_table(rows).splitlines())
    return "\n".join([*lines, table])


def _write(catalog: Catalog, plans: Sequence[StockPlan], folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for number, one in enumerate(plans, start=1):
        stem = f"cut-list-{number}-{file_word(one.flitch.name)}"
        listed, sheet = folder / f"{stem}.csv", folder / f"{stem}.pdf"
        listed.write_text(cut_list_csv(one.plan), encoding="utf-8")
        sheet.write_bytes(cut_sheet_pdf(catalog, one, on=catalog.now().date()))
        click.echo(listed, err=True)
        click.echo(sheet, err=True)
