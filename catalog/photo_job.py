"""What one measuring process does with one photograph: read it, keep its pictures."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from pathlib import Path

from catalog.kept_pictures import keep_leaf
from catalog.new_photo import NewPhoto
from catalog.pictures import PictureStore
from catalog.records import KnownStation, Refused
from vision.bundle_light import BundleLight
from vision.errors import VisionError
from vision.hand_outline import Points
from vision.pipeline import BlankFrame, ReadShot, read_blank, read_shot
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
    station: KnownStation | None = None
    today: date | None = None
    outlines: Mapping[str, tuple[Points, ...]] = field(default_factory=dict)
    """SHA-256 of a photograph whose outlines were corrected by hand -> the outlines."""


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
            path,
            job.shot,
            settings=job.settings,
            light=job.light,
            blanks=_blanks(job),
            outlines=_outlines(job, path),
            station=None if job.station is None else job.station.station,
            today=job.today,
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
    _keep_files(read, store)
    pictures = tuple(keep_leaf(leaf, store=store) for leaf in read.leaves)
    station_id = None if job.station is None else job.station.station_id
    return NewPhoto(job.shot, read.reading, pictures, job.settings, station_id)


def _outlines(job: PhotoJob, path: Path) -> tuple[Points, ...] | None:
    """Return the outlines corrected by hand of this very file, None if there are none."""
    if not job.outlines or job.shot.parts:
        return None
    with path.open("rb") as file:
        return job.outlines.get(hashlib.file_digest(file, "sha256").hexdigest())


def _keep_files(read: ReadShot, store: PictureStore) -> None:
    """Keep the photograph as it came, or all its parts and the picture joined from them."""
    if read.picture is None:
        store.put(read.original, sha256=read.reading.sha256)
        return
    parts = (read.original, *read.more_originals)
    for data, sha256 in zip(parts, read.reading.part_sha256, strict=True):
        store.put(data, sha256=sha256)
    store.put(read.picture, sha256=read.reading.picture_sha256)


def sha256_of(folder: Path, shot: Shot) -> str:
    """Return the SHA-256 of a shot's file, or of the bytes of all its parts in order.

    Raises
    ------
    OSError
        If a file cannot be read.
    """
    digest = hashlib.sha256()
    for name in shot.files:
        digest.update((folder / name).read_bytes())
    return digest.hexdigest()


def _blanks(job: PhotoJob) -> dict[Lamp, BlankFrame]:
    return {} if job.blank is None else {job.blank.shot.lamp: _read_blank(job.blank, job.settings)}


@lru_cache(maxsize=2)
def _read_blank(blank: Blank, settings: VisionSettings) -> BlankFrame:
    """Return a bare-board photograph; kept, for the next photograph leans on it too."""
    return read_blank(blank.path, blank.shot, settings=settings)


def let_go_of_blanks() -> None:
    """Free the memory that the bare-board photographs of the last bundle take."""
    _read_blank.cache_clear()
