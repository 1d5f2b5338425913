"""What a shop takes off, as options of a command; what is not given comes from the settings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import click

from vision.panel_job import Allowances

OPTIONS: tuple[tuple[str, str, str], ...] = (
    ("--side-trim-mm", "side_trim_mm", "Never used at each long edge."),
    ("--end-trim-mm", "end_trim_mm", "Never used at each end."),
    ("--joint-cut-mm", "joint_cut_mm", "Cut off each joint edge to shoot it straight."),
    ("--overhang-side-mm", "overhang_side_mm", "Left over each side for pressing."),
    ("--overhang-end-mm", "overhang_end_mm", "Left over each end for pressing."),
    ("--defect-margin-mm", "defect_margin_mm", "Kept from a place to avoid."),
    (
        "--least-piece-mm",
        "least_piece_mm",
        "Least width of a piece, outermost ones exempt; else 152 for plain sliced flitches.",
    ),
    ("--spare-every", "leaves_per_spare", "One spare leaf for so many; 0 for none."),
    ("--least-run", "least_run", "Runs of fewer leaves are orphans."),
)


def allowance_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the allowances to a command."""
    for flag, name, words in reversed(OPTIONS):
        default = getattr(Allowances(), name)
        option = click.option(
            flag,
            name,
            type=click.FloatRange(min=0),
            default=None,
            help=f"{words} [settings, else {default:g}]",
        )
        command = option(command)
    return command


def chosen_allowances(settings: Allowances, given: Mapping[str, float | None]) -> Allowances:
    """Return the settings with what was given on the command line."""
    return replace(settings, **{name: value for name, value in given.items() if value is not None})
