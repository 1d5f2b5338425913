"""Which catalogue a command works on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from ui.settings_file import CATALOG_VARIABLE, PICTURES_VARIABLE


def catalog_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--catalog`` and ``--pictures`` to a command."""
    url = click.option(
        "--catalog",
        "catalog_url",
        metavar="URL",
        envvar=CATALOG_VARIABLE,
        help="Catalogue, e.g. sqlite:///stock.db; else the one in your data folder.",
    )
    store = click.option(
        "--pictures",
        metavar="DIR",
        envvar=PICTURES_VARIABLE,
        help="Folder or address of the picture store.",
    )
    return url(store(command))
