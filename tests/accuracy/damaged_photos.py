"""Photographs spoilt on purpose: each fault by its own physics, apart from the code that finds it.

A fault here is always one that harms a measurement; how far it must go is told beside each.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]

_CODE = np.arange(256) / 255.0
_TO_LINEAR = np.where(_CODE <= 0.04045, _CODE / 12.92, ((_CODE + 0.055) / 1.055) ** 2.4)


@dataclass(frozen=True, eq=False)
class Drawn:
    """A drawn photograph before it becomes a file: linear light, and what is known of it."""

    light: Floats
    """Shape (rows, columns, 3), 1 is full scale."""
    outlines: tuple[NDArray[np.float64], ...]
    """Of each leaf, (x, y) pixels."""
    px_per_mm: float
    cast: tuple[float, float, float]
    lamp: str
    has_sharp_board: bool
    """A grey strip or marker rails lie on the board."""

    def leaf(self) -> Floats:
        """Return 1 on the leaves and 0 beside them."""
        mask = np.zeros(self.light.shape[:2], np.uint8)
        for outline in self.outlines:
            cv2.fillPoly(mask, [np.round(outline).astype(np.int32)], 1)
        return mask.astype(np.float32)

    def box(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the upper left corner of the leaves and their size, px."""
        points = np.concatenate(self.outlines)
        return points.min(axis=0), np.ptp(points, axis=0)


def to_linear(rgb: Bytes) -> Floats:
    """Return linear light of sRGB codes (IEC 61966-2-1)."""
    return np.asarray(_TO_LINEAR.astype(np.float32)[rgb])


def to_codes(light: Floats) -> Bytes:
    """Return sRGB codes of linear light."""
    light = np.clip(light, 0, 1)
    root = cv2.pow(light, 1 / 2.4)
    coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * root - 0.055)
    return np.asarray(coded * 255 + 0.5, np.float32).astype(np.uint8)


def jpeg(rgb: Bytes, quality: int, subsampling: int = 2) -> bytes:
    """Return the file of a picture."""
    file = io.BytesIO()
    Image.fromarray(rgb).save(file, "JPEG", quality=quality, subsampling=subsampling)
    return file.getvalue()


def _noisy(light: Floats, rng: np.random.Generator, sd: float) -> Floats:
    spread = cv2.sqrt(np.maximum(light, 0) * np.float32(0.2 * sd**2)).reshape(light.shape)
    return light + spread * rng.standard_normal(light.shape, dtype=np.float32)


def developed(light: Floats, rng: np.random.Generator, *, noise: float | None = None) -> bytes:
    """Return a good camera's file of some light."""
    sd = rng.choice([0.005, 0.01, 0.02]) if noise is None else noise
    quality = int(rng.integers(80, 95))
    return jpeg(to_codes(_noisy(light, rng, sd)), quality, int(rng.choice([0, 2])))


# Good photographs --------------------------------------------------------------------------------


