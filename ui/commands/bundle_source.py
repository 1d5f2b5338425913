"""A bundle to work on: one of the catalogue, or a folder taken into a catalogue for the moment."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click

from catalog.catalog import Catalog, open_catalog
from catalog.records import BundleId, Refused
from ui.bundle_entry import bundle_for
from ui.commands.take_in import take_in_folder
from ui.settings_file import read_settings


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """An open catalogue and the bundle in it."""

    catalog: Catalog
    bundle_id: BundleId
    refused: Sequence[Refused]
    """Photographs of the folder that could not be used."""

    @property
    def labels(self) -> list[str]:
        """The leaves of the bundle, in order."""
        return [leaf.label for leaf in self.catalog.leaves(self.bundle_id)]


@contextmanager
def bundle_source(
    folder: Path | None, bundle: int | None, *, catalog_url: str | None, pictures: str | None
) -> Iterator[Source]:
    """Yield the bundle that a command was asked for: exactly one of folder and bundle is given."""
    if (folder is None) == (bundle is None):
        raise click.UsageError("Name either a FOLDER of photographs or a --bundle, not both.")
    if folder is None:
        with open_catalog(catalog_url, pictures=pictures) as catalog:
            yield Source(catalog, catalog.bundle(BundleId(bundle or 0)).bundle_id, ())
        return
    with tempfile.TemporaryDirectory() as place:
        url = f"sqlite:///{place}/catalog.db"
        with open_catalog(url, pictures=f"{place}/pictures") as catalog:
            bundle_id = bundle_for(catalog, flitch=folder.name, species="", cut="", label="1")
            settings = read_settings().vision
            _done, refused = take_in_folder(folder, bundle_id, catalog=catalog, settings=settings)
            yield Source(catalog, bundle_id, refused)
