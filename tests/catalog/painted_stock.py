"""A small stock of painted leaves, recorded as if photographed and measured."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.catalog import Catalog, open_catalog
from catalog.kept_pictures import keep_leaf
from catalog.new_photo import NewPhoto
from catalog.records import BundleId
from vision.alternation import SeenLeaf, predict_alternation
from vision.colour_space import ILLUMINANT, linear_to_lab, srgb_to_linear
from vision.laying import lay_pixels, slope_sign
from vision.leaf_image import LeafImage
from vision.readings import (
    SLICES,
    ColourClass,
    LeafColour,
    LeafFigure,
    LeafReading,
    LeafSize,
    LightProfile,
    LightReference,
    PhotoReading,
    ScaleClass,
)
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot import Laid, Lamp, Shot

ROWS, COLUMNS = 900, 110
PX_PER_MM = 0.45
TILT_SHARE = 0.12
"""Share of light by which leaning fibres lighten a leaf under one lamp and darken it under B."""
MARGIN = 6


def painted_leaf(label: str) -> NDArray[np.uint8]:
    """Return a leaf as it lies: grain lines, a dark knot near its top left, no two alike."""
    chance = np.random.default_rng(int(hashlib.sha256(label.encode()).hexdigest()[:8], 16))
    noise = chance.normal(0, 1, (ROWS, COLUMNS)).astype(np.float32)
    grain = cv2.GaussianBlur(noise, (0, 0), sigmaX=1.2, sigmaY=50) * 110
    rgb = np.array([196, 158, 118]) + grain[..., np.newaxis]
    leaf = np.ascontiguousarray(np.clip(rgb, 0, 255).astype(np.uint8))
    cv2.circle(leaf, (COLUMNS // 4, ROWS // 6), 9, (96, 66, 44), -1)
    return leaf


def light_share(laid: Laid, lamp: Lamp) -> float:
    """Return the light of leaning fibres so laid under that lamp, against even light."""
    sign = {Lamp.A: 1, Lamp.B: -1}.get(lamp, 0)
    return 1.0 - TILT_SHARE * sign * slope_sign(laid)


def painted_catalog(
    place: Path,
    shots: Sequence[Shot],
    *,
    px_per_mm: float | None = PX_PER_MM,
    times: int = 1,
    figures: Mapping[str, NDArray[np.uint8]] | None = None,
) -> tuple[Catalog, BundleId]:
    """Return a catalogue with one bundle that holds the given photographs, pairs judged.

    ``times`` enlarges the pictures, not the leaves; ``figures`` are leaves painted otherwise.
    """
    catalog = open_catalog(place / "stock.db", now=lambda: datetime(2026, 3, 4, 9, tzinfo=UTC))
    flitch = catalog.add_flitch(
        name="Ashgrove 17", species="European maple", cut="quarter", figure="plain"
    )
    bundle = catalog.add_bundle(flitch, label="1")
    labels = list(dict.fromkeys(label for shot in shots for label in shot.leaves))
    seen = []
    for shot in shots:
        new = _photographed(catalog, shot, px_per_mm, times, figures or {})
        catalog.record_photo(bundle, new, listed=labels)
        seen.append(SeenLeaf(shot, tuple(leaf.light for leaf in new.reading.leaves)))
    for match in ("book", "slip"):
        pairs = predict_alternation(labels, seen, match=match, settings=DEFAULT_VISION_SETTINGS)
        catalog.record_alternation(bundle, match, pairs)
    return catalog, bundle


def _photographed(
    catalog: Catalog,
    shot: Shot,
    px_per_mm: float | None,
    times: int,
    figures: Mapping[str, NDArray[np.uint8]],
) -> NewPhoto:
    sides = (Laid.AS_LIES, Laid.FACE_OVER) if shot.laid is Laid.OPENED_PAIR else (shot.laid,)
    images = [
        _leaf_image(figures.get(label, painted_leaf(label)), laid, shot.lamp, px_per_mm)
        for label, laid in zip(shot.leaves, sides, strict=True)
    ]
    leaves = tuple(
        _reading(label, image, px_per_mm) for label, image in zip(shot.leaves, images, strict=True)
    )
    sha256 = hashlib.sha256(shot.file.encode()).hexdigest()
    reading = PhotoReading(shot.file, sha256, 1000, 1000, None, leaves, (), "1")
    keys = tuple(keep_leaf(_enlarged(image, times), store=catalog.pictures) for image in images)
    return NewPhoto(shot, reading, keys, DEFAULT_VISION_SETTINGS)


def _leaf_image(
    figure: NDArray[np.uint8], laid: Laid, lamp: Lamp, px_per_mm: float | None
) -> LeafImage:
    leaf = lay_pixels(srgb_to_linear(figure), laid) * light_share(laid, lamp)
    light = np.full((ROWS + 2 * MARGIN, COLUMNS + 2 * MARGIN, 3), 0.01, np.float32)
    on_leaf = np.zeros(light.shape[:2], bool)
    light[MARGIN:-MARGIN, MARGIN:-MARGIN] = leaf
    on_leaf[MARGIN:-MARGIN, MARGIN:-MARGIN] = True
    return LeafImage(light, on_leaf, px_per_mm)


def _enlarged(image: LeafImage, times: int) -> LeafImage:
    if times == 1:
        return image
    light = cv2.resize(image.light, None, fx=times, fy=times, interpolation=cv2.INTER_CUBIC)
    on_leaf = np.repeat(np.repeat(image.on_leaf, times, axis=0), times, axis=1)
    scale = None if image.px_per_mm is None else image.px_per_mm * times
    return LeafImage(np.asarray(light, dtype=np.float32), on_leaf, scale)


def _reading(label: str, image: LeafImage, px_per_mm: float | None) -> LeafReading:
    leaf = image.light[MARGIN:-MARGIN, MARGIN:-MARGIN].astype(np.float64)
    lightness, a, b = (float(part) for part in linear_to_lab(leaf.mean(axis=(0, 1))))
    size = LeafSize(
        length_mm=None if px_per_mm is None else ROWS / px_per_mm,
        width_mm=None if px_per_mm is None else COLUMNS / px_per_mm,
        px_per_mm=px_per_mm,
        scale_class=ScaleClass.NONE if px_per_mm is None else ScaleClass.TYPED,
        length_px=float(ROWS),
        width_px=float(COLUMNS),
    )
    colour = LeafColour(
        lightness=lightness,
        a=a,
        b=b,
        chroma=float(np.hypot(a, b)),
        hue_deg=float(np.degrees(np.arctan2(b, a))),
        lightness_p5=lightness - 4,
        lightness_p95=lightness + 4,
        illuminant=ILLUMINANT,
        colour_class=ColourClass.RELATIVE,
    )
    slices = tuple(
        (float(r), float(g), float(b))
        for r, g, b in (part.mean(axis=(0, 1)) for part in np.array_split(leaf, SLICES))
    )
    light = LightProfile(slices, 0.5, (), (), None, LightReference.BOARD, 0.003)
    figure = LeafFigure(0.0, 0.9, 3.0, None, None, 0.0)
    return LeafReading(label, size, colour, figure, light, ())
