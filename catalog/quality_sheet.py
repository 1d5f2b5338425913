"""The quality sheet of a photograph: one picture that says how far its figures can be trusted."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from catalog.light_map import draw_light_map
from catalog.patch_table import draw_patch_table
from catalog.set_paper import ACCENT, INK, PALE, TINT
from catalog.set_words import COLOUR_CLASS_LONG, COLOUR_CLASS_SHORT, colour_words, size_mm
from catalog.sheet_pen import Pen, Place, short
from vision.flags import MEANINGS
from vision.match_render import PAPER
from vision.readings import (
    LeafColour,
    LeafSize,
    MarkerMiss,
    PhotoQuality,
    PhotoReading,
    ScaleClass,
)

WIDTH = 1600
MOST_HEIGHT = 5200
MARGIN = 60
GAP = 56
LEFT = 700
RIGHT_AT = MARGIN + LEFT + GAP
RIGHT = WIDTH - MARGIN - RIGHT_AT
PHOTO_HEIGHT = 1060
"""The photograph is no higher than this; its width is at most that of the left column."""
LONGEST_ARROW = 64.0
"""Pixels of the sheet that the largest miss of a marker is drawn long, at most."""
MISS = (176, 42, 26)
OUTLINE = (47, 93, 87)

SCALE_SHORT: dict[ScaleClass, str] = {
    ScaleClass.MEASURED: "measured",
    ScaleClass.RAILS: "by the rails as printed",
    ScaleClass.TYPED: "by the size typed in",
    ScaleClass.NONE: "no scale",
}
SCALE_LONG: dict[ScaleClass, str] = {
    ScaleClass.MEASURED: (
        "By rails whose length was taken by tape, the lens corrected in the same photograph."
    ),
    ScaleClass.RAILS: "By the marker rails, their printed length taken on trust.",
    ScaleClass.TYPED: "By the length or width typed in; the lens is not corrected.",
    ScaleClass.NONE: "No rails in view and no size typed in: figures are in pixels only.",
}


@dataclass(frozen=True, slots=True)
class Window:
    """Where the photograph lies on the sheet."""

    corner: Place
    size: tuple[int, int]
    scale: float
    """Sheet pixels to one full-size pixel of the photograph."""

    def at(self, x_px: float, y_px: float) -> Place:
        """Return the place on the sheet of a full-size pixel."""
        x, y = self.corner
        return x + (x_px + 0.5) * self.scale, y + (y_px + 0.5) * self.scale


def draw_quality_sheet(photo_rgb: NDArray[np.uint8], reading: PhotoReading) -> Image.Image:
    """Return the sheet: photograph with residual arrows, light map, patches, flags, in words.

    Parameters
    ----------
    photo_rgb : ndarray of uint8, shape (rows, columns, 3)
        The upright photograph, sRGB, at any size.
    reading : PhotoReading
        What was read from it. What it does not hold has no panel, and a sentence says why.

    Returns
    -------
    Image
        sRGB, 1600 pixels wide, as high as it needs to be.
    """
    pen = Pen(WIDTH, MOST_HEIGHT)
    quality = reading.quality or PhotoQuality()
    top = _draw_head(pen, reading)
    left_end = _draw_photograph(pen, photo_rgb, reading, quality, top)
    right_end = _draw_size(pen, reading, quality, top)
    right_end = _draw_colour(pen, reading, quality, right_end + 26)
    right_end = _draw_flags(pen, reading, right_end + 26)
    under_photo = left_end + 0.4 * LEFT < right_end
    column, width = (MARGIN, LEFT) if under_photo else (RIGHT_AT, RIGHT)
    map_end = draw_light_map(
        pen,
        (column, (left_end if under_photo else right_end) + 26),
        reading,
        width=width,
        most_height=620,
    )
    end = max(map_end, right_end, left_end) + 34
    pen.rule((MARGIN, end), WIDTH - 2 * MARGIN)
    end = draw_patch_table(pen, (MARGIN, end + 24), quality, width=WIDTH - 2 * MARGIN)
    return pen.sheet(end + 44)


def heading(pen: Pen, at: Place, words: str, *, says: str = "") -> float:
    """Write the heading of a panel, with what it says in short beside it; return where it ends."""
    wide = pen.words(at, words, size=22, bold=True, colour=ACCENT)
    if says:
        pen.words((at[0] + wide + 14, at[1]), says, size=22, bold=True)
    return at[1] + 36


def _draw_head(pen: Pen, reading: PhotoReading) -> float:
    room = WIDTH - 2 * MARGIN
    leaves = " | ".join(leaf.leaf for leaf in reading.leaves)
    count = "leaf" if len(reading.leaves) == 1 else "leaves"
    pen.words(
        (MARGIN, 48), short(f"Quality of {reading.file}", room, size=34, bold=True), size=34,
        bold=True,
    )  # fmt: skip
    facts = [f"{count} {leaves}" if leaves else "no leaf"]
    facts.append(f"{reading.width_px} × {reading.height_px} pixels")
    if reading.taken_at:
        facts.append(f"taken {reading.taken_at.replace('T', ' ')}")
    facts.append(f"read with version {reading.pipeline_version}")
    line = short("   ·   ".join(facts), room, size=17)
    pen.words((MARGIN, 98), line, size=17, colour=PALE)
    pen.rule((MARGIN, 136), room)
    return 162.0


def _draw_photograph(
    pen: Pen,
    photo_rgb: NDArray[np.uint8],
    reading: PhotoReading,
    quality: PhotoQuality,
    top: float,
) -> float:
    scale = min(LEFT / reading.width_px, PHOTO_HEIGHT / reading.height_px)
    size = (round(reading.width_px * scale), round(reading.height_px * scale))
    window = Window((MARGIN + (LEFT - size[0]) // 2, top), size, scale)
    pen.picture(photo_rgb, window.corner, size)
    for leaf in reading.leaves:
        if len(leaf.outline) > 2:
            places = [window.at(*point) for point in (*leaf.outline, leaf.outline[0])]
            pen.line(places, colour=PAPER, thick=4.5)
            pen.line(places, colour=OUTLINE, thick=2.5)
    y = top + size[1] + 16
    if not quality.markers:
        words = "Green: the outline as it stands. " if reading.leaves else ""
        words += "No numbered rails were read, so there are no misses of markers to show."
        return pen.paragraph((MARGIN, y), words, width=LEFT, size=16, colour=PALE)
    per_mm = _arrow_px_per_mm(quality.markers)
    for miss in quality.markers:
        step = (miss.dx_mm * per_mm, miss.dy_mm * per_mm)
        pen.arrow(window.at(miss.x_px, miss.y_px), step, colour=MISS)
    return _explain_arrows(pen, reading, quality, window, (MARGIN, y), per_mm)


def _arrow_px_per_mm(markers: tuple[MarkerMiss, ...]) -> float:
    """Return how long a millimetre of miss is drawn, sheet pixels: 1, 2 or 5 times a power of 10.

    Examples
    --------
    >>> _arrow_px_per_mm((MarkerMiss(0, 0.0, 0.0, 0.3, 0.4),))
    100.0
    """
    most = LONGEST_ARROW / max(1e-3, *(math.hypot(miss.dx_mm, miss.dy_mm) for miss in markers))
    decade = 10.0 ** math.floor(math.log10(most))
    return max(step * decade for step in (1.0, 2.0, 5.0) if step * decade <= most)


def _explain_arrows(
    pen: Pen,
    reading: PhotoReading,
    quality: PhotoQuality,
    window: Window,
    at: Place,
    per_mm: float,
) -> float:
    x, y = at
    key_px = 40.0 if f"{per_mm:e}".startswith("2") else 50.0
    pen.arrow((x + 2, y + 11), (key_px, 0.0), colour=MISS)
    wide = pen.words((x + 64, y), f"{key_px / per_mm:g} mm", size=17, bold=True)
    scales = [leaf.size.px_per_mm for leaf in reading.leaves if leaf.size.px_per_mm]
    times = f" (about {per_mm / (scales[0] * window.scale):,.0f} times too long)" if scales else ""
    farthest = max(quality.markers, key=lambda miss: math.hypot(miss.dx_mm, miss.dy_mm))
    miss_mm = math.hypot(farthest.dx_mm, farthest.dy_mm)
    pen.words((x + 64 + wide + 12, y), f"of miss is drawn so long{times}.", size=17)
    words = (
        "Each arrow shows how far a marker of the rails lies from where the fit puts it. "
        f"{len(quality.markers)} markers"
    )
    if quality.rail_rms_mm is not None:
        words += f", {quality.rail_rms_mm:.2f} mm on the whole (RMS)"
    words += f"; the farthest, number {farthest.number}, by {miss_mm:.2f} mm."
    if reading.leaves:
        words += " Green: the outline as it stands."
    return pen.paragraph((x, y + 32), words, width=LEFT, size=16, colour=PALE)


def _draw_size(pen: Pen, reading: PhotoReading, quality: PhotoQuality, top: float) -> float:
    if not reading.leaves:
        y = heading(pen, (RIGHT_AT, top), "Size")
        words = quality.size_words or "No leaf is in view."
        return pen.paragraph((RIGHT_AT, y), words, width=RIGHT)
    kind = reading.leaves[0].size.scale_class
    y = heading(pen, (RIGHT_AT, top), "Size", says=SCALE_SHORT[kind])
    for leaf in reading.leaves:
        y = _fact(pen, y, f"Leaf {leaf.leaf}", size_mm(leaf.size), _spread(leaf.size))
    words = quality.size_words or SCALE_LONG[kind]
    return pen.paragraph((RIGHT_AT, y + 4), words, width=RIGHT, size=17)


def _draw_colour(pen: Pen, reading: PhotoReading, quality: PhotoQuality, top: float) -> float:
    pen.rule((RIGHT_AT, top - 14), RIGHT)
    if not reading.leaves:
        y = heading(pen, (RIGHT_AT, top), "Colour")
        words = quality.colour_words or "No leaf is in view."
        return pen.paragraph((RIGHT_AT, y), words, width=RIGHT)
    kind = reading.leaves[0].colour.colour_class
    y = heading(pen, (RIGHT_AT, top), "Colour", says=COLOUR_CLASS_SHORT[kind])
    for leaf in reading.leaves:
        y = _fact(pen, y, f"Leaf {leaf.leaf}", colour_words(leaf.colour), _doubt(leaf.colour))
    words = quality.colour_words or COLOUR_CLASS_LONG[kind]
    return pen.paragraph((RIGHT_AT, y + 4), words, width=RIGHT, size=17)


def _draw_flags(pen: Pen, reading: PhotoReading, top: float) -> float:
    pen.rule((RIGHT_AT, top - 14), RIGHT)
    if not reading.flags:
        y = heading(pen, (RIGHT_AT, top), "Look at", says="nothing")
        words = "Nothing doubtful was found in this photograph."
        return pen.paragraph((RIGHT_AT, y), words, width=RIGHT, size=17)
    y = heading(pen, (RIGHT_AT, top), "Look at")
    for flag in reading.flags:
        start = y
        short_words, advice = MEANINGS[flag].short, MEANINGS[flag].advice
        y = pen.paragraph((RIGHT_AT + 20, y), short_words.capitalize(), width=RIGHT, bold=True)
        y = pen.paragraph((RIGHT_AT + 20, y), advice, width=RIGHT - 20, size=17)
        pen.box((RIGHT_AT, start + 2), (6, y - start - 6), fill=MISS)
        y += 8
    return y - 8


def _fact(pen: Pen, y: float, name: str, figure: str, spread: str) -> float:
    """Write a leaf's name, its figure and how far that may be off; return where the next goes."""
    pen.box((RIGHT_AT, y), (RIGHT, 34), fill=TINT)
    x = RIGHT_AT + 12
    wide = pen.words((x, y + 6), short(name, 150, size=18, bold=True), size=18, bold=True)
    wide += 16 + pen.words((x + wide + 16, y + 6), figure, size=18, colour=INK)
    room = RIGHT - wide - 40
    pen.words(
        (RIGHT_AT + RIGHT - 12, y + 7), short(spread, room, size=16), size=16, colour=PALE,
        anchor="ra",
    )  # fmt: skip
    return y + 40


def _spread(size: LeafSize) -> str:
    if size.length_sd_mm is None:
        return ""
    width = "" if size.width_sd_mm is None else f", ± {size.width_sd_mm:.1f} wide"
    return f"± {size.length_sd_mm:.1f} mm long{width}"


def _doubt(colour: LeafColour) -> str:
    sd = "" if colour.delta_e00_sd is None else f"± {colour.delta_e00_sd:.1f} ΔE00, "
    return f"{sd}{colour.illuminant}"
