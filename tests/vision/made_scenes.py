"""Small photographs made in sight of the test: a board, a lamp, leaves of known place and light.

Simpler than `sample_images` and written apart from it, so that a fault of the one does not hide
in the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from vision.colour_space import linear_to_srgb8

GREYS = (0.03, 0.09, 0.18, 0.36, 0.60, 0.88)
WOODS = {
    "walnut": (0.20, 0.13, 0.08),
    "maple": (0.65, 0.52, 0.36),
    "oak": (0.40, 0.30, 0.19),
    "cherry": (0.38, 0.22, 0.13),
    "mahogany": (0.25, 0.13, 0.07),
}
BOARDS = {"light": 0.75, "mid": 0.20, "dark": 0.04}
MM_PER_PX = 2.0
LAMP_MM, EYE_MM = (1300.0, 1200.0), 2200.0
"""The lamp past the middle and above the board; the eye above the middle."""
SHEEN_WIDTH_DEG = 12.0
FILM_DIAGONAL_MM = 43.27


@dataclass(frozen=True)
class MadeLeaf:
    """A straight leaf with fine grain along it."""

    wood: tuple[float, float, float]
    grain_seed: int = 0
    mirrored: bool = False
    slope_deg: float = 0.0
    """Of the fibres out of the face, rising toward the lower end; a turned leaf has the other sign.
    """
    sheen: float = 0.0
    """Strength of the fibres' highlight over the wood's own light."""


def sent_by_fibres(leaf: MadeLeaf, lamp: int, along_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what a leaf sends at rows of the board, over a leaf without sheen.

    In the plane of the grain: the cone about the fibre, as Marschner and others (2005) give it.
    """
    to_lamp = np.arctan2(-lamp * LAMP_MM[0] - along_mm, LAMP_MM[1])
    to_eye = np.arctan2(-along_mm, EYE_MM)
    inside = [np.arcsin(np.sin(one) / 1.5) for one in (to_lamp, to_eye)]
    off_cone = np.rad2deg(inside[0] + inside[1]) + 2 * leaf.slope_deg
    highlight = np.exp(-0.5 * (off_cone / SHEEN_WIDTH_DEG) ** 2)
    return np.asarray(1 + leaf.sheen * highlight / np.cos((inside[1] - inside[0]) / 2) ** 2)


@dataclass(frozen=True)
class Scene:
    """A board seen from above, leaves side by side in its middle."""

    leaves: tuple[MadeLeaf, ...]
    board: tuple[float, float, float] = (0.20, 0.20, 0.20)
    lamp: int = 1
    """+1: past the top end (A), -1: past the other (B)."""
    exposure: float = 1.0
    strip: bool = True
    gap_mm: float = 0.0
    turned_deg: float = 0.0
    shifted_px: tuple[float, float] = (0.0, 0.0)
    size_px: tuple[int, int] = (600, 900)
    leaf_mm: tuple[float, float] = (240.0, 1400.0)
    seed: int = 0
    noise: float = 0.01
    outlines: list[NDArray[np.float64]] = field(default_factory=list)

    def paint(self) -> NDArray[np.uint8]:
        """Return the photograph, sRGB; `outlines` then holds each leaf's corners in pixels."""
        rng = np.random.default_rng(self.seed)
        width, height = self.size_px
        reflectance = np.empty((height, width, 3), np.float32)
        reflectance[:] = self.board
        self.outlines.clear()
        leaf_w, leaf_h = (side / MM_PER_PX for side in self.leaf_mm)
        span = len(self.leaves) * leaf_w + (len(self.leaves) - 1) * self.gap_mm / MM_PER_PX
        for index, leaf in enumerate(self.leaves):
            x0 = -span / 2 + index * (leaf_w + self.gap_mm / MM_PER_PX)
            self._lay(reflectance, leaf, x0, (leaf_w, leaf_h))
        if self.strip:
            x = int(width / 2 + span / 2 + 30)
            edges = np.linspace(height / 2 - leaf_h / 2, height / 2 + leaf_h / 2, 7).astype(int)
            for grey, top, bottom in zip(GREYS, edges, edges[1:], strict=False):
                reflectance[top:bottom, x : x + 18] = grey
        light = reflectance * self.light()[..., None] * self.exposure
        light *= 1 + self.noise * rng.standard_normal(light.shape, dtype=np.float32)
        return linear_to_srgb8(np.clip(light, 0, 1))

    def light(self) -> NDArray[np.float32]:
        """Return what a white sheet would send, whatever the exposure."""
        width, height = self.size_px
        y, x = np.mgrid[0:height, 0:width].astype(np.float32)
        across, along = (x - width / 2) * MM_PER_PX, (y - height / 2) * MM_PER_PX
        distance2 = (across - 40) ** 2 + (along + self.lamp * LAMP_MM[0]) ** 2 + LAMP_MM[1] ** 2
        light = LAMP_MM[1] ** 3 / distance2**1.5
        light *= (EYE_MM**2 / (EYE_MM**2 + across**2 + along**2)) ** 1.2
        return np.asarray(light / light.max(), dtype=np.float32)

    def save(self, path: Path, **options: object) -> Path:
        """Write the photograph as a JPEG (or by the file name's ending), its lens told."""
        exif = Image.Exif()
        seen_mm = MM_PER_PX * float(np.hypot(*self.size_px))
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = round(
            EYE_MM / seen_mm * FILM_DIAGONAL_MM
        )
        Image.fromarray(self.paint()).save(path, **{"quality": 90, "exif": exif, **options})
        return path

    def _lay(
        self,
        reflectance: NDArray[np.float32],
        leaf: MadeLeaf,
        x0: float,
        size: tuple[float, float],
    ) -> None:
        width, height = self.size_px
        angle = np.deg2rad(self.turned_deg)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        centre = np.array([width / 2, height / 2]) + self.shifted_px
        corners = np.array([[0, 0], [size[0], 0], [size[0], size[1]], [0, size[1]]], float)
        corners = (corners + np.array([x0, -size[1] / 2])) @ turn.T + centre
        self.outlines.append(corners)
        mask = np.zeros((height * 4, width * 4), np.uint8)
        cv2.fillPoly(mask, [np.round((corners + 0.5) * 4 - 0.5).astype(np.int32)], 1)
        share = cv2.resize(mask.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA)
        grain = self._grain(leaf, size)
        to_leaf = np.hstack([turn.T, (turn.T @ -centre - np.array([x0, -size[1] / 2]))[:, None]])
        placed = cv2.warpAffine(
            grain,
            cv2.invertAffineTransform(to_leaf),
            (width, height),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        wood = np.asarray(leaf.wood, np.float32) * placed[..., None]
        along = (np.arange(height) - height / 2) * MM_PER_PX
        wood *= sent_by_fibres(leaf, self.lamp, along)[:, None, None].astype(np.float32)
        reflectance[:] = reflectance * (1 - share[..., None]) + wood * share[..., None]

    @staticmethod
    def _grain(leaf: MadeLeaf, size: tuple[float, float]) -> NDArray[np.float32]:
        rng = np.random.default_rng(leaf.grain_seed)
        noise = rng.standard_normal((int(size[1]) + 1, int(size[0]) + 1)).astype(np.float32)
        grain = cv2.GaussianBlur(noise, (0, 0), sigmaX=1.2, sigmaY=30)
        grain = np.exp(0.1 * grain / grain.std())
        return np.ascontiguousarray(grain[:, ::-1] if leaf.mirrored else grain)
