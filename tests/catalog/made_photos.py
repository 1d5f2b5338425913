"""Photographs as if measured, made by hand, for tests of what is stored."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from catalog.catalog import Catalog
from catalog.new_photo import NewPhoto
from catalog.records import BundleId, PictureKeys
from vision.flags import AlternationFlag, PhotoFlag
from vision.readings import (
    SLICES,
    ColourClass,
    Evidence,
    LeafColour,
    LeafFigure,
    LeafReading,
    LeafSize,
    LightProfile,
    LightReference,
    PairAlternation,
    PhotoReading,
    ScaleClass,
)
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot import Laid, Lamp, Shot


def digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def a_bundle(catalog: Catalog, *, name: str = "Ashgrove 17") -> BundleId:
    flitch = catalog.add_flitch(name=name, species="European ash", cut="quarter")
    return catalog.add_bundle(flitch, label="1")


def a_shot(leaf: str, lamp: Lamp = Lamp.A, laid: Laid = Laid.AS_LIES, *, wet: bool = False) -> Shot:
    return Shot(f"{leaf}-{laid}-{lamp}{'-wet' if wet else ''}.jpg", leaf, laid, lamp, wet=wet)


def a_leaf(
    label: str, *, length_mm: float | None = 2000.0, width_mm: float | None = 250.0
) -> LeafReading:
    size = LeafSize(
        length_mm=length_mm,
        width_mm=width_mm,
        px_per_mm=None if length_mm is None else 1800.0 / length_mm,
        scale_class=ScaleClass.NONE if length_mm is None else ScaleClass.TYPED,
        length_px=1800.0,
        width_px=225.0,
    )
    colour = LeafColour(72.5, 4.0, 18.25, 18.7, 77.6, 66.0, 79.0, "D50/2", ColourClass.RELATIVE)
    figure = LeafFigure(-1.5, 0.875, 2.25, None, None, 0.0)
    light = LightProfile(
        ((0.5, 0.4, 0.3),) * SLICES,
        0.5,
        (70.0, 71.0),
        (72.0, 73.0),
        2.0,
        LightReference.BOARD,
        0.004,
    )
    return LeafReading(
        label, size, colour, figure, light, ((10.0, 10.0), (30.0, 10.0), (30.0, 90.0))
    )


def a_photo(shot: Shot, *leaves: LeafReading, content: str = "") -> NewPhoto:
    """Return a measured photograph; ``content`` stands for its bytes, by default its name."""
    shown = leaves or tuple(a_leaf(label) for label in shot.leaves)
    reading = PhotoReading(
        file=shot.file,
        sha256=digest(content or shot.file),
        width_px=4000,
        height_px=6000,
        taken_at="2026-03-01T10:00:00",
        leaves=shown,
        flags=(PhotoFlag.STRIP_MISSING,),
        pipeline_version="1",
    )
    pictures = tuple(pictures_of(shot.file, side) for side in range(len(shown)))
    return NewPhoto(shot, reading, pictures, DEFAULT_VISION_SETTINGS)


def pictures_of(file: str, side: int = 0) -> PictureKeys:
    return PictureKeys(*(digest(f"{file} {side} {kind}") for kind in ("f", "s", "t", "m")))


def a_pair(left: str, right: str, flag: AlternationFlag, light: str = "lamp A") -> PairAlternation:
    measured = PairAlternation(
        left, right, "book", light, 1.5, 1.0, 2.0, 1.25, 0.75, 1.75, None, None, None,
        flag, flag.value, Evidence.SAME_FACE,
    )  # fmt: skip
    if flag is not AlternationFlag.NOT_MEASURED:
        return measured
    return replace(
        measured,
        lightness_step=None,
        lightness_low=None,
        lightness_high=None,
        delta_e00=None,
        delta_e00_low=None,
        delta_e00_high=None,
        evidence=Evidence.NONE,
    )
