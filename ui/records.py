"""Readings as the records of the machine-readable output; other programs rely on the names."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from vision.readings import LeafReading, PairAlternation, PhotoReading
from vision.shot import Shot
from vision.shot_list import Refusal

Record = dict[str, Any]

PAIR_FIELDS = (
    "left",
    "right",
    "match",
    "light",
    "lightness_step",
    "lightness_low",
    "lightness_high",
    "delta_e00",
    "delta_e00_low",
    "delta_e00_high",
    "tilt_part",
    "face_part",
    "local_rms",
    "likely",
    "flag",
    "evidence",
)
"""Fields of one pair in one light, in the order in which they are written."""
SEGMENT_FIELDS = ("start", "end", "lightness_step", "sd", "delta_e00")
"""Fields of one fifth of a pair's length, from the top."""
SIZE_FIELDS = (
    "length_mm",
    "width_mm",
    "px_per_mm",
    "scale_class",
    "length_sd_mm",
    "width_sd_mm",
    "net_area_mm2",
    "split_area_mm2",
    "hole_area_mm2",
)
DECIMALS = 3
"""Numbers are written to a thousandth: finer than anything a photograph can tell."""


def measured_record(shot: Shot, reading: PhotoReading, leaf: LeafReading) -> Record:
    """Return what is known of one leaf in one photograph."""
    size = asdict(leaf.size)
    return {
        "file": reading.file,
        "leaf": leaf.leaf,
        "laid": str(shot.laid),
        "lamp": str(shot.lamp),
        "size": _rounded({name: size[name] for name in SIZE_FIELDS}),
        "colour": _rounded(asdict(leaf.colour)),
        "figure": _rounded(asdict(leaf.figure)),
        "light": {"slices": [[round(part, 6) for part in one] for one in leaf.light.slices]},
        "outline": leaf.outline,
        "outline_mm": leaf.outline_mm,
        "colour_words": "" if reading.quality is None else reading.quality.colour_words,
        "size_words": "" if reading.quality is None else reading.quality.size_words,
        "flags": [str(flag) for flag in reading.flags],
    }


def pair_record(pair: PairAlternation) -> Record:
    """Return one pair in one light."""
    record = _rounded({name: getattr(pair, name) for name in PAIR_FIELDS})
    record["segments"] = [
        _rounded({name: getattr(segment, name) for name in SEGMENT_FIELDS})
        for segment in pair.segments
    ]
    return record


def refused_record(refusal: Refusal) -> Record:
    """Return why a photograph or line of the shot list could not be used."""
    return {"file": refusal.file, "reason": refusal.reason}


def _rounded(record: Record) -> Record:
    return {
        name: round(value, DECIMALS) if isinstance(value, float) else _plain(value)
        for name, value in record.items()
    }


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, str) else value
