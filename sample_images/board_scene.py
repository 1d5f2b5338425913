"""The board and the things on it that are not wood: stains, grey strip, marker rails."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from sample_images.camera import Camera
from sample_images.log import Floats
from sample_images.noise import Extent, chance
from sample_images.placing import Place
from sample_images.plan import BOARDS, STRIP_REFLECTANCES, FlitchPlan
from sample_images.pores import Sheet

STRIP_WIDTH_MM = 60.0
STRIP_LENGTH_MM = 630.0
RAIL_WIDTH_MM = 60.0
RAIL_WHITE, RAIL_BLACK = 0.82, 0.05
MARKER_MM = 40.0
MARKER_PITCH_MM = 100.0
FIRST_RIGHT_ID = 100
BOARD_BEYOND = 1.28
"""The picture sees this many leaf lengths."""


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """A flat thing on the board: its reflectance factor (rows, columns, 3) and cover (0 to 1)."""

    sheet: Sheet
    light: Floats
    cover: Floats
    place: Place
    lift_mm: float = 2.2
    """How far its shadow reaches: a leaf lies on the board with edges that lift a little."""


@dataclass(frozen=True, slots=True)
class BoardLayout:
    """Distances that the plan fixes for all photographs of a flitch, mm."""

    seen_mm: float
    """Board in view along the picture's long side."""
    strip_x_mm: float
    rail_x_mm: float


def lay_out_board(plan: FlitchPlan) -> BoardLayout:
    """Return how much board the camera sees, and where strip and rails lie on it."""
    half = plan.width_mm * (1.0 if plan.has_pairs else 0.5)
    strip = half + 70 + STRIP_WIDTH_MM / 2
    rail = (strip + STRIP_WIDTH_MM / 2 if plan.strip else half) + 50 + RAIL_WIDTH_MM / 2
    outmost = (rail if plan.rails else strip if plan.strip else half) + 60
    width, height = plan.photo_px
    across = 2 * outmost * max(width, height) / min(width, height)
    return BoardLayout(max(BOARD_BEYOND * plan.length_mm, across), strip, rail)


def level_camera(plan: FlitchPlan) -> Camera:
    """Return the camera straight above the middle of the board, as meant."""
    seen = lay_out_board(plan).seen_mm
    camera = Camera(
        (0.0, 0.0, 1.0), (0.0, 0.0, 0.0), plan.photo_px, plan.distortion, plan.vignetting
    )
    height = seen * camera.focal_px / max(plan.photo_px)
    return Camera(
        (0.0, 0.0, height), (0.0, 0.0, 0.0), plan.photo_px, plan.distortion, plan.vignetting
    )


def move_camera(camera: Camera, rng: np.random.Generator, jitter: float) -> Camera:
    """Return the camera as it really hangs: a little off, turned, higher or lower."""
    off = [float(value) * jitter for value in rng.standard_normal(6)]
    x, y, z = camera.position_mm
    tilt = camera.tilt_deg
    return Camera(
        (x + 15 * off[0], y + 15 * off[1], z * (1 + 0.004 * off[2])),
        (tilt[0] + 0.3 * off[3], tilt[1] + 0.3 * off[4], tilt[2] + 0.3 * off[5]),
        camera.photo_px,
        camera.distortion,
        camera.vignetting,
    )


def board_texture(plan: FlitchPlan) -> tuple[Floats, float]:
    """Return the board's light and dark patches about 1, and their pixels per mm.

    Rows run down the picture; the middle is the board's middle.
    """
    long_mm = 1.15 * lay_out_board(plan).seen_mm
    width, height = plan.photo_px
    scale = min(1.0, max(width, height) / long_mm)
    sheet = Sheet(long_mm * min(1.0, width / height), long_mm * min(1.0, height / width), scale)
    block = Extent(sheet.width_mm, sheet.length_mm, 0.0)
    rng = chance(plan.seed, "board")
    texture = np.ones(sheet.shape, np.float32)
    for size_mm, depth in ((420.0, 0.006), (90.0, 0.004), (12.0, 0.004)):
        field = block.field(rng, x_mm=size_mm, y_mm=size_mm, depth_mm=1.0)
        texture += np.float32(depth * plan.stains) * field.at(sheet.x_mm, sheet.y_mm, 0.0)
    fine = rng.standard_normal(sheet.shape, dtype=np.float32)
    texture += np.float32(0.010 * plan.stains) * fine
    for _ in range(rng.poisson(4 * plan.stains)):
        _stain(texture, rng, scale)
    return texture, scale


