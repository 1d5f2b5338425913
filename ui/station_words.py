"""Shooting stations in plain words, for the screens and the command line alike."""

from __future__ import annotations

from datetime import date

from catalog.quality_sheet import SCALE_SHORT
from catalog.set_words import COLOUR_CLASS_SHORT
from catalog.station_setting import has_expired
from vision.readings import ColourClass, ScaleClass
from vision.shooting_station import ShootingStation
from vision.station_verdict import VERDICT_MM, StationVerdict

EDITION_WORDS = {
    "after-2014": "24 patches, made since November 2014",
    "before-2014": "24 patches, made before November 2014",
}


def verdict_line(verdict: StationVerdict) -> str:
    """Return how far millimetres and colour of a photograph may be off, in one line.

    Examples
    --------
    >>> verdict_line(
    ...     StationVerdict(ScaleClass.MEASURED, 0.42, ColourClass.STATION, 0.61, "", "")
    ... )
    'This photo: ± 0.4 mm over 2.5 m, colour ± 0.6 ΔE00'
    """
    size = "no millimetres"
    if verdict.length_sd_mm is not None:
        size = f"± {verdict.length_sd_mm:.1f} mm over {VERDICT_MM / 1000:g} m"
    colour = "colour relative only"
    if verdict.delta_e00_sd is not None:
        colour = f"colour ± {verdict.delta_e00_sd:.1f} ΔE00"
    return f"This photo: {size}, {colour}"


def verdict_reasons(verdict: StationVerdict) -> tuple[str, str]:
    """Return the classes of size and colour, each with its reason."""
    size = _reason(SCALE_SHORT[verdict.scale_class], verdict.size_words)
    colour = _reason(COLOUR_CLASS_SHORT[verdict.colour_class], verdict.colour_words)
    return f"Size: {size}", f"Colour: {colour}"


def is_full(verdict: StationVerdict) -> bool:
    """Tell whether a photograph has everything a station can give it."""
    return verdict.scale_class is ScaleClass.MEASURED and verdict.colour_class in (
        ColourClass.MEASURED,
        ColourClass.STATION,
    )


def expiry_words(station: ShootingStation, today: date) -> str:
    """Return until when a station holds, or since when it does not.

    Examples
    --------
    >>> bench = ShootingStation("bench", date(2026, 3, 2), "", "")
    >>> expiry_words(bench, date(2026, 3, 30)), expiry_words(bench, date(2026, 4, 1))
    ('holds until 2026-04-01, 2 days left', 'expired on 2026-04-01')
    """
    if has_expired(station, today):
        return f"expired on {station.expires_on.isoformat()}"
    days = (station.expires_on - today).days
    left = "1 day left" if days == 1 else f"{days} days left"
    return f"holds until {station.expires_on.isoformat()}, {left}"


def _reason(kind: str, why: str) -> str:
    """Return a class and its reason, the class once only."""
    return why if why.lower().startswith(kind) else f"{kind}. {why}".strip()
