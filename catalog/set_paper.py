"""The sheet of paper under a picture set: type, margins, scale bars, running feet."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, time

import numpy as np
from fpdf import FPDF
from fpdf.enums import MethodReturnValue
from numpy.typing import NDArray

from catalog.picture_caption import FONTS, bar_length_mm
from vision.picture_file import PictureKind, encode_picture

WIDTH_MM, HEIGHT_MM = 210.0, 297.0
MARGIN_MM = 18.0
INNER_MM = WIDTH_MM - 2 * MARGIN_MM
TOP_MM = 20.0
FOOT_MM = 282.0
"""The running foot; nothing else goes below."""
INK = (38, 34, 30)
PALE = (112, 104, 96)
RULE = (206, 199, 190)
TINT = (245, 242, 237)
ACCENT = (130, 78, 44)
PT_TO_MM = 25.4 / 72
JPEG_QUALITY = 88


class Paper(FPDF):
    """A4, upright, in the house type; millimetres from the top left corner."""

    def __init__(self, *, title: str, author: str, on: date) -> None:
        super().__init__(orientation="portrait", unit="mm", format="A4")
        self.foot = title
        self.set_title(title)
        self.set_author(author)
        self.set_lang("en-GB")
        self.set_creation_date(datetime.combine(on, time(), UTC))
        self.set_margins(MARGIN_MM, TOP_MM, MARGIN_MM)
        self.set_auto_page_break(auto=False)
        self.c_margin = 0.0
        self.add_font("house", "", FONTS / "DejaVuSans.ttf")
        self.add_font("house", "B", FONTS / "DejaVuSans-Bold.ttf")

    def footer(self) -> None:
        """Write the running foot."""
        self._pen(7.5, PALE)
        self.set_xy(MARGIN_MM, FOOT_MM)
        self.cell(INNER_MM / 2, 4, self.foot)
        self.cell(INNER_MM / 2, 4, f"page {self.page_no()}", align="R")

    def heading(self, words: str, line: str = "") -> float:
        """Start a page with a heading and a line under it; return where the page goes on."""
        self.add_page()
        self.words(words, MARGIN_MM, TOP_MM - 2, size=16, bold=True)
        y = TOP_MM + 7
        if line:
            y = self.text_block(line, MARGIN_MM, y, width=INNER_MM, size=9, colour=PALE)
        self.rule(y + 2)
        return y + 6

    def words(
        self,
        words: str,
        x: float,
        y: float,
        *,
        size: float = 9.0,
        bold: bool = False,
        colour: tuple[int, int, int] = INK,
        width: float = INNER_MM,
        align: str = "L",
    ) -> None:
        """Write one line, set smaller if it is too long for ``width``."""
        self._pen(size, colour, bold=bold)
        wide = self.get_string_width(words)
        if wide > width:
            self._pen(size * width / wide * 0.99, colour, bold=bold)
        self.set_xy(x, y)
        self.cell(width, size * PT_TO_MM * 1.25, words, align=align)

    def text_block(
        self,
        words: str,
        x: float,
        y: float,
        *,
        width: float,
        size: float = 9.0,
        bold: bool = False,
        colour: tuple[int, int, int] = INK,
    ) -> float:
        """Write a paragraph; return where it ends."""
        self._pen(size, colour, bold=bold)
        self.set_xy(x, y)
        self.multi_cell(width, size * PT_TO_MM * 1.4, words, align="L")
        return float(self.get_y())

    def block_height(self, words: str, *, width: float, size: float) -> float:
        """Return how high a paragraph will be."""
        self._pen(size, INK)
        height = self.multi_cell(
            width,
            size * PT_TO_MM * 1.4,
            words,
            align="L",
            dry_run=True,
            output=MethodReturnValue.HEIGHT,
        )
        return float(height)  # type: ignore[arg-type]

    def rule(self, y: float, x: float = MARGIN_MM, width: float = INNER_MM) -> None:
        """Draw a thin rule across the page."""
        self.set_draw_color(*RULE)
        self.set_line_width(0.2)
        self.line(x, y, x + width, y)

    def picture(
        self, rgb: NDArray[np.uint8], x: float, y: float, *, width: float, words: str
    ) -> None:
        """Place a picture; ``words`` are read out to those who cannot see it."""
        file = encode_picture(rgb, PictureKind.JPEG, quality=JPEG_QUALITY)
        self.image(io.BytesIO(file), x=x, y=y, w=width, alt_text=words)

    def scale_bar(self, x: float, y: float, *, mm_per_mm: float, width: float) -> None:
        """Draw a bar of a round length; ``mm_per_mm`` is paper per wood, ``width`` the room."""
        length = bar_length_mm(width / mm_per_mm)
        end = x + length * mm_per_mm
        self.set_draw_color(*INK)
        self.set_line_width(0.25)
        self.line(x, y, end, y)
        for tick in (x, end):
            self.line(tick, y - 1.2, tick, y + 1.2)
        self.words(f"{length:g} mm", end + 2, y - 1.7, size=8)

    def _pen(self, size: float, colour: tuple[int, int, int], *, bold: bool = False) -> None:
        self.set_font("house", "B" if bold else "", size)
        self.set_text_color(*colour)
