"""What the catalogue holds and hands out. Values only: no database, no picture library."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, NewType

from vision.flags import AlternationFlag, PhotoFlag
from vision.readings import LeafColour, LeafFigure, LeafSize, PhotoQuality, PhotoReading
from vision.shooting_station import ShootingStation
from vision.shot import Shot

if TYPE_CHECKING:
    from vision.bundle_light import BundleLight

FlitchId = NewType("FlitchId", int)
BundleId = NewType("BundleId", int)
LeafId = NewType("LeafId", int)
PhotoId = NewType("PhotoId", int)
StationId = NewType("StationId", int)
ChangeId = NewType("ChangeId", int)


@dataclass(frozen=True, slots=True)
class Flitch:
    """The leaves of one log or part of a log, kept in the order they were sliced."""

    flitch_id: FlitchId
    name: str
    species: str
    cut: str
    """Crown, quarter, rift and so on, in the dealer's words."""
    figure: str
    note: str
    added_at: datetime


@dataclass(frozen=True, slots=True)
class Bundle:
    """A stack of leaves of one flitch, tied together."""

    bundle_id: BundleId
    flitch_id: FlitchId
    label: str
    note: str
    light: BundleLight | None
    """The scale that all its photographs share; None before the first take-in."""
    added_at: datetime


@dataclass(frozen=True, slots=True)
class KnownStation:
    """A shooting station as it was set up on one day."""

    station_id: StationId
    station: ShootingStation
    quality: PhotoQuality
    """Of the photograph that set it up."""
    added_at: datetime


@dataclass(frozen=True, slots=True)
class PictureKeys:
    """SHA-256 names of the kept pictures of one leaf in one photograph."""

    flat: str
    """The straightened leaf, sRGB JPEG."""
    screen: str
    """The same, 1600 px long at most."""
    thumb: str
    """The same, 400 px long at most."""
    mask: str
    """1-bit PNG of the size of `flat`, white where the leaf is."""


@dataclass(frozen=True, slots=True)
class FlitchCard:
    """A flitch as a list shows it."""

    flitch: Flitch
    bundle_count: int
    leaf_count: int
    area_m2: float
    """Sum of length x width of the leaves whose scale is known."""
    sized_leaf_count: int
    """How many leaves `area_m2` covers."""
    cover: PictureKeys | None
    """The first leaf's plain picture."""
    worst: AlternationFlag | None
    """Worst light and dark of its book-matched neighbours; None before it is worked out."""


@dataclass(frozen=True, slots=True)
class LeafCard:
    """A leaf as a list shows it, by its plain picture.

    The plain picture is the photograph that shows the leaf best for its own sake: as it lies,
    dry, under both lamps rather than one, by itself rather than in an opened pair.
    """

    leaf_id: LeafId
    bundle_id: BundleId
    label: str
    position: int
    """1 for the first leaf of the bundle."""
    size: LeafSize
    """In millimetres if any photograph of the leaf has a scale."""
    colour: LeafColour
    figure: LeafFigure
    pictures: PictureKeys
    shot: Shot
    """How the leaf lay and was lit in the plain picture."""
    photo_id: PhotoId
    flags: tuple[PhotoFlag, ...]
    """What is doubtful about the plain picture."""
    photo_count: int


@dataclass(frozen=True, slots=True)
class PhotoRecord:
    """One photograph of a bundle, as it was taken in."""

    photo_id: PhotoId
    bundle_id: BundleId
    sha256: str
    """Of the file; also the name of the original in the picture store."""
    shot: Shot
    reading: PhotoReading
    pictures: tuple[PictureKeys, ...]
    """Parallel to ``reading.leaves``; empty for a bare board."""
    leaf_ids: tuple[LeafId, ...]
    settings: Mapping[str, Any]
    """The settings it was read with."""
    taken_in_at: datetime
    station_id: StationId | None = None
    """The set-up of the station at which it was taken, if it was at one."""


@dataclass(frozen=True, slots=True)
class KnownPhoto:
    """A photograph that a bundle holds, as far as a take-in needs to know it."""

    sha256: str
    shot: Shot
    pictures: tuple[str, ...]
    """Names of everything kept of it: the original and the pictures of its leaves."""


@dataclass(frozen=True, slots=True)
class Change:
    """One row of the change table, which only ever grows."""

    change_id: ChangeId
    at: datetime
    who: str
    what: str
    """In words, for example ``leaf added``."""
    kind: str
    """``flitch``, ``bundle``, ``leaf`` or ``photo``."""
    kind_id: int
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


class OutlineAct(StrEnum):
    """What was done to a leaf's outline; stored, never changed in meaning."""

    DRAWN = "drawn"
    """Corrected by hand."""
    FOUND = "found"
    """Put back to what the program finds by itself."""
    UNDONE = "undone"
    """The last act that still stood was taken back."""


@dataclass(frozen=True, slots=True)
class OutlineCorrection:
    """One row of a photograph's corrected outlines, which only ever grow."""

    photo_id: PhotoId
    side: int
    """0 for the only or left leaf in view, 1 for the right one of an opened pair."""
    act: OutlineAct
    points: tuple[tuple[float, float], ...] | None
    """The outline from then on, full-size photo pixels; None for the found one."""
    before: tuple[tuple[float, float], ...]
    """The outline it took the place of."""
    at: datetime
    who: str


class OrderAct(StrEnum):
    """What was done to the order of a bundle; stored, never changed in meaning."""

    SET = "set"
    """Put in an order by hand, or by accepting a proposed one."""
    UNDONE = "undone"
    """The last order that still stood was taken back."""


@dataclass(frozen=True, slots=True)
class OrderCorrection:
    """One row of a bundle's orders, which only ever grow."""

    bundle_id: BundleId
    act: OrderAct
    labels: tuple[str, ...]
    """The leaves from then on, the first on top."""
    before: tuple[str, ...]
    """As they lay until then."""
    at: datetime
    who: str


@dataclass(frozen=True, slots=True)
class TakenIn:
    """A photograph was measured and is in the catalogue now."""

    file: str
    photo_id: PhotoId
    labels: tuple[str, ...]
    flags: tuple[PhotoFlag, ...]


@dataclass(frozen=True, slots=True)
class AlreadyIn:
    """This very photograph was in the bundle before."""

    file: str


@dataclass(frozen=True, slots=True)
class Refused:
    """A photograph or a line of the shot list could not be used."""

    file: str
    reason: str
    """A sentence: what was found, what was needed, what to do."""


Outcome = TakenIn | AlreadyIn | Refused


@dataclass(frozen=True, slots=True)
class IntakePlan:
    """What a take-in is going to do."""

    folder: Path
    bundle_id: BundleId
    shots: tuple[Shot, ...]
    """To be measured, bare boards first."""
    refused: tuple[Refused, ...]
    """Lines of the shot list that cannot be used."""
    already: tuple[AlreadyIn, ...]
    """Photographs that the bundle holds already."""
    listed: tuple[Shot, ...]
    """The whole shot list, in list order: it says which leaf comes before which."""

    @property
    def total(self) -> int:
        """How many outcomes the take-in will yield."""
        return len(self.shots) + len(self.refused) + len(self.already)
