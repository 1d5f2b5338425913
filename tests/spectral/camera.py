"""The camera over the table: a pinhole with radial distortion after Brown (1971), and vignetting.

Table axes in mm: x across, y along (down the picture), z up from the printed face of the rails.
The middle of the first pixel is at (0, 0).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.spectral.bands import Doubles

FILM_DIAGONAL_MM = 43.2666


@dataclass(frozen=True, slots=True)
class Camera:
    """Where a camera stands and what its lens does."""

    place_mm: tuple[float, float, float]
    """x, y and height of the lens."""
    tilt_deg: tuple[float, float, float]
    """About the axes across, along, and the line of sight."""
    photo_px: tuple[int, int]
    """Width and height."""
    focal_35mm: float
    """True focal length as on 24 mm x 36 mm film, by the diagonal."""
    k1: float
    k2: float
    off_centre_px: tuple[float, float] = (0.0, 0.0)
    """Principal point from the middle of the picture."""
    vignetting: float = 0.28
    """Share of the light lost in the corners."""

    @property
    def focal_px(self) -> float:
        """Return the focal length in pixels."""
        return self.focal_35mm / FILM_DIAGONAL_MM * float(np.hypot(*self.photo_px))

    @property
    def px_per_mm(self) -> float:
        """Return pixels to a millimetre of the table under the lens."""
        return self.focal_px / self.place_mm[2]

    def to_px(self, points_mm: Doubles, height_mm: float = 0.0) -> Doubles:
        """Return pixels (x, y) of points (x, y) at a height over the rails, shape (..., 2)."""
        z = np.full((*points_mm.shape[:-1], 1), height_mm)
        seen = (np.concatenate([points_mm, z], axis=-1) - self.place_mm) @ self._turn().T
        flat = seen[..., :2] / seen[..., 2:]
        square = (flat**2).sum(axis=-1, keepdims=True)
        bent = flat * (1 + self.k1 * square + self.k2 * square**2)
        return np.asarray(bent * self.focal_px + self._middle())

    def to_mm(self, points_px: Doubles, height_mm: float = 0.0) -> Doubles:
        """Return points (x, y), mm, seen at pixels on a plane at a height over the rails."""
        bent = (points_px - self._middle()) / self.focal_px
        flat = bent.copy()
        for _ in range(12):
            square = (flat**2).sum(axis=-1, keepdims=True)
            flat = bent / (1 + self.k1 * square + self.k2 * square**2)
        rays = np.concatenate([flat, np.ones((*flat.shape[:-1], 1))], axis=-1) @ self._turn()
        reach = (height_mm - self.place_mm[2]) / rays[..., 2:]
        return np.asarray(self.place_mm[:2] + reach * rays[..., :2])

    def vignette(self, points_px: Doubles) -> Doubles:
        """Return the share of light that the lens passes; 1 in the middle."""
        corner = float((np.array(self.photo_px) ** 2).sum()) / 4
        square = ((points_px - (np.array(self.photo_px) - 1) / 2) ** 2).sum(axis=-1) / corner
        return np.asarray(1 - self.vignetting * (0.7 * square + 0.3 * square**2))

    def _middle(self) -> Doubles:
        return (np.array(self.photo_px) - 1) / 2 + np.array(self.off_centre_px)

    def _turn(self) -> Doubles:
        """Return the matrix from table axes to right, down, forward of the camera."""
        across, along, sight = np.radians(self.tilt_deg)
        c, s = np.cos(across), np.sin(across)
        about_x = np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
        c, s = np.cos(along), np.sin(along)
        about_y = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
        c, s = np.cos(sight), np.sin(sight)
        about_z = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
        return np.asarray(about_z @ about_y @ about_x @ np.diag([1.0, 1.0, -1.0]))
