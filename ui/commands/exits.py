"""Exit codes of every command, and the one place where refusals become sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

import click

from catalog.errors import CatalogError
from ui.leaf_choice import LeafChoiceFaulty
from ui.settings_file import SettingsFaulty
from vision.errors import VisionError

DONE = 0
SOME_REFUSED = 1
WRONG_USE = 2
NOTHING_DONE = 3


class Refusal(Protocol):
    """A photograph or line of a shot list that could not be used."""

    @property
    def file(self) -> str:
        """Its name."""

    @property
    def reason(self) -> str:
        """Why, in a sentence."""


class PlainGroup(click.Group):
    """A group of commands that ends in one sentence, not a traceback, where it cannot go on."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; turn the refusals of the parts below into a sentence and exit code 3."""
        try:
            return super().invoke(ctx)
        except (VisionError, CatalogError, SettingsFaulty, LeafChoiceFaulty) as error:
            click.echo(str(error), err=True)
            ctx.exit(NOTHING_DONE)


def finish(*, done: int, refused: Sequence[Refusal]) -> None:
    """List the refused photographs on stderr and leave with the code that fits.

    Parameters
    ----------
    done : int
        How many photographs or results there are.
    refused : sequence of Refusal
        Photographs and lines that could not be used.
    """
    for refusal in refused:
        click.echo(f"Refused {refusal.file}: {refusal.reason}", err=True)
    context = click.get_current_context()
    if not done:
        context.exit(NOTHING_DONE)
    context.exit(SOME_REFUSED if refused else DONE)
