"""Camera raw of a made camera: a mosaic with the tags of DNG 1.4, written by tifffile."""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass

import numpy as np
import tifffile
from numpy.typing import NDArray

from tests.vision.made_profiles import SRGB, to_xyz

BLACK, WHITE = 512, 15000
LEAK = np.array([[0.75, 0.20, 0.05], [0.10, 0.80, 0.10], [0.03, 0.17, 0.80]])
"""From linear sRGB light to balanced red, green and blue of the sensor; rows add up to one."""

TAKEN = b"2026:03:14 15:09:26"
FOCAL_35MM = 35
_PLACE = (34664, 4, 1, 0x0293A4B5)
"""Stands where the word of the EXIF block's place (34665), which tifffile does not write, will."""
NOISE = 0.003
"""One standard deviation, as a share of the sensor's range."""


@dataclass(frozen=True)
class Camera:
    """What the made camera writes into its files."""

    neutral: tuple[float, float, float] = (0.5, 1.0, 0.7)
    """What the sensor sees of a grey, against green: the inverse of the white balance."""
    says_balance: bool = True
    orientation: int = 1
    gain: float = 1.0
    """Green of a perfect white, as a share of the sensor's range."""


def dng(linear: NDArray[np.floating], camera: Camera) -> bytes:
    """Return a file of linear sRGB light, shape (rows, columns, 3), one cell a pixel."""
    balanced = np.asarray(linear, np.float64) @ LEAK.T
    cells = _mosaic(balanced * camera.neutral * camera.gain)
    # As any sensor has; without it eight bits round every pixel of an area the same way.
    cells += np.random.default_rng(0).normal(0, NOISE, cells.shape)
    sensor = np.clip(np.rint(BLACK + (WHITE - BLACK) * cells), 0, WHITE).astype(np.uint16)
    to_camera = np.diag(camera.neutral) @ LEAK @ np.linalg.inv(to_xyz(SRGB))
    tags = [
        (274, 3, 1, camera.orientation, True),
        (*_PLACE, True),
        (50706, 1, 4, (1, 4, 0, 0), True),  # DNGVersion
        (50708, 2, 0, "Made Camera", True),  # UniqueCameraModel
        (33421, 3, 2, (2, 2), True),  # CFARepeatPatternDim
        (33422, 1, 4, (0, 1, 1, 2), True),  # CFAPattern
        (50714, 3, 1, BLACK, True),
        (50717, 3, 1, WHITE, True),
        (50721, 10, 9, _rationals(to_camera), True),  # ColorMatrix1
        (50778, 3, 1, 21, True),  # CalibrationIlluminant1: D65
    ]
    if camera.says_balance:
        tags.append((50728, 5, 3, _rationals(np.array(camera.neutral)), True))  # AsShotNeutral
    stream = io.BytesIO()
    tifffile.imwrite(
        stream, sensor, photometric=32803, extratags=tags, metadata=None, software=None
    )
    file = stream.getvalue()
    place = struct.pack("<HHII", 34665, 4, 1, len(file))
    return file.replace(struct.pack("<HHII", *_PLACE), place) + _exif(len(file))


def _exif(at: int) -> bytes:
    """Return an EXIF block (EXIF 2.3, 4.6.2) of a time and a focal length, to stand at ``at``."""
    entries = struct.pack("<HHII", 0x9003, 2, 20, at + 30) + struct.pack(
        "<HHIHH", 0xA405, 3, 1, FOCAL_35MM, 0
    )
    return struct.pack("<H", 2) + entries + bytes(4) + TAKEN + b"\0"


def _mosaic(camera: NDArray[np.float64]) -> NDArray[np.float64]:
    cells = camera[..., 1].copy()
    cells[0::2, 0::2] = camera[0::2, 0::2, 0]
    cells[1::2, 1::2] = camera[1::2, 1::2, 2]
    return cells


def _rationals(values: NDArray[np.float64]) -> list[int]:
    return [part for value in np.ravel(values) for part in (round(value * 100000), 100000)]
