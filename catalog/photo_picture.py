"""A stored photograph to look at: its upright picture, and its quality sheet."""

from __future__ import annotations

import tempfile
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from catalog.catalog import Catalog
from catalog.quality_sheet import draw_quality_sheet
from catalog.records import PhotoId, PhotoRecord
from vision.photo import read_photo
from vision.settings import VisionSettings

SHEET_PX = 1500
"""Long side to which a photograph is opened for its sheet: the sheet shows it smaller."""


def upright_picture(
    catalog: Catalog, photo: PhotoRecord, *, long_px: int, settings: VisionSettings
) -> NDArray[np.uint8]:
    """Return a photograph as kept, upright, in sRGB, at most ``long_px`` long.

    Of a leaf photographed in parts it is the picture joined from them.

    Raises
    ------
    CatalogError
        If it is gone from the picture store.
    VisionError
        If it can no longer be read.
    """
    with tempfile.TemporaryDirectory() as place:
        joined = photo.reading.picture_sha256
        file = Path(place) / ("joined.jpg" if joined else photo.shot.file)
        file.write_bytes(catalog.pictures.read(joined or photo.sha256))
        rgb = read_photo(file, settings=settings, least_long_px=long_px).rgb
    scale = long_px / max(rgb.shape[:2])
    if scale >= 1.0:
        return rgb
    size = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def quality_sheet_of(
    catalog: Catalog, photo_id: PhotoId, *, settings: VisionSettings
) -> Image.Image:
    """Return the quality sheet of a photograph in the catalogue; raises as `upright_picture`."""
    photo = catalog.photo(photo_id)
    rgb = upright_picture(catalog, photo, long_px=SHEET_PX, settings=settings)
    return draw_quality_sheet(rgb, photo.reading)
