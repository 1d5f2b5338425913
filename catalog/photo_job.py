"""What one measuring process does with one photograph: read it, keep its pictures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from catalog.kept_pictures import keep_leaf
from catalog.new_photo import NewPhoto
from catalog.pictures import PictureStore
from catalog.records import Refused
from vision.bundle_light import BundleLight
from vision.errors import VisionError
from vision.pipeline import BlankFrame, read_blank, read_shot
from vision.settings import VisionSettings
from vision.shot import Lamp, Shot


@dataclass(frozen=True, slots=True)
class Blank:
    """A photograph of the bare board that the photographs of leaves lean on."""

    path: Path
    shot: Shot
    sha256: str


@dataclass(frozen=True, slots=True)
class PhotoJob:
    """Everything needed to measure one photograph, in this process or another."""

    folder: Path
    shot: Shot
    settings: VisionSettings
    light: BundleLight | None
    blank: Blank | None
    """The bare board under the shot's lamp."""
    pictures: str
    """Where pictures are kept."""


def measure_photo(job: PhotoJob) -> NewPhoto | Refused:
    """Return one photograph measured, with its pictures in the store, or why it cannot be used.

    Raises
    ------
    CatalogError
        If the pictures cannot be kept: that would be so for every photograph.
    """
    path = job.folder / job.shot.file
    try:
        read = read_shot(
            path, job.shot, settings=job.settings, light=job.light, blanks=_blanks(job)
        )
    except VisionError as error:
        return Refused(job.shot.file, str(error))
    except OSError as error:
        return Refused(
            job.shot.file,
            f"The file cannot be read: {error.strerror or error}. Check that it is still there, "
            "then take the folder in again.",
        )
    except Exception as error:  # noqa: BLE001 - one bad photo never stops the bundle
        return Refused(
            job.shot.file,
            f"This program failed on it ({type(error).__name__}: {error}). Please report that; "
            "photographing the leaf again may help.",
        )
    store = PictureStore(job.pictures)
    store.put(read.original, sha256=read.reading.sha256)
    pictures = tuple(keep_leaf(leaf, store=store) for leaf in read.leaves)
    return NewPhoto(job.shot, read.reading, pictures, job.settings)


def _blanks(job: PhotoJob) -> dict[Lamp, BlankFrame]:
    return {} if job.blank is None else {job.blank.shot.lamp: _read_blank(job.blank, job.settings)}


@lru_cache(maxsize=2)
def _read_blank(blank: Blank, settings: VisionSettings) -> BlankFrame:
    """Return a bare-board photograph; kept, for the next photograph leans on it too."""
    return read_blank(blank.path, blank.shot, settings=settings)


def let_go_of_blanks() -> None:
    """Free the memory that the bare-board photographs of the last bundle take."""
    _read_blank.cache_clear()
