"""The drawn station of the sample photographs, and what a steel tape says of it."""

from __future__ import annotations

from datetime import date

from catalog.catalog import open_catalog
from catalog.station_setting import keep_station, rails_by_tape, set_up
from tests.ui.running import ROOT
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shooting_station import ShootingStation

PHOTOS = ROOT / "sample_images" / "station"
SET_UP, OAK = PHOTOS / "set-up.jpg", PHOTOS / "oak.jpg"
TAPE = {
    "left_mm": 2793.5,
    "right_mm": 2794.0,
    "gap_top_mm": 532.0,
    "gap_bottom_mm": 529.5,
    "pitch_mm": 100.0,
}
SAID = (
    *("--left-mm", 2793.5, "--right-mm", 2794, "--gap-top-mm", 532, "--gap-bottom-mm", 529.5),
    *("--camera-height-mm", 3100, "--chart", "after-2014", "--chart-patch-mm", 38),
)
TAKEN_ON = date(2026, 11, 23)
"""The day in both files."""


def keep_bench(url: str, *, days: int = 30) -> None:
    """Set the station “bench” up in a catalogue."""
    typed = ShootingStation(
        name="bench",
        made_on=TAKEN_ON,
        camera="",
        lamps="two lamps",
        rails=rails_by_tape(**TAPE),
        camera_height_mm=3100.0,
        chart_edition="after-2014",
        chart_patch_mm=38.0,
        days=days,
    )
    tried = set_up(SET_UP, typed, settings=DEFAULT_VISION_SETTINGS, today=TAKEN_ON)
    with open_catalog(url) as catalog:
        keep_station(tried, catalog=catalog)
