"""``joint``: where to cut two leaves so that their figure meets."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from catalog.joint_preview import preview_joint
from catalog.joint_words import joint_words, score_words
from ui.commands.bundle_source import bundle_source
from ui.commands.exits import finish
from ui.commands.joint_options import joint_limits, joint_options
from ui.commands.match import KINDS
from ui.commands.where import catalog_options
from ui.leaf_choice import choose_leaves
from vision.match_layout import LAYINGS, Match
from vision.picture_file import encode_picture
from vision.shot import Laid

KEEP_SIDE = "Keep the leaf's side of each line; only a square edge makes a joint."


@click.command("joint")
@click.argument(
    "folder", required=False, type=click.Path(path_type=Path, exists=True, file_okay=False)
)
@click.option("--bundle", "bundle", type=int, metavar="NUMBER", help="A bundle of the catalogue.")
@click.option("--leaves", required=True, metavar="01,02", help="The left leaf and the right one.")
@click.option(
    "--match",
    type=click.Choice([match.value for match in LAYINGS]),
    default="book",
    show_default=True,
)
@joint_options
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Picture to write: straight cuts on the left, the cuts found on the right.",
)
@click.option("--json", "as_json", is_flag=True, help="Write a record for other programs.")
@catalog_options
def joint_command(
    folder: Path | None,
    *,
    bundle: int | None,
    leaves: str,
    match: str,
    out: Path | None,
    as_json: bool,
    catalog_url: str | None,
    pictures: str | None,
    **allowed: Any,
) -> None:
    """Find the cuts of two leaves at which lines and tone meet best across the joint."""
    if out is not None and out.suffix.lower() not in KINDS:
        raise click.UsageError(f"{out.name} must end in one of {', '.join(KINDS)}.")
    with bundle_source(folder, bundle, catalog_url=catalog_url, pictures=pictures) as source:
        chosen = choose_leaves(leaves, source.labels)
        if len(chosen) != 2:
            raise click.UsageError(f"{len(chosen)} leaves were named; a joint takes two.")
        found = preview_joint(
            source.catalog,
            source.bundle_id,
            (chosen[0], chosen[1]),
            match=Match(match),
            limits=joint_limits(allowed),
        )
        refused = source.refused
    if out is not None:
        out.parent.mkdir(parents=True, exist_ok=True)
        kind = KINDS[out.suffix.lower()]
        out.write_bytes(encode_picture(found.rgb, kind, px_per_mm=found.px_per_mm))
        click.echo(out, err=True)
    if as_json:
        record = {name: round(value, 3) for name, value in asdict(found.cut).items()}
        click.echo(json.dumps({"left": chosen[0], "right": chosen[1], **record}, indent=2))
    else:
        layings = (Laid.AS_LIES, found.right_laid)
        words = joint_words((chosen[0], chosen[1]), layings, found.cut)
        click.echo(f"{words[0].upper()}{words[1:]}.")
        click.echo(f"{score_words(found.cut).capitalize()}. {KEEP_SIDE}")
    finish(done=1, refused=refused)
