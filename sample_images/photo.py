"""One photograph: light on the board and what lies on it, through the lens, into a file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.board_scene import Thing, board_colour, board_texture
from sample_images.camera import Camera, develop, fill
from sample_images.lamps import LampLight
from sample_images.log import Floats
from sample_images.plan import FlitchPlan

Doubles = NDArray[np.float64]

BAND_ROWS = 512
"""Rows worked on at a time, so that a large photograph needs little memory."""
SHADOW_DEPTH = 0.22
"""A leaf lies on the board with edges that lift a little: a soft dark rim, not a hard shadow."""
LENS_BLUR_PX = 0.55


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """A thing as the camera sees it: a window of the photo (rows, columns), light, cover, shade."""

    rows: slice
    columns: slice
    light: Floats
    cover: Floats
    shade: Floats


@dataclass(frozen=True, slots=True)
class Exposure:
    """What happens to light on the way into the file."""

    gain: float
    """Code value (linear, 1 = full scale) of a white sheet at the board's middle."""
    cast: tuple[float, float, float]
    pixel_noise: float


def take_picture(
    plan: FlitchPlan,
    things: Sequence[Thing],
    lamps: Sequence[LampLight],
    camera: Camera,
    exposure: Exposure,
    rng: np.random.Generator,
) -> NDArray[np.uint8]:
    """Return the photograph, sRGB, shape (rows, columns, 3)."""
    nodes = camera.nodes()
    board = camera.to_board(nodes)
    falling = np.sum([lamp.on(board)[0] for lamp in lamps], axis=0)
    light = (falling * camera.vignette(nodes) * exposure.gain).astype(np.float32)
    ground = board.astype(np.float32)
    shown = [_show(thing, camera, ground, lamps) for thing in things]
    texture, scale = _texture(plan)
    width, height = camera.photo_px
    picture = np.empty((height, width, 3), np.uint8)
    cast = np.array(exposure.cast, np.float32)
    pad = 4
    for top in range(0, height, BAND_ROWS):
        rows = slice(max(0, top - pad), min(height, top + BAND_ROWS + pad))
        columns = slice(0, width)
        at = fill(ground, rows, columns)
        x = at[..., 0] * np.float32(scale) + np.float32(texture.shape[1] / 2 - 0.5)
        y = np.float32(texture.shape[0] / 2 - 0.5) - at[..., 1] * np.float32(scale)
        bare = cv2.remap(texture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        band = bare[..., None] * board_colour(plan)
        for one in shown:
            _lay_over(band, rows, one)
        band *= fill(light, rows, columns)[..., None] * cast
        sharp = np.asarray(cv2.GaussianBlur(band, (0, 0), LENS_BLUR_PX), np.float32)
        stop = min(height, top + BAND_ROWS)
        kept = sharp[top - rows.start : stop - rows.start]
        picture[top:stop] = develop(kept, rng, pixel_noise=exposure.pixel_noise)
    return picture


@lru_cache(maxsize=2)
def _texture(plan: FlitchPlan) -> tuple[Floats, float]:
    return board_texture(plan)


def _lay_over(band: Floats, rows: slice, one: Shown) -> None:
    """Put a thing over a band of rows, in place."""
    top, bottom = max(rows.start, one.rows.start), min(rows.stop, one.rows.stop)
    if top >= bottom:
        return
    part = slice(top - one.rows.start, bottom - one.rows.start)
    under = band[top - rows.start : bottom - rows.start, one.columns]
    under *= one.shade[part][..., None]
    under += (one.light[part] - under) * one.cover[part][..., None]


def _show(thing: Thing, camera: Camera, ground: Floats, lamps: Sequence[LampLight]) -> Shown:
    """Return a thing warped into the photograph."""
    sheet = thing.sheet
    half_x, half_y = sheet.width_mm / 2, sheet.length_mm / 2
    corners = np.array([[-half_x, half_y], [half_x, half_y], [half_x, -half_y], [-half_x, -half_y]])
    rim = np.concatenate([corners, (corners + np.roll(corners, 1, axis=0)) / 2])
    seen = camera.to_photo(thing.place.to_board(rim))
    pad = 4 + 4 * thing.lift_mm * camera.px_per_mm
    width, height = camera.photo_px
    low = np.clip(np.floor(seen.min(axis=0) - pad), 0, [width, height]).astype(int)
    high = np.clip(np.ceil(seen.max(axis=0) + pad), 0, [width, height]).astype(int)
    rows, columns = slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))
    if rows.start >= rows.stop or columns.start >= columns.stop:
        nothing = np.zeros((0, 0), np.float32)
        return Shown(slice(0, 0), slice(0, 0), np.zeros((0, 0, 3), np.float32), nothing, nothing)
    own = thing.place.from_board(fill(ground, rows, columns))
    scale = np.float32(sheet.px_per_mm)
    x = own[..., 0] * scale + np.float32(sheet.shape[1] / 2 - 0.5)
    y = np.float32(sheet.shape[0] / 2 - 0.5) - own[..., 1] * scale
    x, y = x.astype(np.float32), y.astype(np.float32)
    light = cv2.remap(thing.light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen_cover = cv2.remap(thing.cover, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    cover = np.asarray(seen_cover, np.float32)
    shade = _shade(cover, camera, thing, lamps)
    return Shown(rows, columns, np.asarray(light, np.float32), cover, shade)


def _shade(cover: Floats, camera: Camera, thing: Thing, lamps: Sequence[LampLight]) -> Floats:
    """Return what the rim of a thing leaves of the light beside it, away from the lamps."""
    blur = max(0.6, thing.lift_mm / 2 * camera.px_per_mm)
    shade = np.ones(cover.shape, np.float32)
    soft = cv2.GaussianBlur(cover, (0, 0), blur)
    total = sum(lamp.power for lamp in lamps)
    for lamp in lamps:
        away = np.array(lamp.position_mm[:2]) - [thing.place.x_mm, thing.place.y_mm]
        reach = -away / lamp.position_mm[2] * thing.lift_mm * camera.px_per_mm
        move = np.array([[1, 0, reach[0]], [0, 1, -reach[1]]], np.float64)
        moved = cv2.warpAffine(soft, move, (cover.shape[1], cover.shape[0]))
        shade -= np.float32(SHADOW_DEPTH * lamp.power / total) * moved
    return shade
