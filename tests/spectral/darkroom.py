"""From light on the sensor to a file: noise, mosaic, white balance, matrix, tone curve, JPEG."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.spectral.bands import NM, Doubles
from tests.spectral.camera import Camera
from tests.spectral.exposure import Floats, light_on_sensor
from tests.spectral.lamps_and_sensors import Sight, camera_matrix
from tests.spectral.table_scene import Table

TABLE_STEPS = 1 << 14


@dataclass(frozen=True, slots=True)
class Body:
    """A camera: its sensor and its own taste."""

    name: str
    sensor: str
    contrast: float
    """Strength of the S in the tone curve, 0 (plain sRGB) to about 0.5."""
    shoulder: float
    """How softly the lights roll off, 0 to about 0.3."""
    full_well: float = 30000.0
    """Electrons at white."""
    read_noise: float = 8.0
    """Electrons."""
    mosaic: bool = True
    """One colour to a pixel (red, green, green, blue), filled in afterwards."""
    quality: int = 93
    """Of the JPEG, 1 to 95."""
    full_colour: bool = False
    """Colour at every pixel of the JPEG (4:4:4), not at every fourth (4:2:0)."""


BODIES = (
    Body("Hellborn A1", "bayer", contrast=0.30, shoulder=0.10),
    Body("Hellborn P2", "bayer", contrast=0.16, shoulder=0.22, quality=90, full_colour=True),
    Body("Dreischicht S", "stacked", contrast=0.22, shoulder=0.05, mosaic=False, quality=95),
)


@dataclass(frozen=True, slots=True, eq=False)
class Exposure:
    """How one photograph was taken."""

    table: Table
    camera: Camera
    body: Body
    sight: Sight
    level: float
    """Raw light times this fills the sensor at 1."""
    balance: Doubles
    """White balance gains for R, G, B."""
    seed: int


def meter(table: Table, camera: Camera, sight: Sight, *, white: float = 0.88) -> float:
    """Return the level at which the brightest white on the table fills ``white`` of the sensor."""
    width, height = camera.photo_px
    nodes = np.stack(
        np.meshgrid(np.linspace(0, width - 1, 25), np.linspace(0, height - 1, 37)), axis=-1
    )
    at = camera.to_mm(nodes)
    light = np.stack([camera.vignette(nodes) * lamp.light(at, 0.0) for lamp in table.lamps], -1)
    whites = sight.rgb(np.full(len(NM), 0.9))
    return white / float((light @ whites).max())


def balance_for(sight: Sight, *, error: tuple[float, float] = (0.0, 0.0)) -> Doubles:
    """Return gains that make a white grey, off by a fraction in red and in blue."""
    white = sight.rgb(np.ones(len(NM))).mean(axis=0)
    gains = white[1] / white
    return np.asarray(gains * np.array([1 + error[0], 1.0, 1 + error[1]]))


def tone_table(body: Body) -> Doubles:
    """Return encoded levels, 0 to 255, of linear light 0 to 1 in even steps of its square root."""
    light = np.linspace(0, 1, TABLE_STEPS) ** 2
    rolled = light * (1 + body.shoulder) / (1 + body.shoulder * light)
    code = np.where(
        rolled <= 0.0031308, 12.92 * rolled, 1.055 * np.maximum(rolled, 1e-9) ** (1 / 2.4) - 0.055
    )
    code = code - body.contrast * np.sin(2 * np.pi * code) / (2 * np.pi) * (1 - 0.4 * code)
    return np.asarray(255 * np.clip(code, 0, 1))


def raw_picture(shot: Exposure) -> Floats:
    """Return the raw picture, 0 to 1, noise included: (rows, columns) of a mosaic, else three."""
    width, height = shot.camera.photo_px
    whole = np.empty((height, width) if shot.body.mosaic else (height, width, 3), np.float32)
    for rows, raw in _strips(shot):
        whole[rows] = raw
    return whole


def mosaic(rgb: Floats) -> Floats:
    """Return one value a pixel: red and green in even rows, green and blue in odd ones."""
    found = np.empty(rgb.shape[:2], rgb.dtype)
    found[::2, ::2], found[::2, 1::2] = rgb[::2, ::2, 0], rgb[::2, 1::2, 1]
    found[1::2, ::2], found[1::2, 1::2] = rgb[1::2, ::2, 1], rgb[1::2, 1::2, 2]
    return found


def developed(shot: Exposure) -> NDArray[np.uint8]:
    """Return the picture as the camera writes it: 8 bits, sRGB primaries, its own tone curve."""
    width, height = shot.camera.photo_px
    matrix = camera_matrix(shot.body.sensor) * shot.balance
    table = np.rint(tone_table(shot.body)).astype(np.uint8)
    whole = np.empty((height, width, 3), np.uint8)
    for rows, strip in _strips(shot):
        linear = _without_mosaic(strip) if shot.body.mosaic else strip
        seen = cv2.transform(linear, matrix.astype(np.float32))
        index = np.sqrt(np.clip(seen, 0, 1)) * (TABLE_STEPS - 1) + 0.5
        whole[rows] = table[index.astype(np.uint16)]
    return whole


def write_jpeg(shot: Exposure, path: Path, *, taken: str = "2026:05:04 10:00:00") -> None:
    """Write the photograph as a JPEG with its camera, lens and date."""
    picture = Image.fromarray(developed(shot))
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0132] = "Hellborn", shot.body.name, taken
    part = exif.get_ifd(0x8769)
    part[0x9003] = taken
    part[0xA405] = round(shot.camera.focal_35mm)
    part[0x920A] = float(shot.camera.focal_35mm)
    picture.save(
        path,
        quality=shot.body.quality,
        subsampling=0 if shot.body.full_colour else 2,
        exif=exif,
    )


def _strips(shot: Exposure) -> Iterator[tuple[slice, Floats]]:
    """Yield strips of the raw picture, each beginning at an even row."""
    rng = np.random.default_rng(shot.seed)
    floor = (shot.body.read_noise / shot.body.full_well) ** 2
    for rows, light in light_on_sensor(shot.table, shot.camera, shot.sight, rng):
        raw = (mosaic(light) if shot.body.mosaic else light) * np.float32(shot.level)
        spread = np.sqrt(np.maximum(raw, 0) / np.float32(shot.body.full_well) + np.float32(floor))
        raw += spread * rng.standard_normal(raw.shape, np.float32)
        yield rows, np.clip(raw, 0, 1)


def _without_mosaic(strip: Floats) -> Floats:
    codes = np.rint(strip * 65535).astype(np.uint16)
    filled = cv2.cvtColor(codes, cv2.COLOR_BayerRGGB2RGB_EA)
    return np.asarray(filled, np.float32) / np.float32(65535)
