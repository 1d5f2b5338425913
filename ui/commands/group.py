"""All commands, in the order in which a bundle meets them."""

from __future__ import annotations

import click

from ui.commands.alternation import alternation
from ui.commands.demo import demo
from ui.commands.exits import PlainGroup
from ui.commands.match import match_command
from ui.commands.measure import measure
from ui.commands.picture_set import picture_set_command
from ui.commands.serve import serve
from ui.commands.take_in import take_in_command


@click.group(cls=PlainGroup, context_settings={"help_option_names": ["-h", "--help"]})
def flitchwright() -> None:
    """Catalogue veneer from photographs and see light and dark before anything is cut.

    Results go to standard output, progress and refusals to standard error. Exit codes: 0 done,
    1 done but some photographs were refused, 2 wrong use, 3 nothing could be done.
    """


for command in (
    demo,
    measure,
    alternation,
    take_in_command,
    match_command,
    picture_set_command,
    serve,
):
    flitchwright.add_command(command)