def _stain(texture: Floats, rng: np.random.Generator, scale: float) -> None:
    """Darken a small soft blot in place."""
    rows, columns = texture.shape
    blot = np.zeros((64, 64), np.float32)
    cv2.ellipse(
        blot, (32, 32), (int(rng.integers(8, 22)), int(rng.integers(6, 16))),
        float(rng.uniform(0, 180)), 0, 360, 1.0, -1,
    )  # fmt: skip
    side = max(6, int(rng.uniform(25, 90) * scale))
    soft = cv2.resize(cv2.GaussianBlur(blot, (0, 0), 4), (side, side))
    top, left = int(rng.integers(0, rows - side)), int(rng.integers(0, columns - side))
    texture[top : top + side, left : left + side] *= 1 - np.float32(rng.uniform(0.01, 0.05)) * soft


def board_colour(plan: FlitchPlan) -> Floats:
    """Return the plain board's linear reflectance, R, G, B."""
    return np.array(BOARDS[plan.board], np.float32)


def fittings(plan: FlitchPlan, camera: Camera) -> list[Thing]:
    """Return the grey strip and the marker rails that the plan asks for."""
    layout = lay_out_board(plan)
    things = []
    if plan.strip:
        things.append(_grey_strip(layout, camera.px_per_mm))
    if plan.rails:
        usable = 0.94 * layout.seen_mm
        count = min(int(usable // MARKER_PITCH_MM), 100)
        for x, first in ((-layout.rail_x_mm, 0), (layout.rail_x_mm, FIRST_RIGHT_ID)):
            things.append(_rail(x, first, count, camera.px_per_mm))
    return things


def _grey_strip(layout: BoardLayout, px_per_mm: float) -> Thing:
    sheet = Sheet(STRIP_WIDTH_MM + 8, STRIP_LENGTH_MM + 8, max(1.0, 1.2 * px_per_mm))
    inside = (np.abs(sheet.y_mm) < STRIP_LENGTH_MM / 2)[:, None] & (
        np.abs(sheet.x_mm) < STRIP_WIDTH_MM / 2
    )[None, :]
    place = (STRIP_LENGTH_MM / 2 - sheet.y_mm) / STRIP_LENGTH_MM * len(STRIP_REFLECTANCES)
    step = np.clip(place.astype(int), 0, len(STRIP_REFLECTANCES) - 1)
    light = np.array(STRIP_REFLECTANCES, np.float32)[step][:, None, None]
    return Thing(
        sheet,
        np.ascontiguousarray(np.broadcast_to(light, (*sheet.shape, 3))),
        inside.astype(np.float32),
        Place(-layout.strip_x_mm, 0.0),
    )


def _rail(x_mm: float, first_id: int, count: int, px_per_mm: float) -> Thing:
    """Return a rail; ids rise from its upper end down."""
    scale = max(3.0, 1.5 * px_per_mm)
    length = count * MARKER_PITCH_MM
    sheet = Sheet(RAIL_WIDTH_MM, length, scale)
    picture = np.full(sheet.shape, RAIL_WHITE, np.float32)
    words = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    side = round(MARKER_MM * scale)
    left = (sheet.shape[1] - side) // 2
    for index in range(count):
        marker = cv2.aruco.generateImageMarker(words, first_id + index, side)
        top = round(((index + 0.5) * MARKER_PITCH_MM - MARKER_MM / 2) * scale)
        picture[top : top + side, left : left + side] = np.where(
            marker > 127, RAIL_WHITE, RAIL_BLACK
        )
    cover = np.ones(sheet.shape, np.float32)
    cover[[0, -1]] = 0
    cover[:, [0, -1]] = 0
    return Thing(sheet, np.repeat(picture[..., None], 3, axis=2), cover, Place(x_mm, 0.0))
