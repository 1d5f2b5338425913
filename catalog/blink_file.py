"""Two leaves in turn as one moving picture: opens in any browser, letter or viewer."""

from __future__ import annotations

import io
from collections.abc import Sequence
from enum import StrEnum
from textwrap import wrap

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from catalog.blinked_pair import BlinkPictures
from catalog.picture_caption import INK, PALE_INK, draw_bar, font_at
from vision.match_render import PAPER
from vision.picture_file import srgb_profile

LEAST_SECONDS = 0.34
"""No more than three flashes in any one second (WCAG 2.2, success criterion 2.3.1, Three Flashes or
Below Threshold). A flash is two opposing changes; each change is counted as one here, so that the
limit is kept twice over."""
TEXT_PX = 20
LEAST_WIDE_PX = 640
ENDS = ("\u25c0 top end", "right edge above", "bottom end \u25b6")


class MovingKind(StrEnum):
    """Kinds of moving picture."""

    GIF = "gif"
    """256 colours, chosen for both leaves together; opens everywhere."""
    WEBP = "webp"
    """All colours, a third of the size; browsers and newer viewers."""
    PNG = "png"
    """All colours without loss; some viewers show the first leaf only."""


def blink_file(
    pictures: BlinkPictures,
    names: tuple[str, str],
    words: Sequence[str],
    *,
    kind: MovingKind = MovingKind.GIF,
    seconds: float = 0.8,
    in_mm: bool = True,
) -> bytes:
    """Return two leaves shown in turn, without end, grain from left (top end) to right.

    Parameters
    ----------
    pictures : BlinkPictures
    names : tuple of str
        What is said while each shows; both stand below, the one that shows in bold behind a mark.
    words : sequence of str
        Sentences below.
    kind : MovingKind
    seconds : float
        How long each shows, at least `LEAST_SECONDS`.
    in_mm : bool
        Whether a scale bar is drawn.

    Raises
    ------
    ValueError
        If the leaves would change too fast.
    """
    if seconds < LEAST_SECONDS:
        raise ValueError(f"A change every {seconds} s flashes; {LEAST_SECONDS} s is the least.")
    scale = pictures.px_per_mm if in_mm else None
    frames = [
        _captioned(rgb, names, words, showing=showing, px_per_mm=scale)
        for showing, rgb in enumerate(pictures.rgb)
    ]
    if kind is MovingKind.GIF:
        frames = _of_one_palette(frames)
    options: dict[str, object] = {"save_all": True, "duration": round(1000 * seconds), "loop": 0}
    if kind is MovingKind.WEBP:
        options |= {"quality": 88, "method": 4}
    if kind is not MovingKind.GIF:
        options |= {"icc_profile": srgb_profile()}
    file = io.BytesIO()
    frames[0].save(file, kind.value, append_images=frames[1:], **options)
    return file.getvalue()


def _of_one_palette(frames: Sequence[Image.Image]) -> list[Image.Image]:
    """Return pictures in 256 colours common to all, undithered: what is alike stays alike."""
    sheet = Image.fromarray(np.vstack([np.asarray(frame) for frame in frames]))
    few = sheet.quantize(256, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    width, height = frames[0].size
    return [few.crop((0, at * height, width, (at + 1) * height)) for at in range(len(frames))]


def _captioned(
    rgb: NDArray[np.uint8],
    names: tuple[str, str],
    words: Sequence[str],
    *,
    showing: int,
    px_per_mm: float | None,
) -> Image.Image:
    """Return a leaf lying, with both names and the words below; the same places for each leaf."""
    lying = np.rot90(rgb)
    rows, columns = lying.shape[:2]
    width = max(columns, LEAST_WIDE_PX) + 2 * TEXT_PX
    letters = int((width - 2 * TEXT_PX) / font_at(TEXT_PX).getlength("e"))
    lines = [line for sentence in words for line in wrap(sentence, letters)]
    step = round(1.5 * TEXT_PX)
    height = rows + TEXT_PX + step * (len(lines) + 5)
    page = Image.new("RGB", (width, height), PAPER)
    left = (width - columns) // 2
    page.paste(Image.fromarray(np.ascontiguousarray(lying)), (left, TEXT_PX))
    draw = ImageDraw.Draw(page)
    top = TEXT_PX + rows + TEXT_PX // 3
    for text, x, anchor in zip(
        ENDS, (TEXT_PX, width // 2, width - TEXT_PX), ("la", "ma", "ra"), strict=True
    ):
        draw.text((x, top), text, font=font_at(round(0.8 * TEXT_PX)), fill=PALE_INK, anchor=anchor)
    top += step
    for which, name in enumerate(names):
        now = which == showing
        mark = "\u25b6 " if now else ""
        at = (TEXT_PX + (0 if now else int(font_at(TEXT_PX, bold=True).getlength("\u25b6 "))), top)
        draw.text(at, mark + name, font=font_at(TEXT_PX, bold=now), fill=INK if now else PALE_INK)
        top += step
    for line in lines:
        draw.text((TEXT_PX, top), line, font=font_at(TEXT_PX), fill=PALE_INK)
        top += step
    at_bar = (TEXT_PX, top + TEXT_PX // 4)
    draw_bar(draw, at_bar, size=TEXT_PX, px_per_mm=px_per_mm, width=columns)
    return page
