"""The JPEG and what the camera writes into it."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from sample_images.camera import CROP, FOCAL_35MM
from sample_images.plan import FlitchPlan

CAMERA_MAKE, CAMERA_MODEL = "Sample Camera", "Board Camera 24"
FIRST_SHOT = datetime(2026, 3, 2, 9, 0, 0)  # noqa: DTZ001  EXIF times carry no zone
QUALITY = (85, 92)


def save_photo(
    picture: NDArray[np.uint8], path: Path, *, plan: FlitchPlan, rng: np.random.Generator
) -> None:
    """Write an upright picture as JPEG, turned as the plan's EXIF orientation says."""
    quality = plan.jpeg_quality
    if quality is None:
        quality = int(rng.integers(QUALITY[0], QUALITY[1] + 1))
    image = Image.fromarray(picture)
    if plan.orientation == 6:
        image = image.transpose(Image.Transpose.ROTATE_90)
    image.save(path, quality=quality, exif=_exif(plan, rng), dpi=(72, 72))


def _exif(plan: FlitchPlan, rng: np.random.Generator) -> Image.Exif:
    exif = Image.Exif()
    taken = FIRST_SHOT + timedelta(seconds=int(rng.integers(0, 8 * 3600)))
    when = taken.strftime("%Y:%m:%d %H:%M:%S")
    exif[ExifTags.Base.Make] = CAMERA_MAKE
    exif[ExifTags.Base.Model] = CAMERA_MODEL
    exif[ExifTags.Base.Orientation] = plan.orientation
    exif[ExifTags.Base.DateTime] = when
    detail = exif.get_ifd(ExifTags.IFD.Exif)
    detail[ExifTags.Base.DateTimeOriginal] = when
    detail[ExifTags.Base.FocalLength] = round(FOCAL_35MM / CROP, 2)
    detail[ExifTags.Base.FocalLengthIn35mmFilm] = round(FOCAL_35MM)
    detail[ExifTags.Base.FNumber] = 8.0
    detail[ExifTags.Base.ISOSpeedRatings] = 100
    if rng.random() < plan.gps_share:
        place = exif.get_ifd(ExifTags.IFD.GPSInfo)
        place[ExifTags.GPS.GPSLatitudeRef] = "S"
        place[ExifTags.GPS.GPSLatitude] = (48.0, 52.0, 31.0)
        place[ExifTags.GPS.GPSLongitudeRef] = "W"
        place[ExifTags.GPS.GPSLongitude] = (123.0, 23.0, 33.0)
    return exif
