"""Files of photographs by Pillow, OpenCV and tifffile, and how they are read or refused."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image

from vision.errors import PhotoUnreadable
from vision.photo import Photo, read_photo
from vision.settings import DEFAULT_VISION_SETTINGS as SETTINGS

UNTURN = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""How an upright picture is stored under each EXIF orientation."""


def scene(rows: int = 240, columns: int = 320, *, seed: int = 1) -> NDArray[np.uint8]:
    """Return a board with a leaf, grain and a red mark at the top left."""
    rng = np.random.default_rng(seed)
    picture = np.full((rows, columns, 3), (150, 152, 149), np.float64)
    grain = rng.normal(0, 12, (1, columns, 1))
    picture[20:-20, 60:-60] = (196, 160, 118) + grain[:, 60:-60]
    picture += rng.normal(0, 2, (rows, columns, 1))
    picture[:40, :80] = (230, 20, 20)
    return np.clip(picture, 0, 255).astype(np.uint8)


def jpeg(picture: NDArray[np.uint8], **options: object) -> bytes:
    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, "JPEG", **{"quality": 95, "subsampling": 0, **options})
    return stream.getvalue()


def read(folder: Path, data: bytes, name: str = "leaf.jpg", **settings: float) -> Photo:
    path = folder / name
    path.write_bytes(data)
    return read_photo(path, settings=replace(SETTINGS, **settings))


def refusal(folder: Path, data: bytes, name: str = "leaf.jpg", **settings: float) -> str:
    with pytest.raises(PhotoUnreadable) as caught:
        read(folder, data, name, **settings)
    return str(caught.value)


def deep_png(picture: NDArray[np.uint16], *, orientation: int = 1) -> bytes:
    data = cv2.imencode(".png", picture[..., ::-1])[1].tobytes()
    exif = Image.Exif()
    exif[0x0112] = orientation
    block = b"eXIf" + exif.tobytes()[6:]
    chunk = struct.pack(">I", len(block) - 4) + block + struct.pack(">I", zlib.crc32(block))
    return data[:33] + chunk + data[33:]


def deep_tiff(picture: NDArray[np.uint16], *, orientation: int = 1, **options: object) -> bytes:
    stream = io.BytesIO()
    tifffile.imwrite(
        stream, picture, photometric="rgb", extratags=[(274, 3, 1, orientation, True)], **options
    )
    return stream.getvalue()


def stored(kind: str, picture: Image.Image, orientation: int) -> bytes:
    if kind == "deep png":
        return deep_png(np.asarray(picture).astype(np.uint16) * 257, orientation=orientation)
    if kind == "deep tiff":
        return deep_tiff(np.asarray(picture).astype(np.uint16) * 257, orientation=orientation)
    exif = Image.Exif()
    exif[0x0112] = orientation
    options = {"JPEG": {"quality": 97, "subsampling": 0}, "WEBP": {"lossless": True}}
    stream = io.BytesIO()
    picture.save(stream, kind, exif=exif, **options.get(kind, {}))
    return stream.getvalue()


def as_bytes(picture: Image.Image, kind: str, **options: object) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, kind, **options)
    return stream.getvalue()
