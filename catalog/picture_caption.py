"""Words and a scale bar under a picture, drawn into its pixels so that they cannot get lost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from vision.laying import shows_other_face
from vision.layout import Layout
from vision.match_render import PAPER

FONTS = Path(__file__).parent / "fonts"
INK = (38, 34, 30)
PALE_INK = (112, 104, 96)
LEAST_WIDTH_PX = 420
"""A captioned picture is at least so wide, so that a narrow leaf does not break its words."""
BAR_SHARE = 0.3
"""The scale bar takes at most this share of the width."""


@cache
def font_at(size_px: int, *, bold: bool = False) -> ImageFont.FreeTypeFont:
    """Return the house font at a size in pixels."""
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    # The basic layout is the same on every machine; the other needs a library that may be absent.
    return ImageFont.truetype(FONTS / name, size_px, layout_engine=ImageFont.Layout.BASIC)


def bar_length_mm(width_mm: float) -> float:
    """Return the longest round length (1, 2 or 5 times a power of ten) that suits a width.

    Examples
    --------
    >>> bar_length_mm(900.0), bar_length_mm(240.0)
    (200.0, 50.0)
    """
    most = BAR_SHARE * width_mm
    decade = 10.0 ** math.floor(math.log10(most))
    return max(step * decade for step in (1.0, 2.0, 5.0) if step * decade <= most * (1 + 1e-9))


def caption_leaf(
    rgb: NDArray[np.uint8], lines: Sequence[str], *, px_per_mm: float | None
) -> NDArray[np.uint8]:
    """Return a picture on paper with lines of words (the first in bold) and a scale bar below."""
    size = _text_px(rgb)
    fonts = [font_at(size, bold=index == 0) for index in range(len(lines))]
    widest = max(font.getlength(line) for font, line in zip(fonts, lines, strict=True))
    below = round(size * (1.5 * len(lines) + 3.4))
    page, draw, top = _paper(rgb, margin=size, below=below, least_width=int(widest) + 2 * size)
    left = size
    for index, (font, line) in enumerate(zip(fonts, lines, strict=True)):
        draw.text((left, top), line, font=font, fill=PALE_INK if index else INK)
        top += round(1.5 * size)
    draw_bar(draw, (left, top + size // 2), size=size, px_per_mm=px_per_mm, width=page.width)
    return np.asarray(page)


def caption_match(
    rgb: NDArray[np.uint8], layout: Layout, *, title: str, px_per_mm: float
) -> NDArray[np.uint8]:
    """Return a painted match on paper, each leaf named below it, with a title and a scale bar."""
    size = _text_px(rgb)
    page, draw, top = _paper(rgb, margin=size, below=round(size * 7.6), least_width=0)
    left = (page.width - rgb.shape[1]) // 2
    _name_leaves(draw, layout, left=left, top=top, size=size, total_px=rgb.shape[1])
    top += round(3.2 * size)
    font = _fitting(title, page.width - 2 * size, size, bold=True)
    draw.text((left, top), title, font=font, fill=INK)
    scale = px_per_mm if layout.unit == "mm" else None
    bar_at = (left, top + round(2.2 * size))
    draw_bar(draw, bar_at, size=size, px_per_mm=scale, width=rgb.shape[1])
    return np.asarray(page)


def _text_px(rgb: NDArray[np.uint8]) -> int:
    return max(12, round(0.014 * max(int(side) for side in rgb.shape[:2])))


def _paper(
    rgb: NDArray[np.uint8], *, margin: int, below: int, least_width: int
) -> tuple[Image.Image, ImageDraw.ImageDraw, int]:
    """Return a sheet with the picture on it, its pen, and the row where words may begin."""
    rows, columns = rgb.shape[:2]
    width = max(columns + 2 * margin, LEAST_WIDTH_PX, least_width)
    page = Image.new("RGB", (width, rows + margin + below), PAPER)
    page.paste(Image.fromarray(rgb), ((width - columns) // 2, margin))
    return page, ImageDraw.Draw(page), margin + rows + margin // 2


def _fitting(text: str, width: int, size: int, *, bold: bool = False) -> ImageFont.FreeTypeFont:
    """Return the font at ``size``, or as much smaller as the text needs to fit."""
    font = font_at(size, bold=bold)
    wide = font.getlength(text)
    return font if wide <= width else font_at(max(8, int(size * width / wide)), bold=bold)


def _name_leaves(
    draw: ImageDraw.ImageDraw, layout: Layout, *, left: int, top: int, size: int, total_px: int
) -> None:
    """Write each leaf's label under it, and under that whether it is turned.

    Of a face that is no single row of leaves, only which leaves it is made of.
    """
    if not layout.is_one_row:
        leaves = list(dict.fromkeys(place.leaf for place in layout.placements))
        words = f"Leaves {', '.join(leaves)}" if len(leaves) < 9 else f"{len(leaves)} leaves, "
        words += "" if len(leaves) < 9 else f"{leaves[0]} to {leaves[-1]}"
        draw.text((left, top), words, font=_fitting(words, total_px, size), fill=INK)
        return
    scale = total_px / layout.width_mm
    room = min(place.width_mm for place in layout.placements) * scale * 0.94
    longest = max((place.leaf for place in layout.placements), key=len)
    label_font = _fitting(longest, int(room), size)
    turned_font = _fitting("turned", int(room), round(0.85 * size))
    for place in layout.placements:
        middle = left + (place.x_mm + place.width_mm / 2) * scale
        draw.text((middle, top), place.leaf, font=label_font, fill=INK, anchor="ma")
        if shows_other_face(place.laid):
            below = (middle, top + round(1.3 * size))
            draw.text(below, "turned", font=turned_font, fill=PALE_INK, anchor="ma")


def draw_bar(
    draw: ImageDraw.ImageDraw,
    at: tuple[int, int],
    *,
    size: int,
    px_per_mm: float | None,
    width: int,
) -> None:
    """Draw a scale bar whose length suits a picture so wide, or that there is no scale."""
    x, y = at
    if px_per_mm is None:
        draw.text((x, y), "no scale", font=font_at(size), fill=PALE_INK)
        return
    length_mm = bar_length_mm(width / px_per_mm)
    end = x + length_mm * px_per_mm
    thick = max(1, size // 8)
    middle = y + size // 2
    draw.line([(x, middle), (end, middle)], fill=INK, width=thick)
    for tick in (x, end):
        draw.line([(tick, y), (tick, y + size)], fill=INK, width=thick)
    words = f"{length_mm:g} mm"
    draw.text((end + size // 2, middle), words, font=font_at(size), fill=INK, anchor="lm")
