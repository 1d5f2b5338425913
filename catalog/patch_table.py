"""The chart on a quality sheet: every patch as it should be and as it was read, side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from catalog.set_paper import ACCENT, INK, PALE, RULE
from catalog.sheet_pen import Colour, Pen, Place, short
from vision.colour_space import linear_to_srgb8
from vision.readings import PatchMiss, PhotoQuality

COLUMNS = 6
"""As a chart of 24 patches has them, so that the table looks like the chart."""
GAP = 18
SWATCH = 78
STEP = 150
WHITE_D50 = np.array([0.96422, 1.0, 0.82521])
XYZ_D50_TO_SRGB = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
"""XYZ of D50 to linear sRGB, Bradford (Lindbloom, brucelindbloom.com)."""


def draw_patch_table(pen: Pen, at: Place, quality: PhotoQuality, *, width: int) -> float:
    """Draw the chart's patches, or say that there was none; return where that ends."""
    x, y = at
    wide = pen.words((x, y), "Chart", size=22, bold=True, colour=ACCENT)
    if not quality.patches:
        words = "No chart of known colours was read in this photograph."
        pen.words((x + wide + 14, y + 3), words, size=18)
        return y + 30
    pen.words((x + wide + 14, y), summary(quality.patches), size=18)
    words = (
        "Each swatch: left as the chart should be, right as read. ΔE00: how far the two differ, "
        "with the patch in the fit; then, left out, with the patch kept out of the fit."
    )
    y = pen.paragraph((x, y + 36), words, width=width, size=16, colour=PALE) + 12
    cell = (width - (COLUMNS - 1) * GAP) / COLUMNS
    for index, patch in enumerate(quality.patches):
        row, column = divmod(index, COLUMNS)
        _draw_patch(pen, (x + column * (cell + GAP), y + row * STEP), patch, cell)
    rows = -(-len(quality.patches) // COLUMNS)
    return y + rows * STEP - 12


def summary(patches: Sequence[PatchMiss]) -> str:
    """Return the figures of a whole chart in one line.

    Examples
    --------
    >>> grey = (50.0, 0.0, 0.0)
    >>> summary([PatchMiss("a", grey, grey, 1.0, 2.0), PatchMiss("b", grey, grey, 9, None, "cut")])
    '1 of 2 used: mean ΔE00 1.0, largest 1.0; left out: mean 2.0, largest 2.0. Dropped: b (cut)'
    """
    used = [patch for patch in patches if not patch.dropped]
    words = f"{len(used)} of {len(patches)} used"
    inside = [patch.delta_e00 for patch in used]
    outside = [patch.held_out for patch in used if patch.held_out is not None]
    if inside:
        words += f": mean ΔE00 {np.mean(inside):.1f}, largest {max(inside):.1f}"
    if outside:
        words += f"; left out: mean {np.mean(outside):.1f}, largest {max(outside):.1f}"
    dropped = [f"{patch.name} ({patch.dropped})" for patch in patches if patch.dropped]
    return f"{words}. Dropped: {', '.join(dropped)}" if dropped else f"{words}."


def shown_colour(lab: tuple[float, float, float]) -> Colour:
    """Return a colour in Lab (D50, 2 degrees) as the nearest sRGB.

    Examples
    --------
    >>> shown_colour((100.0, 0.0, 0.0))
    (255, 255, 255)
    """
    lightness, a, b = lab
    middle = (lightness + 16) / 116
    roots = np.array([middle + a / 500, middle, middle - b / 200])
    cubes = roots**3
    xyz = np.where(cubes > 216 / 24389, cubes, (116 * roots - 16) * 27 / 24389) * WHITE_D50
    linear = np.clip(XYZ_D50_TO_SRGB @ xyz, 0.0, 1.0).astype(np.float32)
    red, green, blue = (int(part) for part in linear_to_srgb8(linear.reshape(1, 1, 3)).ravel())
    return red, green, blue


def _draw_patch(pen: Pen, at: Place, patch: PatchMiss, cell: float) -> None:
    x, y = at
    pen.box((x, y), (cell / 2, SWATCH), fill=shown_colour(patch.lab_known))
    pen.box((x + cell / 2, y), (cell / 2, SWATCH), fill=shown_colour(patch.lab_read))
    pen.box((x, y), (cell, SWATCH), edge=RULE)
    pen.words((x, y + SWATCH + 6), short(patch.name, cell, size=16), size=16)
    line = y + SWATCH + 28
    if patch.dropped:
        pen.line([(x, y + SWATCH), (x + cell, y)], colour=(250, 249, 246), thick=5)
        pen.line([(x, y + SWATCH), (x + cell, y)], colour=INK, thick=2)
        words = short(f"dropped: {patch.dropped}", cell, size=16, bold=True)
        pen.words((x, line), words, size=16, bold=True)
        return
    wide = pen.words((x, line), f"{patch.delta_e00:.1f}", size=18, bold=True)
    if patch.held_out is not None:
        pen.words((x + wide + 12, line + 2), f"left out {patch.held_out:.1f}", size=15, colour=PALE)
