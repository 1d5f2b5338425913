"""The walk of one photograph: file, board, outline, flat leaf, readings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from vision.board import FINE_LONG_PX, find_board
from vision.bundle_light import SURVEY_SHOTS, BundleLight, judge_board, settle_light
from vision.cut_out import CutOut, cut_out, cut_out_pair
from vision.errors import VisionError
from vision.figure import measure_figure
from vision.flags import PhotoFlag
from vision.leaf_colour import measure_colour
from vision.leaf_image import LeafImage
from vision.light_profile import HeldAgainst, measure_light
from vision.markers import find_rails
from vision.outline import choose_leaves, find_leaves
from vision.photo import Photo, read_photo
from vision.readings import ColourClass, LeafReading, LightReference, PhotoReading
from vision.settings import PIPELINE_VERSION, VisionSettings
from vision.shot import Laid, Lamp, Shot

LEVEL_SD = {LightReference.BLANK: 0.002, LightReference.BOARD: 0.004}
"""One standard deviation, as a fraction, to which the board under the leaf is known."""
DARK_BOARD_SD = 6e-5
"""Linear light by which a dark board is misread: rounding to eight bits and compression."""

SCALE_SD = {ColourClass.GREY_STEPS: 0.01, ColourClass.RELATIVE: 0.20, ColourClass.NONE: 0.25}
"""One standard deviation of the lightness scale, as a fraction of a step: without known greys the
camera's exposure may be half as light or twice as light as taken, and its contrast is unknown:
steps came out 15 to 30 % off on photographs of other makers."""

MISFIT_SCALE = 1.2
"""The same for each unit of the strip's misfit: a camera's contrast curve is steepest in the mid
tones, where wood lies (drawn with powers of 0.9 and 1.12: steps came out 0.9 and 1.12 times as
large at a misfit of 0.07 to 0.1)."""


@dataclass(frozen=True, slots=True, eq=False)
class BlankFrame:
    """A photograph of the bare board under one lamp."""

    photo: Photo
    lamp: Lamp


@dataclass(frozen=True, slots=True, eq=False)
class ReadShot:
    """What a photograph gave: the reading, and the flat leaves parallel to ``reading.leaves``."""

    reading: PhotoReading
    leaves: tuple[LeafImage, ...]
    original: bytes
    """The very bytes of the file that were read."""


def read_blank(path: Path, shot: Shot, *, settings: VisionSettings) -> BlankFrame:
    """Return a photograph of the bare board, for the shots under the same lamp."""
    return BlankFrame(read_photo(path, settings=settings), shot.lamp)


def survey_light(
    folder: Path, shots: Iterable[Shot], *, settings: VisionSettings
) -> BundleLight | None:
    """Return the board's reflectance from a few photographs of a bundle; None if none is readable.

    The first `SURVEY_SHOTS` photographs that can be read are asked, so that the same folder always
    gives the same answer.
    """
    judged: list[BundleLight] = []
    for shot in shots:
        if len(judged) == SURVEY_SHOTS:
            break
        try:
            file = folder / shot.file
            photo = read_photo(file, settings=settings, least_long_px=FINE_LONG_PX)
            judged.append(judge_board(find_board(photo.rgb), settings=settings))
        except VisionError:
            continue
    return settle_light(judged) if judged else None


def read_shot(
    path: Path,
    shot: Shot,
    *,
    settings: VisionSettings,
    light: BundleLight | None = None,
    blanks: Mapping[Lamp, BlankFrame] | None = None,
) -> ReadShot:
    """Return what one photograph shows of its leaf, or of its two leaves if they lie opened.

    Parameters
    ----------
    path : Path
        The photograph.
    shot : Shot
        How the leaf lay and was lit. For a bare board only the file is checked.
    settings : VisionSettings
    light : BundleLight or None
        The bundle's scale (`survey_light`); without it the photograph stands for itself.
    blanks : mapping of Lamp to BlankFrame, or None
        Photographs of the bare board; the one under the shot's lamp is used.

    Raises
    ------
    PhotoUnreadable
        If the file cannot be read.
    BoardNotFound
        If too little plain board is in view.
    LeafNotFound
        If there is no leaf, a leaf too many or too few, or the frame cuts it.
    """
    photo = read_photo(path, settings=settings)
    if shot.blank:
        return ReadShot(_photo_reading(photo, shot, (), photo.flags), (), photo.original)
    blank = (blanks or {}).get(shot.lamp)
    board = find_board(photo.rgb, blank=None if blank is None else blank.photo.rgb)
    light = light or judge_board(board, settings=settings)
    outlines = choose_leaves(find_leaves(board), pair=shot.laid is Laid.OPENED_PAIR)
    rails = find_rails(photo.rgb) if shot.length_mm is None else ()
    cut = cut_out_pair if shot.laid is Laid.OPENED_PAIR else cut_out
    leaves = cut(photo, board, outlines, shot=shot, rails=rails, board_rgb=light.board_rgb)
    reference = LightReference.BOARD if blank is None else LightReference.BLANK
    readings = tuple(
        _leaf_reading(label, leaf, light, reference)
        for label, leaf in zip(shot.leaves, leaves, strict=True)
    )
    flags = [*photo.flags, *(flag for leaf in leaves for flag in leaf.flags)]
    if light.colour_class is not ColourClass.GREY_STEPS:
        flags.append(PhotoFlag.STRIP_MISSING)
    return ReadShot(
        reading=_photo_reading(photo, shot, readings, flags),
        leaves=tuple(leaf.image for leaf in leaves),
        original=photo.original,
    )


def _leaf_reading(
    label: str, leaf: CutOut, light: BundleLight, reference: LightReference
) -> LeafReading:
    held = HeldAgainst(
        foot=leaf.foot,
        station=leaf.station,
        reference=reference,
        level_sd=float(np.hypot(LEVEL_SD[reference], DARK_BOARD_SD / leaf.darkest_board)),
        scale_sd=float(np.hypot(SCALE_SD[light.colour_class], MISFIT_SCALE * light.strip_misfit)),
    )
    return LeafReading(
        leaf=label,
        size=leaf.size,
        colour=measure_colour(leaf.image, colour_class=light.colour_class),
        figure=measure_figure(leaf.image),
        light=measure_light(leaf.image, held),
        outline=leaf.outline,
    )


def _photo_reading(
    photo: Photo, shot: Shot, leaves: tuple[LeafReading, ...], flags: Iterable[PhotoFlag]
) -> PhotoReading:
    return PhotoReading(
        file=shot.file,
        sha256=photo.sha256,
        width_px=photo.full_width_px,
        height_px=photo.full_height_px,
        taken_at=photo.taken_at,
        leaves=leaves,
        flags=tuple(dict.fromkeys(flags)),
        pipeline_version=PIPELINE_VERSION,
    )
