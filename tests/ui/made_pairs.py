"""Pairs made by hand for the tests of words and pictures."""

from vision.flags import AlternationFlag
from vision.readings import Evidence, PairAlternation


def a_pair(
    step: float | None, *, low: float | None = None, high: float | None = None
) -> PairAlternation:
    return PairAlternation(
        left="01",
        right="02",
        match="book",
        light="lamp A",
        lightness_step=step,
        lightness_low=low,
        lightness_high=high,
        delta_e00=None if step is None else abs(step),
        delta_e00_low=None,
        delta_e00_high=None,
        tilt_part=step,
        face_part=None,
        local_rms=None,
        likely=AlternationFlag.NOT_MEASURED if step is None else AlternationFlag.STRONG,
        flag="not-measured" if step is None else "strong",
        evidence=Evidence.NONE if step is None else Evidence.OPENED_PAIR,
    )
