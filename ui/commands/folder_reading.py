"""Photographs read without a catalogue, for `measure` and `alternation`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from ui.commands.progress import with_bar
from vision.errors import VisionError
from vision.folder_walk import PhotoFolder, open_folder, read_folder
from vision.leaf_image import LeafImage
from vision.pipeline import survey_light
from vision.readings import PhotoReading
from vision.settings import VisionSettings
from vision.shooting_station import ShootingStation
from vision.shot import Shot
from vision.shot_list import SHOT_LIST_NAME, Refusal


@dataclass(frozen=True, slots=True)
class ShotRead:
    """One photograph read; its pixels are let go."""

    shot: Shot
    reading: PhotoReading


def open_photos(
    photos: Sequence[Path], *, settings: VisionSettings, station: ShootingStation | None = None
) -> list[PhotoFolder]:
    """Return what to read for photographs named one by one, and for whole folders among them.

    A photograph beside a ``shots.csv`` that lists it takes its leaf, lamp and size from there,
    and the bare boards of that list hold its light; parts of one leaf are read together, whichever
    of them was named. With a station no common light is surveyed:
    each photograph stands for itself.
    """
    if station is not None:
        return [
            replace(one, light=None, station=station)
            for one in open_photos(photos, settings=settings)
        ]
    opened = [open_folder(photo, settings=settings) for photo in photos if photo.is_dir()]
    by_folder: dict[Path, list[str]] = {}
    for photo in photos:
        if not photo.is_dir():
            by_folder.setdefault(photo.parent, []).append(photo.name)
    opened.extend(
        _open_files(folder, names, settings=settings) for folder, names in by_folder.items()
    )
    return opened


def read_photos(
    opened: Sequence[PhotoFolder],
    *,
    settings: VisionSettings,
    look: Callable[[Shot, Sequence[LeafImage]], None] | None = None,
) -> tuple[list[ShotRead], list[Refusal]]:
    """Read the photographs behind a progress bar; return readings and refusals, in order.

    ``look`` is shown the flat leaves of each photograph before their pixels are let go.
    """
    read: list[ShotRead] = []
    refused = [refusal for folder in opened for refusal in folder.refused]
    today = date.today()  # noqa: DTZ011 - the dealer's own calendar
    outcomes = (
        outcome
        for folder in opened
        for outcome in read_folder(folder, settings=settings, today=today)
    )
    length = sum(len(folder.shots) for folder in opened)
    for outcome in with_bar(outcomes, length=length, label="Reading photographs"):
        if isinstance(outcome, Refusal):
            refused.append(outcome)
            continue
        if look is not None:
            try:
                look(outcome.shot, outcome.result.leaves)
            except VisionError as error:
                refused.append(Refusal(outcome.shot.file, str(error)))
                continue
        read.append(ShotRead(outcome.shot, outcome.result.reading))
    return read, refused


def _open_files(folder: Path, names: Sequence[str], *, settings: VisionSettings) -> PhotoFolder:
    if not (folder / SHOT_LIST_NAME).is_file():
        shots = tuple(Shot(file=name, leaf=Path(name).stem) for name in names)
        return PhotoFolder(
            folder, shots, (), survey_light(folder, shots, settings=settings), blanks={}
        )
    opened = open_folder(folder, settings=settings)
    listed = {file: shot for shot in opened.shots for file in shot.files}
    said = {refusal.file for refusal in opened.refused}
    return replace(
        opened,
        shots=tuple(
            dict.fromkeys(
                listed.get(name, Shot(file=name, leaf=Path(name).stem))
                for name in names
                if name not in said
            )
        ),
        refused=tuple(refusal for refusal in opened.refused if refusal.file in names),
    )
