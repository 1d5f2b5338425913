"""A pen for sheets drawn with Pillow: lines, words and arrows with smooth edges, in the house look.

Places are in pixels of the finished sheet; the sheet is drawn at twice its size and then halved.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from catalog.picture_caption import font_at
from catalog.set_paper import INK, PALE, RULE
from vision.match_render import PAPER

Colour = tuple[int, int, int]
Place = tuple[float, float]

FINE = 2
"""Drawn so many times larger, so that slanting lines come out smooth."""
LINE_SHARE = 1.42
"""Height of a line of words over its size."""


class Pen:
    """Draws on a sheet of a given width that is cut to the height in use when it is done."""

    def __init__(self, width: int, most_height: int) -> None:
        self.width = width
        self._page = Image.new("RGB", (width * FINE, most_height * FINE), PAPER)
        self._draw = ImageDraw.Draw(self._page)

    def sheet(self, height: float) -> Image.Image:
        """Return the finished sheet."""
        used = self._page.crop((0, 0, self.width * FINE, round(height) * FINE))
        return used.resize((self.width, round(height)), Image.Resampling.BOX)

    def words(
        self,
        at: Place,
        words: str,
        *,
        size: int = 18,
        bold: bool = False,
        colour: Colour = INK,
        anchor: str = "la",
        halo: bool = False,
    ) -> float:
        """Write one line and return its width; ``anchor`` as in Pillow."""
        font = font_at(size * FINE, bold=bold)
        self._draw.text(
            (at[0] * FINE, at[1] * FINE),
            words,
            font=font,
            fill=colour,
            anchor=anchor,
            stroke_width=3 * FINE if halo else 0,
            stroke_fill=PAPER,
        )
        return font.getlength(words) / FINE

    def paragraph(
        self,
        at: Place,
        words: str,
        *,
        width: float,
        size: int = 18,
        bold: bool = False,
        colour: Colour = INK,
    ) -> float:
        """Write words in lines no wider than ``width``; return where they end."""
        x, y = at
        for line in wrapped(words, width, size=size, bold=bold):
            self.words((x, y), line, size=size, bold=bold, colour=colour)
            y += size * LINE_SHARE
        return y

    def rule(self, at: Place, width: float) -> None:
        """Draw a thin rule."""
        self.line([at, (at[0] + width, at[1])], colour=RULE, thick=1)

    def line(self, places: Sequence[Place], *, colour: Colour = INK, thick: float = 1.5) -> None:
        """Draw a line through places."""
        fine = [(x * FINE, y * FINE) for x, y in places]
        self._draw.line(fine, fill=colour, width=max(1, round(thick * FINE)), joint="curve")

    def box(
        self,
        corner: Place,
        size: Place,
        *,
        fill: Colour | None = None,
        edge: Colour | None = None,
    ) -> None:
        """Draw an upright rectangle."""
        x, y = corner
        ends = (x * FINE, y * FINE, (x + size[0]) * FINE - 1, (y + size[1]) * FINE - 1)
        self._draw.rectangle(ends, fill=fill, outline=edge, width=FINE)

    def arrow(self, tail: Place, step: Place, *, colour: Colour, thick: float = 2.5) -> None:
        """Draw an arrow on a pale halo; one too short for a head is a dot."""
        long = math.hypot(*step)
        for ink, more in ((PAPER, 3.0), (colour, 0.0)):
            if long < 3.0:
                self.dot(tail, radius=2.5 + more / 2, colour=ink)
                continue
            head = min(12.0, 0.6 * long) + more
            u = (step[0] / long, step[1] / long)
            tip = (tail[0] + step[0] + u[0] * more / 2, tail[1] + step[1] + u[1] * more / 2)
            neck = (tip[0] - u[0] * head, tip[1] - u[1] * head)
            self.line([tail, neck], colour=ink, thick=thick + more)
            half = 0.45 * head
            wings = [
                tip,
                (neck[0] - u[1] * half, neck[1] + u[0] * half),
                (neck[0] + u[1] * half, neck[1] - u[0] * half),
            ]
            self._draw.polygon([(x * FINE, y * FINE) for x, y in wings], fill=ink)

    def dot(self, at: Place, *, radius: float, colour: Colour) -> None:
        """Draw a round dot."""
        x, y = at
        ends = ((x - radius) * FINE, (y - radius) * FINE, (x + radius) * FINE, (y + radius) * FINE)
        self._draw.ellipse(ends, fill=colour)

    def picture(self, rgb: NDArray[np.uint8], corner: Place, size: tuple[int, int]) -> None:
        """Place a picture, made smaller or larger to ``size``."""
        whole = Image.fromarray(np.ascontiguousarray(rgb))
        fine = (size[0] * FINE, size[1] * FINE)
        gap = max(1.0, min(whole.width / fine[0], whole.height / fine[1]))
        fitted = whole.resize(fine, Image.Resampling.BICUBIC, reducing_gap=min(gap, 3.0))
        self._page.paste(fitted, (round(corner[0] * FINE), round(corner[1] * FINE)))


def wrapped(words: str, width: float, *, size: int, bold: bool = False) -> list[str]:
    """Return words broken into lines; a word too long for a line is cut."""
    font = font_at(size * FINE, bold=bold)
    lines: list[str] = []
    line = ""
    for word in words.split():
        while font.getlength(word) > width * FINE and len(word) > 1:
            cut = len(word) - 1
            while cut > 1 and font.getlength(word[:cut]) > width * FINE:
                cut -= 1
            lines += [line] * bool(line) + [word[:cut]]
            line, word = "", word[cut:]
        longer = f"{line} {word}".strip()
        if line and font.getlength(longer) > width * FINE:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


def short(words: str, width: float, *, size: int, bold: bool = False) -> str:
    """Return one line, ended with dots if it is too long."""
    font = font_at(size * FINE, bold=bold)
    if font.getlength(words) <= width * FINE:
        return words
    while words and font.getlength(f"{words}…") > width * FINE:
        words = words[:-1]
    return f"{words.rstrip()}…"


__all__ = ["INK", "PALE", "RULE", "Colour", "Pen", "Place", "short", "wrapped"]
