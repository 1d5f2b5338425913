"""How far a joint may be trimmed, as options of a command."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from ui.settings_file import read_settings
from vision.joint_cut import JointLimits

_OPTIONS = (
    click.option(
        "--least-cut-mm",
        type=click.FloatRange(min=0),
        default=JointLimits().least_cut_mm,
        show_default=True,
        help="Off each joint edge, to shoot it.",
    ),
    click.option(
        "--most-loss-mm",
        type=click.FloatRange(min=1),
        default=JointLimits().most_loss_mm,
        show_default=True,
        help="Off both leaves of a joint together.",
    ),
    click.option(
        "--most-slip-mm",
        type=click.FloatRange(min=0),
        default=JointLimits().most_slip_mm,
        show_default=True,
        help="Along the grain.",
    ),
)


def joint_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the limits of a joint; it takes them as keywords, see `joint_limits`."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def joint_limits(options: dict[str, Any]) -> JointLimits:
    """Return what the options of `joint_options` allow."""
    return JointLimits(
        options["least_cut_mm"],
        options["most_loss_mm"],
        most_slip_mm=options["most_slip_mm"],
        costs=read_settings().joints,
    )
