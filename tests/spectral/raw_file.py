"""A digital negative (DNG 1.4, Adobe 2012) with one 14-bit value a pixel, written byte by byte."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from tests.spectral.bands import Doubles
from tests.spectral.darkroom import Exposure, raw_picture

BLACK, WHITE = 512, 16383
BYTE, ASCII, SHORT, LONG, RATIONAL, SRATIONAL = 1, 2, 3, 4, 5, 10
SIZES = {BYTE: 1, ASCII: 1, SHORT: 2, LONG: 4, RATIONAL: 8, SRATIONAL: 8}
D50_LIGHT = 23


def write_dng(
    shot: Exposure, path: Path, *, xyz_to_camera: Doubles, taken: str = "2026:05:04 10:00:00"
) -> None:
    """Write the photograph as an unprocessed negative.

    Parameters
    ----------
    xyz_to_camera : ndarray, shape (3, 3)
        X, Y, Z under D50 to raw R, G, B, as the maker states it.
    """
    codes = np.rint(BLACK + raw_picture(shot) * (WHITE - BLACK)).astype("<u2")
    height, width = codes.shape[:2]
    neutral = 1 / shot.balance
    whole: list[tuple[int, int, list | bytes]] = [
        (254, LONG, [0]),
        (256, LONG, [width]),
        (257, LONG, [height]),
        (258, SHORT, [16] * (1 if shot.body.mosaic else 3)),
        (259, SHORT, [1]),
        (262, SHORT, [32803 if shot.body.mosaic else 34892]),
        (271, ASCII, b"Hellborn\0"),
        (272, ASCII, shot.body.name.encode() + b"\0"),
        (273, LONG, [0]),
        (274, SHORT, [1]),
        (277, SHORT, [1 if shot.body.mosaic else 3]),
        (278, LONG, [height]),
        (279, LONG, [codes.nbytes]),
        (284, SHORT, [1]),
        (306, ASCII, taken.encode() + b"\0"),
    ]
    if shot.body.mosaic:
        whole += [(33421, SHORT, [2, 2]), (33422, BYTE, bytes([0, 1, 1, 2]))]
    whole += [
        (34665, LONG, [0]),
        (50706, BYTE, bytes([1, 4, 0, 0])),
        (50707, BYTE, bytes([1, 1, 0, 0])),
        (50708, ASCII, shot.body.name.encode() + b"\0"),
        (50714, SHORT, [BLACK] * (1 if shot.body.mosaic else 3)),
        (50717, LONG, [WHITE] * (1 if shot.body.mosaic else 3)),
        (50721, SRATIONAL, list(xyz_to_camera.ravel())),
        (50728, RATIONAL, list(neutral / neutral.max())),
        (50778, SHORT, [D50_LIGHT]),
    ]
    focal = shot.camera.focal_35mm
    lens = [
        (36867, ASCII, taken.encode() + b"\0"),
        (37386, RATIONAL, [focal]),
        (41989, SHORT, [round(focal)]),
    ]
    lens_at = 8
    lens_bytes = _directory(lens, lens_at)
    main_at = lens_at + len(lens_bytes)
    pixels_at = main_at + len(_directory(whole, main_at))
    places = {34665: lens_at, 273: pixels_at}
    whole = [(tag, kind, [places[tag]] if tag in places else value) for tag, kind, value in whole]
    with path.open("wb") as file:
        file.write(struct.pack("<2sHI", b"II", 42, main_at))
        file.write(lens_bytes)
        file.write(_directory(whole, main_at))
        file.write(codes.tobytes())


def _directory(entries: list[tuple[int, int, list | bytes]], at: int) -> bytes:
    """Return a directory of tags and, behind it, the values too long for their fields."""
    head = struct.pack("<H", len(entries))
    behind = b""
    start = at + 2 + 12 * len(entries) + 4
    for tag, kind, value in sorted(entries, key=lambda entry: entry[0]):
        data = _packed(kind, value)
        count = len(data) // SIZES[kind]
        if len(data) <= 4:
            field = data.ljust(4, b"\0")
        else:
            field = struct.pack("<I", start + len(behind))
            behind += data + b"\0" * (len(data) % 2)
        head += struct.pack("<HHI", tag, kind, count) + field
    return head + struct.pack("<I", 0) + behind


def _packed(kind: int, value: list | bytes) -> bytes:
    if isinstance(value, bytes):
        return value
    if kind in (RATIONAL, SRATIONAL):
        letters = "<II" if kind == RATIONAL else "<ii"
        return b"".join(struct.pack(letters, round(one * 100000), 100000) for one in value)
    letter = {BYTE: "B", SHORT: "H", LONG: "I"}[kind]
    return struct.pack(f"<{len(value)}{letter}", *value)
