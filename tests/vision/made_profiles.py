"""Colour profiles of three primaries and a power curve, written byte by byte (ICC.1:2010)."""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

D65_TO_D50 = np.array(
    [[1.0478112, 0.0228866, -0.0501270], [0.0295424, 0.9904844, -0.0170491]]
    + [[-0.0092345, 0.0150436, 0.7521316]]
)
"""Bradford adaptation, as published by B. Lindbloom."""
P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
"""Primaries of SMPTE EG 432-1; with the white of D65 and the curve of sRGB: Display P3."""
ADOBE = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
"""Primaries of Adobe RGB (1998)."""
SRGB = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))


def to_xyz(primaries: tuple[tuple[float, float], ...]) -> NDArray[np.float64]:
    """Return the matrix from linear RGB to XYZ under D65."""
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in primaries]).T
    white = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
    return columns * np.linalg.solve(columns, white)


def profile(primaries: tuple[tuple[float, float], ...], curve: bytes) -> bytes:
    """Return a display profile (version 4) with one tone curve for all three channels."""
    return matrix_profile(D65_TO_D50 @ to_xyz(primaries), curve)


def matrix_profile(to_d50: NDArray[np.float64], curve: bytes) -> bytes:
    """Return the same of a matrix from linear RGB to XYZ under D50."""
    columns = to_d50.T
    tags = {
        b"desc": _text("made for a test"),
        b"cprt": _text("none"),
        b"wtpt": _xyz((0.9642, 1.0, 0.8249)),
        b"rXYZ": _xyz(columns[0]),
        b"gXYZ": _xyz(columns[1]),
        b"bXYZ": _xyz(columns[2]),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    at = 132 + 12 * len(tags)
    table = struct.pack(">I", len(tags))
    body = b""
    for name, content in tags.items():
        content += b"\0" * (-len(content) % 4)
        table += struct.pack(">4sII", name, at + len(body), len(content))
        body += content
    head = struct.pack(
        ">I4sI4s4s4s", at + len(body), b"\0" * 4, 0x04200000, b"mntr", b"RGB ", b"XYZ "
    )
    head += struct.pack(">6H4s", 2026, 1, 1, 0, 0, 0, b"acsp") + b"\0" * 28
    head += struct.pack(">3i", 63190, 65536, 54061)
    return head + b"\0" * (128 - len(head)) + table + body


def power_curve(gamma: float) -> bytes:
    return b"para" + struct.pack(">IHHi", 0, 0, 0, round(gamma * 65536))


def srgb_curve() -> bytes:
    numbers = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    return b"para" + struct.pack(">IHH5i", 0, 3, 0, *(round(n * 65536) for n in numbers))


def srgb_table() -> bytes:
    level = np.linspace(0, 1, 1024)
    light = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    return b"curv" + struct.pack(">II1024H", 0, 1024, *np.rint(light * 65535).astype(int))


def _xyz(values: tuple[float, float, float] | NDArray[np.float64]) -> bytes:
    return b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(float(v) * 65536) for v in values))


def _text(words: str) -> bytes:
    return (
        b"mluc"
        + struct.pack(">III4sII", 0, 1, 12, b"enUS", 2 * len(words), 28)
        + words.encode("utf-16-be")
    )
