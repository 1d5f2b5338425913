"""The named lights as the generator of samples writes them, independent of `vision.room_lights`."""

from __future__ import annotations

import numpy as np

from sample_images.rooms import RoomLight, sky, small_lamps, sun, window

STANDING = (0.0, 300.0, 2200.0)


def true_rooms(length_mm: float) -> dict[str, RoomLight]:
    """Return every named light about a leaf of that length."""
    end = length_mm / 2
    low, aside = np.radians(20), np.radians(35)
    to_sun = (np.sin(aside) * np.cos(low), np.cos(aside) * np.cos(low), np.sin(low))
    row = [(x, end + 500.0, 900.0) for x in (-1600.0, -800.0, 0.0, 800.0, 1600.0)]
    tube = [(x, end + 150.0, 220.0) for x in (-200.0, -100.0, 0.0, 100.0, 200.0)]
    past_end = window((0.0, end + 1500.0, 900.0), (1200.0, 0.0, 0.0), (0.0, 0.0, 1400.0))
    beside = window((2000.0, 0.0, 900.0), (0.0, 1200.0, 0.0), (0.0, 0.0, 1400.0))
    return {
        "lamp-row": RoomLight(small_lamps(row), STANDING),
        "window-end": RoomLight(past_end, (600.0, -200.0, 1500.0)),
        "window-side": RoomLight(beside, STANDING),
        "low-sun": RoomLight(sun(to_sun), STANDING),
        "even-sky": RoomLight(sky(), STANDING),
        "picture-light": RoomLight(small_lamps(tube), STANDING),
    }
