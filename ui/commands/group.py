"""All commands, in the order in which a bundle meets them."""

from __future__ import annotations

import click

from ui.commands.alternation import alternation
from ui.commands.demo import demo
from ui.commands.exits import PlainGroup
from ui.commands.finish import finish_command
from ui.commands.joint import joint_command
from ui.commands.light_report import light_report_command
from ui.commands.match import match_command
from ui.commands.matches import matches
from ui.commands.measure import measure
from ui.commands.order import order
from ui.commands.outline import outline_command
from ui.commands.picture_set import picture_set_command
from ui.commands.place import place
from ui.commands.plan import plan_command
from ui.commands.quality import quality
from ui.commands.rails import rails
from ui.commands.serve import serve
from ui.commands.station import station
from ui.commands.take_in import take_in_command


@click.group(cls=PlainGroup, context_settings={"help_option_names": ["-h", "--help"]})
def flitchwright() -> None:
    """Catalogue veneer from photographs and see light and dark before anything is cut.

    Results go to standard output, progress and refusals to standard error. Exit codes: 0 done,
    1 done but some photographs were refused, 2 wrong use, 3 nothing could be done.
    """


for command in (
    demo,
    rails,
    station,
    measure,
    order,
    place,
    alternation,
    finish_command,
    quality,
    take_in_command,
    outline_command,
    match_command,
    matches,
    joint_command,
    plan_command,
    picture_set_command,
    light_report_command,
    serve,
):
    flitchwright.add_command(command)
