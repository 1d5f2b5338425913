"""Set a station up from one photograph of its rails, its bare board and a colour chart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from vision.errors import StationUnfit
from vision.photo import Photo
from vision.readings import ColourClass, PhotoQuality
from vision.settings import VisionSettings
from vision.shooting_station import ShootingStation
from vision.station_use import AtStation, day_of, hold_at_station
from vision.station_verdict import StationVerdict, judge_at_station


@dataclass(frozen=True, slots=True)
class SetUp:
    """A station as its photograph has told it, and how well."""

    station: ShootingStation
    quality: PhotoQuality
    verdict: StationVerdict
    """Of the photograph that set it up."""


def set_up_station(
    photo: Photo, typed: ShootingStation, *, settings: VisionSettings, today: date
) -> SetUp:
    """Return the station with tone, colour and greys as one photograph shows them.

    Parameters
    ----------
    photo : Photo
        Rails, bare board and, if there is one, the chart in its holder, in the light of the leaves.
    typed : ShootingStation
        What the dealer typed: name, tape, lamps, edition of the chart.
    settings : VisionSettings
    today : date
        Taken where the file does not tell its day.

    Raises
    ------
    StationUnfit
        If the rails cannot be fitted or a promised chart cannot be read; nothing is then set up.
    BoardNotFound
        If too little plain board is in view.
    """
    bare = replace(typed, tone=None, colour=None, greys=(), made_on=day_of(photo) or today)
    at = hold_at_station(photo, bare, settings=settings)
    if bare.rails is not None and at.table is None:
        raise StationUnfit(f"The rails cannot be fitted. {at.quality.size_words}")
    if bare.chart_edition is not None and at.colour_class is not ColourClass.MEASURED:
        raise StationUnfit(_no_chart(at))
    station = replace(bare, tone=at.light.tone, colour=at.light.colour, greys=at.greys)
    return SetUp(station, at.quality, judge_at_station(at))


def _no_chart(at: AtStation) -> str:
    if at.table is not None and at.table.holder is None:
        return (
            "A chart was promised, but the four markers of its holder are not all in view. Lay the "
            "holder with the chart on the table, nothing over its markers."
        )
    return f"The chart cannot be trusted. {at.quality.colour_words}"
