"""``match``: leaves laid in a match, as a picture."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import click

from catalog.cut_list import cut_list_csv
from catalog.joint_words import trim_words
from catalog.match_preview import MatchPreview, preview_match
from catalog.rails_layout import RailsPaper
from catalog.surroundings import Around, file_in_place, surround
from catalog.template_sheets import print_templates
from ui.commands.alternation_table import alternation_table
from ui.commands.bundle_source import bundle_source
from ui.commands.exits import Refusal, finish
from ui.commands.face_options import face_options, face_wish
from ui.commands.joint_options import joint_limits, joint_options
from ui.commands.light_options import one_light, one_light_options
from ui.commands.where import catalog_options
from ui.leaf_choice import choose_leaves
from ui.records import Record, pair_record
from ui.settings_file import read_settings
from vision.match_layout import Match
from vision.picture_file import PictureKind
from vision.room_lights import Triple
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
@click.option(
    "--cut-list", type=click.Path(path_type=Path, dir_okay=False), help="CSV of every cut to write."
)
@click.option(
    "--templates",
    type=click.Path(path_type=Path, dir_okay=False),
    help="PDF to write: every piece at 1:1, in tiles, with its cut lines.",
)
@click.option(
    "--paper",
    type=click.Choice([paper.value for paper in RailsPaper]),
    default="a4",
    show_default=True,
    help="Of the templates.",
)
@click.option(
    "--best-joints",
    is_flag=True,
    help="Trim each joint of a book, slip or reverse slip run where the figure meets.",
)
@click.option(
    "--around",
    type=click.Choice([around.value for around in Around]),
    default="nothing",
    show_default=True,
    help="Draw a door, a table or a wall to scale round the picture.",
)
@click.option("--person", is_flag=True, help="Draw a person of 1.75 m beside it.")
@click.option("--json", "as_json", is_flag=True, help="Write records for other programs.")
@one_light_options
@joint_options
@face_options
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
    cut_list: Path | None,
    templates: Path | None,
    paper: str,
    best_joints: bool,
    around: str,
    person: bool,
    room_name: str | None,
    lamp_at: Triple | None,
    eye_at: Triple | None,
    as_json: bool,
    catalog_url: str | None,
    pictures: str | None,
    **face: Any,
) -> None:
    """Lay leaves in a match and write what it will look like in one light.

    Takes the photographs in FOLDER, or a bundle of the catalogue. What each match is, `matches`
    tells. Without a size the face is as large as the leaves give. A light named by --room or placed
    by --lamp-at was not photographed: picture and joints are worked out, as in `alternation`.
    """
    kind = KINDS.get(out.suffix.lower())
    if kind is None:
        raise click.UsageError(f"{out.name} must end in one of {', '.join(KINDS)}.")
    asked = one_light(room_name, lamp_at, eye_at)
    with bundle_source(folder, bundle, catalog_url=catalog_url, pictures=pictures) as source:
        paint = partial(
            preview_match,
            source.catalog,
            source.bundle_id,
            choose_leaves(leaves, source.labels),
            match=Match(match),
            lamp=Lamp(lamp),
            wish=face_wish(face),
            joints=joint_limits(face) if best_joints else None,
            asked=asked,
            settings=read_settings().vision,
        )
        preview = paint(long_px=long_px)
        scene = surround(preview.layout, Around(around), person=person)
        if scene.shapes:
            preview = paint(long_px=scene.long_px(preview.layout, long_px))
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_bytes(file_in_place(preview, scene, kind))
        if cut_list is not None:
            cut_list.parent.mkdir(parents=True, exist_ok=True)
            cut_list.write_text(cut_list_csv(preview.layout, preview.cut_pieces()), "utf-8")
        if templates is not None:
            sheets = print_templates(
                preview.layout,
                preview.cut_pieces(),
                paper=RailsPaper(paper),
                on=datetime.now().astimezone().date(),
            )
            templates.parent.mkdir(parents=True, exist_ok=True)
            templates.write_bytes(sheets)
        refused = source.refused
    if as_json:
        click.echo(json.dumps(_record(out, preview, refused), indent=2, ensure_ascii=False))
    else:
        _tell(out, preview)
    finish(done=1, refused=refused)


def _tell(out: Path, preview: MatchPreview) -> None:
    click.echo(f"{out}: {preview.title}")
    joints = [pair for pair in preview.joints if pair is not None]
    if joints:
        click.echo(alternation_table(joints))
    for line in (*trim_words(preview.layout), *preview.notes):
        click.echo(f"- {line}")


def _record(out: Path, preview: MatchPreview, refused: Sequence[Refusal]) -> Record:
    return {
        "picture": str(out),
        "title": preview.title,
        "shows_light_and_dark": preview.shows_light_and_dark,
        "pairs": [pair_record(pair) for pair in preview.joints if pair is not None],
        "notes": [*trim_words(preview.layout), *preview.notes],
        "refused": [{"file": one.file, "reason": one.reason} for one in refused],
    }
