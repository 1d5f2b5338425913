"""``--station``: where the photographs of a command were taken."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from catalog.catalog import open_catalog
from catalog.records import KnownStation

station_option: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--station",
    "station_name",
    metavar="NAME",
    help="Shooting station at which the photographs were taken.",
)


def chosen_station(
    name: str | None, *, catalog_url: str | None, pictures: str | None
) -> KnownStation | None:
    """Return the station of a name, None where none is named."""
    if name is None:
        return None
    with open_catalog(catalog_url, pictures=pictures) as catalog:
        return catalog.station_named(name)
