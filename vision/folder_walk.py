"""A folder of photographs, read one by one: what take-in and the plain commands share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from vision.bundle_light import BundleLight
from vision.errors import VisionError
from vision.pipeline import BlankFrame, ReadShot, read_blank, read_shot, survey_light
from vision.settings import VisionSettings
from vision.shooting_station import ShootingStation
from vision.shot import Lamp, Shot
from vision.shot_list import Refusal, read_shot_list


@dataclass(frozen=True, slots=True, eq=False)
class PhotoFolder:
    """A folder ready to be read: its shots, its common light, its bare-board photographs."""

    folder: Path
    shots: tuple[Shot, ...]
    """Photographs of leaves, in list order."""
    refused: tuple[Refusal, ...]
    light: BundleLight | None
    """None if no photograph could be read; each then stands for itself."""
    blanks: Mapping[Lamp, BlankFrame]
    station: ShootingStation | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Read:
    """A photograph that was read."""

    shot: Shot
    result: ReadShot


def open_folder(
    folder: Path,
    *,
    settings: VisionSettings,
    light: BundleLight | None = None,
    station: ShootingStation | None = None,
    today: date | None = None,
) -> PhotoFolder:
    """Return a folder's plan; ``light`` holds an earlier bundle's scale, else it is surveyed.

    ``station`` is where the photographs were taken, ``today`` the day against which its age is held
    where a file tells none.

    Raises
    ------
    ShotListFaulty
        If there is no such folder or its list cannot be read at all.
    """
    listed = read_shot_list(folder)
    refused = list(listed.refused)
    blanks: dict[Lamp, BlankFrame] = {}
    for shot in listed.shots:
        if shot.blank and shot.lamp not in blanks:
            try:
                blanks[shot.lamp] = read_blank(folder / shot.file, shot, settings=settings)
            except VisionError as error:
                refused.append(Refusal(shot.file, str(error)))
    shots = tuple(shot for shot in listed.shots if not shot.blank)
    if light is None:
        light = survey_light(folder, shots, settings=settings, station=station, today=today)
    return PhotoFolder(folder, shots, tuple(refused), light, blanks, station)


def read_folder(
    opened: PhotoFolder, *, settings: VisionSettings, today: date | None = None
) -> Iterator[Read | Refusal]:
    """Yield each photograph of leaves as it is read; one bad photograph is one refusal.

    The same photograph under a second name is refused: it would count one look as two.
    """
    names: dict[str, str] = {}
    for shot in opened.shots:
        try:
            result = read_shot(
                opened.folder / shot.file,
                shot,
                settings=settings,
                light=opened.light,
                blanks=opened.blanks,
                station=opened.station,
                today=today,
            )
        except VisionError as error:
            yield Refusal(shot.file, str(error))
            continue
        first = names.setdefault(result.reading.sha256, shot.file)
        if first != shot.file:
            yield Refusal(
                shot.file,
                f"This is the same photograph as {first}, byte for byte. Keep one of the two; if "
                "they should differ, photograph the leaf again.",
            )
            continue
        yield Read(shot, result)
