"""The one open catalogue of the process that serves the screens."""

from __future__ import annotations

from functools import lru_cache

from catalog.catalog import Catalog, open_catalog
from catalog.errors import CatalogError
from ui.settings_file import read_settings


def shared_catalog() -> Catalog:
    """Return the catalogue that settings and environment name, opened once."""
    settings = read_settings()
    return _opened(settings.catalog_url, settings.pictures)


def picture_bytes(sha256: str) -> bytes | None:
    """Return a stored picture, None if there is none of that name."""
    try:
        return shared_catalog().pictures.read(sha256)
    except CatalogError:
        return None


@lru_cache(maxsize=4)
def _opened(url: str | None, pictures: str | None) -> Catalog:
    return open_catalog(url, pictures=pictures)
