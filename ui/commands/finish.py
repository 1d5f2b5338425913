"""``finish``: what a finish does to a wood, from one offcut photographed raw and finished."""

from __future__ import annotations

from pathlib import Path

import click

from catalog.finish_file import write_finish
from catalog.seen_leaves import SeenBundle, seen_in
from ui.commands.exits import finish as leave
from ui.commands.folder_reading import open_photos, read_photos
from ui.settings_file import read_settings
from vision.finish import Finish, read_finish
from vision.shot_list import Refusal

FOLDER = click.Path(path_type=Path, exists=True, file_okay=False)


@click.command("finish")
@click.argument("raw", type=FOLDER)
@click.argument("finished", type=FOLDER)
@click.option("--name", default="finish", show_default=True, help="Of the finish, for the words.")
@click.option(
    "--out", required=True, type=click.Path(path_type=Path, dir_okay=False), help="File to write."
)
def finish_command(raw: Path, finished: Path, *, name: str, out: Path) -> None:
    """Learn what a finish does to light and dark.

    RAW and FINISHED are folders with photographs of one offcut, lying the same way, each under
    lamp A and lamp B. `alternation --finish FILE` then speaks of leaves of that wood as finished.
    """
    before, refused = _read(raw)
    after, more = _read(finished)
    found = read_finish(name, before.seen, after.seen)
    write_finish(found, out)
    click.echo(finish_words(found))
    leave(done=1, refused=[*refused, *more])


def finish_words(finish: Finish) -> str:
    """Return what a finish does, in words."""
    red, green, blue = finish.light_times
    light = 0.2224 * red + 0.7169 * green + 0.0607 * blue
    return (
        f"{finish.name}: the highlight of the fibres {finish.strength_times:.2f} times as strong "
        f"and {finish.width_times:.2f} times as wide, the wood itself {light:.2f} times as light."
    )


def _read(folder: Path) -> tuple[SeenBundle, list[Refusal]]:
    settings = read_settings().vision
    read, refused = read_photos(open_photos([folder], settings=settings), settings=settings)
    return seen_in((entry.shot, entry.reading) for entry in read), refused