def plain(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """A camera's file as it is."""
    return developed(drawn.light, rng)


def telephone(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """Much noise, some of it smoothed away again, sharpened, a steeper tone, q 75 to 92."""
    rgb = to_codes(_noisy(drawn.light, rng, rng.uniform(0.03, 0.09)))
    if rng.random() < 0.7:
        rgb = np.asarray(cv2.bilateralFilter(rgb, 5, 18, 1.5), np.uint8)
    soft = cv2.GaussianBlur(rgb, (0, 0), 1.2)
    much = rng.uniform(0.2, 0.7)
    rgb = np.asarray(cv2.addWeighted(rgb, 1 + much, soft, -much, 0), np.uint8)
    tone = np.linspace(0, 1, 256) ** rng.uniform(0.9, 1.1) * 255 + 0.5
    return jpeg(cv2.LUT(rgb, tone.astype(np.uint8)), int(rng.integers(75, 93)))


def small(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """Sent on at a smaller size, q 75 to 90."""
    rgb = to_codes(_noisy(drawn.light, rng, 0.015))
    scale = max(rng.uniform(0.5, 0.85), 1600 / max(rgb.shape[:2]))
    if scale < 1:
        rgb = np.asarray(cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))
    return jpeg(rgb, int(rng.integers(75, 91)))


def soft_lens(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """A plain lens wide open: sharp in the middle, a pixel and a half soft in the corners."""
    rows, columns = drawn.light.shape[:2]
    y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
    x = np.linspace(-1, 1, columns, dtype=np.float32)
    corner = ((x**2 + y**2) / 2)[..., None]
    soft = cv2.GaussianBlur(drawn.light, (0, 0), 1.3)
    return developed(drawn.light + corner * (soft - drawn.light), rng)


def resaved(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """Saved twice, both times well."""
    first = developed(drawn.light, rng)
    return jpeg(np.asarray(Image.open(io.BytesIO(first))), int(rng.integers(75, 95)))


GOOD: dict[str, Callable[[Drawn, np.random.Generator], bytes]] = {
    "plain": plain,
    "telephone": telephone,
    "small": small,
    "soft lens": soft_lens,
    "saved twice": resaved,
}


# Faults ------------------------------------------------------------------------------------------


def disc(radius: float) -> Floats:
    """Return the kernel of a lens out of focus: an even disc."""
    reach = int(np.ceil(radius)) + 1
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    kernel = np.clip(radius + 0.5 - np.hypot(x, y), 0, 1).astype(np.float32)
    return np.asarray(kernel / kernel.sum())


def streak(length: float, angle: float) -> Floats:
    """Return the kernel of a camera that moved evenly along a line."""
    side = 2 * int(np.ceil(length / 2)) + 3
    kernel = np.zeros((side * 8, side * 8), np.uint8)
    middle = np.array([side * 4, side * 4])
    half = length * 4 * np.array([np.cos(angle), np.sin(angle)])
    ends = [tuple(int(v) for v in np.round(middle + sign * half)) for sign in (-1, 1)]
    cv2.line(kernel, ends[0], ends[1], 255, 8)
    small_kernel = cv2.resize(kernel.astype(np.float32), (side, side), interpolation=cv2.INTER_AREA)
    return np.asarray(small_kernel / small_kernel.sum(), np.float32)


def _through(light: Floats, kernel: Floats) -> Floats:
    return np.asarray(cv2.filter2D(light, -1, kernel, borderType=cv2.BORDER_REPLICATE), np.float32)


def blur(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """The whole picture smeared: discs from 10 px across, streaks from 12 px long.

    What is finer than that, grain and pores, is gone from the picture.
    """
    if rng.random() < 0.5:
        kernel = disc(rng.uniform(5, 12))
    else:
        kernel = streak(rng.uniform(12, 35), rng.uniform(0, np.pi))
    return developed(_through(drawn.light, kernel), rng)


def focus(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """Leaf soft on a sharp board, as on a stack; or one end soft: discs from 12 px across."""
    radius = rng.uniform(6, 12)
    light = drawn.light
    if drawn.has_sharp_board and rng.random() < 0.5:
        near = cv2.dilate(drawn.leaf(), np.ones((5, 5), np.uint8), iterations=int(radius))
        share = cv2.GaussianBlur(near, (0, 0), 2.0)[..., None]
        return developed(light + share * (_through(light, disc(radius)) - light), rng)
    low, size = drawn.box()
    along = (np.arange(len(light)) - low[1]) / size[1]
    along = along if rng.random() < 0.5 else 1 - along
    sharp_at = rng.uniform(-0.1, 0.4)
    wanted = radius * np.clip((along - sharp_at) / (1 - sharp_at), 0, 1.1)
    steps = np.linspace(0, 1.1 * radius, 9)
    out = np.zeros_like(light)
    for step in steps:
        share = np.clip(1 - np.abs(wanted - step) / (steps[1] - steps[0]), 0, 1)
        rows = np.flatnonzero(share > 0)
        if len(rows):
            pad = int(radius * 1.1) + 3
            part = slice(max(0, rows[0] - pad), rows[-1] + pad + 1)
            seen = light[part] if step == 0 else _through(light[part], disc(step))
            out[part] += seen * share[part, None, None].astype(np.float32)
    return developed(out, rng)


def glare(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """One to three spots of the lamp's own colour on the leaf, as bright as half the wood or more.

    They cover 0.5 to 8 % of the leaf each, with the roughness of open pores.
    """
    light, mask = drawn.light.copy(), drawn.leaf()
    rows, columns = mask.shape
    level = cv2.GaussianBlur((light * mask[..., None])[::4, ::4], (0, 0), 25).mean(axis=2)
    level /= np.maximum(cv2.GaussianBlur(mask[::4, ::4], (0, 0), 25), 1e-3)
    near = cv2.resize(level, (columns, rows), interpolation=cv2.INTER_LINEAR)
    low, size = drawn.box()
    y, x = np.arange(rows)[:, None], np.arange(columns)
    rough = cv2.GaussianBlur(rng.standard_normal(mask.shape, dtype=np.float32), (0, 0), 0.8, 0, 4)
    rough = np.exp(0.25 * rough / rough.std())
    for _ in range(int(rng.integers(1, 4))):
        at = low + size * rng.uniform(0.12, 0.88, 2)
        area = rng.uniform(0.005, 0.08) * float(mask.sum())
        slender = rng.uniform(0.4, 2.5)
        sd = np.sqrt(area / (2 * np.pi * slender))
        sd_x = min(sd, 0.35 * size[0])
        lengthwise = np.exp(-(((y - at[1]) / (sd * slender)) ** 2) / 2).astype(np.float32)
        crosswise = np.exp(-(((x - at[0]) / sd_x) ** 2) / 2).astype(np.float32)
        shine = np.float32(rng.uniform(0.5, 2.0)) * lengthwise * crosswise * near * rough * mask
        light += shine[..., None] * np.array(drawn.cast, np.float32)
    return developed(light, rng)


def shadow(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """An edge of shadow over leaf and board, 25 to 70 % of the light gone, 2 to 40 mm soft.

    A half-plane (someone between lamp and board), a bar (an arm, a stand), a corner, or a patch of
    other light (a window, a spot) with shadow all round.
    """
    rows, columns = drawn.light.shape[:2]
    low, size = drawn.box()
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    through = low + size * np.array([rng.uniform(-0.2, 1.2), rng.uniform(0.15, 0.85)])
    angle = rng.uniform(0, np.pi)
    off = (x - through[0]) * np.cos(angle) + (y - through[1]) * np.sin(angle)
    soft = rng.uniform(2, 40) * drawn.px_per_mm
    kind = rng.integers(4)
    covered = np.clip(off / soft + 0.5, 0, 1)
    if kind == 1:
        wide = max(rng.uniform(40, 250) * drawn.px_per_mm, 1.2 * soft)
        covered = covered * np.clip((wide - off) / soft + 0.5, 0, 1)
    elif kind == 2:
        aside = -(x - through[0]) * np.sin(angle) + (y - through[1]) * np.cos(angle)
        covered = covered * np.clip(aside / soft + 0.5, 0, 1)
    elif kind == 3:
        wide = rng.uniform(0.10, 0.20) * max(rows, columns)
        pool = np.hypot(x - through[0], y - through[1]) / wide
        covered = 1 - 1 / (1 + pool**6)
    if kind < 3 and covered.mean() > 0.5:
        covered = 1 - covered
    covered = covered.astype(np.float32)[..., None]
    left = (1 - rng.uniform(0.25, 0.7)) * np.array([0.97, 1.0, 1.05])
    return developed(drawn.light * (1 - covered * (1 - left.astype(np.float32))), rng)


def uneven(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """Light along the leaf that falls to a twentieth or less: a lamp almost on the board."""
    rows = len(drawn.light)
    low, size = drawn.box()
    along = np.clip((np.arange(rows) - low[1]) / size[1], -0.1, 1.1)[:, None, None]
    if drawn.lamp == "B":
        along = 1 - along
    gain = np.exp(-np.log(rng.uniform(20, 60)) * along).astype(np.float32)
    light = drawn.light * gain
    return developed(light * np.float32(0.8 / max(np.percentile(light, 99.5), 0.05)), rng)


def buckled(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """A leaf that stands up in waves: slopes of 5 to 10 degrees (rms), crests 60 to 350 mm apart.

    The lamp's light on a slope changes with it (Lambert's law, and a wide gloss of the fibres);
    the rim moves in the picture as it rises, and throws a wider shadow on the board.
    """
    rows, columns = drawn.light.shape[:2]
    scale = drawn.px_per_mm
    low, size = drawn.box()
    y, x = np.mgrid[0:rows:4, 0:columns:4].astype(np.float32)
    height = np.zeros_like(x)
    for _ in range(6):
        wave = rng.uniform(60, 350) * scale
        angle = rng.normal(np.pi / 2, 0.5)
        phase = (x * np.cos(angle) + y * np.sin(angle)) / wave * 2 * np.pi
        packet = np.exp(-(((y - low[1] - rng.uniform(0, 1) * size[1]) / (0.35 * size[1])) ** 2))
        rim = 0.35 + 0.65 * np.abs((x - low[0]) / size[0] - 0.5) * 2
        height += wave * np.sin(phase + rng.uniform(0, 6.28)) * packet * rim
    gradient = [np.gradient(height, 4.0, axis=axis) for axis in (0, 1)]
    inside = drawn.leaf()[::4, ::4] > 0
    rms = np.sqrt(np.mean([part[inside] ** 2 for part in gradient]) * 2)
    factor = np.tan(np.radians(rng.uniform(5, 10))) / rms
    toward = {"A": (-1.0, 0.0), "B": (1.0, 0.0), "side": (0.0, 1.0)}.get(drawn.lamp, (-0.7, 0.7))
    slope = -factor * (gradient[0] * toward[0] + gradient[1] * toward[1])
    lamp = np.radians(rng.uniform(25, 45))
    shade = np.cos(lamp) + np.sin(lamp) * slope
    shade = np.maximum(shade, 0.05) / np.cos(lamp) / np.sqrt(1 + slope**2)
    shade *= 1 + rng.uniform(0.0, 0.4) * (np.exp(-((slope - 0.1) ** 2) / 0.08) - 0.88)
    grown = cv2.resize(shade.astype(np.float32), (columns, rows))[..., None]
    risen = height * factor
    risen -= risen[inside].min()
    rise = cv2.resize(risen.astype(np.float32), (columns, rows))
    near = cv2.dilate(drawn.leaf(), np.ones((9, 9), np.uint8))
    rise *= cv2.GaussianBlur(near, (0, 0), 3.0)
    leaf = cv2.GaussianBlur(drawn.leaf(), (0, 0), 0.8)[..., None]
    off_board = 1.2 * max(rows, columns)
    y_full, x_full = np.mgrid[0:rows, 0:columns].astype(np.float32)
    share = rise / (off_board + rise)
    from_x = x_full - share * (x_full - columns / 2)
    from_y = y_full - share * (y_full - rows / 2)
    light = drawn.light * (1 + leaf * (grown - 1))
    return developed(np.asarray(cv2.remap(light, from_x, from_y, cv2.INTER_CUBIC)), rng)


def compression(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """JPEG of quality 10 to 35, half of them saved again at 85 to 95, which hides the tables."""
    rgb = to_codes(_noisy(drawn.light, rng, 0.01))
    coarse = jpeg(rgb, int(rng.integers(10, 36)))
    if rng.random() < 0.5:
        return coarse
    again = np.asarray(Image.open(io.BytesIO(coarse)))
    return jpeg(again, int(rng.integers(85, 96)), int(rng.choice([0, 2])))


def burnt(drawn: Drawn, rng: np.random.Generator) -> bytes:
    """Exposed so long that a twentieth of the leaf or more is past full scale."""
    on_leaf = drawn.light[drawn.leaf() > 0].max(axis=1)
    gain = 1.0 / np.percentile(on_leaf, 100 * (1 - rng.uniform(0.05, 0.4)))
    return developed(drawn.light * np.float32(1.03 * gain), rng)


FAULTS: dict[str, Callable[[Drawn, np.random.Generator], bytes]] = {
    "blurred": blur,
    "focus-uneven": focus,
    "glare": glare,
    "shadow-edge": shadow,
    "uneven-light": uneven,
    "buckled": buckled,
    "over-compressed": compression,
    "clipped-light": burnt,
}
