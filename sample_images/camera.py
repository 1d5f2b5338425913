"""The camera above the board: pose, lens, and how light becomes numbers in a file."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.colour import encode_table

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

FOCAL_35MM = 28.0
"""Focal length, mm, as on 24 x 36 mm film; sees a little more than its height above the board."""
FILM_DIAGONAL_MM = 43.267
CROP = 1.5
"""Film diagonal over the sensor's."""
MAP_STEP = 8
"""Photo pixels per node where the geometry is worked out; between, it is smooth."""


@dataclass(frozen=True, slots=True)
class Camera:
    """A camera looking down. Board axes: x right, y up the picture, z toward the camera, mm."""

    position_mm: tuple[float, float, float]
    tilt_deg: tuple[float, float, float]
    """Small turns about x, y and z."""
    photo_px: tuple[int, int]
    """Width, height."""
    distortion: tuple[float, float]
    vignetting: float

    @property
    def focal_px(self) -> float:
        """Return the focal length in photo pixels."""
        return FOCAL_35MM / FILM_DIAGONAL_MM * float(np.hypot(*self.photo_px))

    @property
    def px_per_mm(self) -> float:
        """Return the scale at the middle of the board."""
        return self.focal_px / self.position_mm[2]

    def to_photo(self, board_mm: Doubles) -> Doubles:
        """Return photo pixels (x, y) of points on the board, shape (..., 2)."""
        points = np.concatenate([board_mm, np.zeros((*board_mm.shape[:-1], 1))], axis=-1)
        seen = (points - np.array(self.position_mm)) @ self._rotation().T
        flat = seen[..., :2] / seen[..., 2:]
        square = (flat**2).sum(axis=-1, keepdims=True)
        bent = flat * (1 + self.distortion[0] * square + self.distortion[1] * square**2)
        return np.asarray(bent * self.focal_px + self._middle())

    def to_board(self, photo_px: Doubles) -> Doubles:
        """Return the points of the board, mm, seen at photo pixels; the inverse of `to_photo`."""
        flat = self._straight((photo_px - self._middle()) / self.focal_px)
        rays = np.concatenate([flat, np.ones((*flat.shape[:-1], 1))], axis=-1) @ self._rotation()
        reach = -self.position_mm[2] / rays[..., 2:]
        return np.asarray(self.position_mm[:2] + reach * rays[..., :2])

    def vignette(self, photo_px: Doubles) -> Doubles:
        """Return the share of light that the lens passes at photo pixels; 1 on the axis."""
        square = (((photo_px - self._middle()) / self.focal_px) ** 2).sum(axis=-1)
        return np.asarray((1 + square) ** -self.vignetting)

    def nodes(self, step: int = MAP_STEP) -> Doubles:
        """Return photo pixels of a coarse grid with two nodes of rim, shape (rows, columns, 2).

        `fill` brings values there to every pixel.
        """
        width, height = self.photo_px
        x = (np.arange(-2, -(-width // step) + 2) + 0.5) * step - 0.5
        y = (np.arange(-2, -(-height // step) + 2) + 0.5) * step - 0.5
        return np.stack(np.meshgrid(x, y), axis=-1)

    def _middle(self) -> Doubles:
        return (np.array(self.photo_px) - 1) / 2

    def _rotation(self) -> Doubles:
        turn, _ = cv2.Rodrigues(np.radians(np.array(self.tilt_deg)))
        return np.asarray(turn @ np.diag([1.0, -1.0, -1.0]), np.float64)

    def _straight(self, bent: Doubles) -> Doubles:
        """Return undistorted image points by Newton's method on the radius."""
        k1, k2 = self.distortion
        target = np.sqrt((bent**2).sum(axis=-1, keepdims=True))
        radius = target.copy()
        for _ in range(6):
            value = radius * (1 + k1 * radius**2 + k2 * radius**4) - target
            radius -= value / (1 + 3 * k1 * radius**2 + 5 * k2 * radius**4)
        return np.asarray(bent * (radius / np.maximum(target, 1e-12)))


def fill(nodes: Floats, rows: slice, columns: slice, *, step: int = MAP_STEP) -> Floats:
    """Return values at every pixel of a part of the photo from values at `Camera.nodes`."""
    first = (rows.start // step, columns.start // step)
    last = (-(-rows.stop // step), -(-columns.stop // step))
    part = nodes[first[0] + 1 : last[0] + 3, first[1] + 1 : last[1] + 3]
    size = (part.shape[1] * step, part.shape[0] * step)
    full = cv2.resize(np.ascontiguousarray(part), size, interpolation=cv2.INTER_LINEAR)
    top, left = rows.start - (first[0] - 1) * step, columns.start - (first[1] - 1) * step
    return np.asarray(
        full[top : top + rows.stop - rows.start, left : left + columns.stop - columns.start],
        np.float32,
    )


_CODES = encode_table()


def develop(linear: Floats, rng: np.random.Generator, *, pixel_noise: float) -> NDArray[np.uint8]:
    """Return sRGB code values of linear light (1 = full scale), with shot and read noise.

    ``pixel_noise`` is the noise at 0.2 of full scale as a fraction of the light there; nine
    tenths of its variance are shot noise.
    """
    if pixel_noise > 0:
        at_grey = (0.2 * pixel_noise) ** 2
        spread = cv2.sqrt(np.maximum(linear, 0) * np.float32(4.5 * at_grey) + 0.1 * at_grey)
        linear = linear + spread.reshape(linear.shape) * rng.standard_normal(
            linear.shape, dtype=np.float32
        )
    codes = np.clip(linear * len(_CODES), 0, len(_CODES) - 1).astype(np.uint16)
    return _CODES[codes]
