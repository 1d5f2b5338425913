"""Marker rails and a leaf on a table, drawn as a camera with a real lens would see them.

A pinhole with radial distortion after Brown (1966), tilted, its axis off the picture's middle if
wished. Every pixel is drawn from 16 places. Of `vision` only the names of values are used.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from vision.marker_search import Markers
from vision.shooting_station import RailsByTape

MARKER_MM = 40.0
PAPER_MM = 29.0
"""From a marker's centre to the end of its paper."""
SAMPLES = 4
"""Places along each side of a pixel."""
TEXTURE_PX_PER_MM = 10
DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)


@dataclass(frozen=True)
class MadeCamera:
    """A camera over a table. ``foot_mm`` is the table point straight below the lens."""

    size_px: tuple[int, int]
    focal_px: float
    height_mm: float
    foot_mm: tuple[float, float]
    tilt_deg: tuple[float, float, float] = (0.0, 0.0, 0.0)
    k1: float = 0.0
    k2: float = 0.0
    """At tangents from the axis: radius = tangent (1 + k1 tangent^2 + k2 tangent^4)."""
    axis_px: tuple[float, float] = (0.0, 0.0)
    """The lens's axis off the picture's middle."""

    @property
    def focal_35mm(self) -> float:
        return self.focal_px / float(np.hypot(*self.size_px)) * 43.267

    def see(self, points_mm, height_mm=0.0):
        """Return photo pixels of table points (n, 2) at a height above the table."""
        points = np.asarray(points_mm, float)
        a, b, c = np.deg2rad(self.tilt_deg)
        turn_x = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
        turn_y = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
        turn_z = np.array([[np.cos(c), -np.sin(c), 0], [np.sin(c), np.cos(c), 0], [0, 0, 1]])
        depth = np.full(len(points), self.height_mm) - height_mm
        rays = np.column_stack([points - self.foot_mm, depth]) @ (turn_z @ turn_x @ turn_y).T
        flat = rays[:, :2] / rays[:, 2:]
        square = (flat**2).sum(axis=1, keepdims=True)
        middle = (np.array(self.size_px) - 1) / 2 + self.axis_px
        # Far outside the frame the radial terms would fold back into it.
        beyond = square > (0.8 * np.hypot(*self.size_px) / self.focal_px) ** 2
        flat = np.where(beyond, 1e3 * flat, flat)
        square = np.where(beyond, 0.0, square)
        return flat * (1 + self.k1 * square + self.k2 * square**2) * self.focal_px + middle


@dataclass(frozen=True)
class MadeRails:
    """Two rails as they truly lie."""

    markers: int = 33
    pitch_mm: float = 100.0
    scale: tuple[float, float] = (1.0, 1.0)
    """What the printer made of the left and the right rail."""
    gaps_mm: tuple[float, float] = (700.0, 700.0)
    shift_mm: float = 0.0
    """The right rail's first marker lies this far along."""
    bow_mm: tuple[float, float] = (0.0, 0.0)
    """How far the middles of the rails lie to the right of the line through their ends."""
    moved: dict[int, tuple[float, float]] = field(default_factory=dict)
    """Markers glued off their place, mm."""

    @property
    def lengths_mm(self) -> tuple[float, float]:
        return tuple((self.markers - 1) * self.pitch_mm * scale for scale in self.scale)

    def frames(self):
        """Yield id, centre, direction across and direction along of every marker, in mm."""
        for side, first in ((0, 0), (1, 100)):
            length = self.lengths_mm[side]
            lean = 0.0 if side == 0 else (self.gaps_mm[1] - self.gaps_mm[0]) / length
            along = np.array([lean, np.sqrt(1 - lean**2)]) * self.scale[side]
            across = np.array([along[1], -along[0]])
            start = np.array([0.0, 0.0] if side == 0 else [self.gaps_mm[0], self.shift_mm])
            for index in range(self.markers):
                t = 2 * index / (self.markers - 1) - 1
                bow = np.array([self.bow_mm[side] * (1 - t * t), 0.0])
                centre = start + along * self.pitch_mm * index + bow
                yield first + index, centre + self.moved.get(first + index, (0, 0)), across, along


def draw_rails(picture, camera: MadeCamera, rails: MadeRails) -> None:
    """Draw every marker that the picture shows whole."""
    for number, centre, across, along in rails.frames():
        draw_marker(picture, camera, number, np.stack([centre, across, along]))


def draw_marker(picture, camera: MadeCamera, number: int, frame) -> None:
    """Draw one marker on its paper; ``frame`` holds centre, direction across and along."""
    centre, directions = frame[0], frame[1:]
    grid = np.linspace(-PAPER_MM - 3, PAPER_MM + 3, 7)
    local = np.stack(np.meshgrid(grid, grid), axis=-1).reshape(-1, 2)
    seen = camera.see(centre + local @ directions)
    low = np.floor(seen.min(axis=0)).astype(int)
    high = np.ceil(seen.max(axis=0)).astype(int) + 1
    if (low < 0).any() or (high > camera.size_px).any():
        return
    middle, half = (low + high) / 2, (high - low).max() / 2
    weights = np.linalg.lstsq(_cubic((seen - middle) / half), local, rcond=None)[0]
    size = (high - low) * SAMPLES
    x = low[0] - 0.5 + (np.arange(size[0]) + 0.5) / SAMPLES
    y = low[1] - 0.5 + (np.arange(size[1]) + 0.5) / SAMPLES
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    texture = _texture(number)
    at = _cubic((places - middle) / half) @ weights
    at_texture = ((at * TEXTURE_PX_PER_MM) + (len(texture) - 1) / 2).astype(np.float32)
    at_texture = at_texture.reshape(size[1], size[0], 2)
    drawn = cv2.remap(texture, at_texture, None, cv2.INTER_LINEAR, borderValue=-1.0)
    window = picture[low[1] : high[1], low[0] : high[0]]
    under = np.repeat(np.repeat(window, SAMPLES, axis=0), SAMPLES, axis=1).astype(np.float32)
    value = np.where(drawn[..., None] < 0, under, drawn[..., None])
    window[:] = np.round(cv2.resize(value, window.shape[1::-1], interpolation=cv2.INTER_AREA))


def _cubic(points):
    x, y = points.T
    return np.stack([x**i * y**j for i in range(4) for j in range(4 - i)], axis=1)


def _texture(number: int):
    side = int(MARKER_MM * TEXTURE_PX_PER_MM)
    texture = np.full((int(2 * PAPER_MM * TEXTURE_PX_PER_MM),) * 2, 225, np.float32)
    low = (len(texture) - side) // 2
    marker = cv2.aruco.generateImageMarker(DICTIONARY, number, side - side % 6)
    marker = cv2.resize(marker, (side, side), interpolation=cv2.INTER_NEAREST)
    texture[low : low + side, low : low + side] = np.where(marker > 0, 225, 28)
    return texture


def photograph(picture, rng, *, blur_px=0.6, noise=1.5, quality=92):
    """Return the picture as a camera files it: blurred, noisy, compressed."""
    soft = cv2.GaussianBlur(picture, (0, 0), blur_px)
    grain = rng.normal(0.0, noise, soft.shape[:2]).astype(np.float32)[..., None]
    noisy = np.clip(soft + grain, 0, 255).astype(np.uint8)
    ok, data = cv2.imencode(".jpg", noisy[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert ok
    return np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1])


def some_camera(rng, size_px, *, rails: MadeRails, tilt_deg=8.0, axis_share=0.004) -> MadeCamera:
    """Return a camera that sees the rails whole, tilted by up to ``tilt_deg`` whichever way."""
    width, height = size_px
    diagonal = float(np.hypot(width, height))
    focal = rng.uniform(24.0, 38.0) / 43.267 * diagonal
    length, gap = max(rails.lengths_mm), max(rails.gaps_mm)
    tilt = rng.uniform(0.3, 1.0) * tilt_deg
    way = rng.uniform(0, 2 * np.pi)
    tilts = (tilt * np.cos(way), tilt * np.sin(way), rng.uniform(-2, 2))
    k1, k2 = rng.uniform(-0.12, 0.06), rng.uniform(-0.02, 0.03)
    axis = tuple(rng.uniform(-axis_share, axis_share, 2) * diagonal)
    ends = np.array([[-30, -30], [gap + 30, -30], [-30, length + 30], [gap + 30, length + 30]])
    reach = max((length + 120) / height, (gap + 120) / width) * focal
    for grow in np.linspace(1.0, 2.0, 41):
        camera = MadeCamera(
            size_px, focal, reach * grow, (gap / 2, length / 2), tilts, k1, k2, axis
        )
        # A tilted camera is moved until its axis meets the middle of the table.
        for _ in range(5):
            off = camera.see(np.array([[gap / 2, length / 2]]))[0] - (np.array(size_px) - 1) / 2
            foot = np.array(camera.foot_mm) + off * camera.height_mm / focal
            camera = MadeCamera(
                size_px, focal, reach * grow, (float(foot[0]), float(foot[1])), tilts, k1, k2, axis
            )
        seen = camera.see(ends)
        if (seen > 20).all() and (seen < np.array(size_px) - 20).all():
            return camera
    raise AssertionError("no camera sees these rails whole")


def tape_of(rails: MadeRails, *, gaps: bool = True, off_mm=(0.0, 0.0, 0.0, 0.0)):
    """Return what a tape says of the rails, off by ``off_mm`` (lengths, then gaps)."""
    left, right = rails.lengths_mm
    top, bottom = rails.gaps_mm if gaps else (None, None)
    return RailsByTape(
        rails.markers,
        rails.pitch_mm,
        left + off_mm[0],
        right + off_mm[1],
        None if top is None else top + off_mm[2],
        None if bottom is None else bottom + off_mm[3],
    )


def seen_markers(camera: MadeCamera, rails: MadeRails, rng, *, centre_px=0.03, corner_px=0.08):
    """Return the markers as they would be found, without drawing them: true places and noise."""
    ids, quads, centres = [], [], []
    for number, centre, across, along in rails.frames():
        local = 20.0 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        seen = camera.see(np.vstack([centre + local @ np.stack([across, along]), centre]))
        if (seen > 5).all() and (seen < np.array(camera.size_px) - 5).all():
            ids.append(number)
            quads.append(seen[:4])
            centres.append(seen[4])
    quads = np.array(quads) + rng.normal(0, corner_px, (len(ids), 4, 2))
    return Markers(
        np.array(ids), np.array(centres) + rng.normal(0, centre_px, (len(ids), 2)), quads
    )


def some_rails(rng, *, pitch_mm=100.0) -> MadeRails:
    """Return rails as printers and hands make them: out of scale, out of parallel, shifted."""
    return MadeRails(
        markers=33 if pitch_mm == 100.0 else 9,
        pitch_mm=pitch_mm,
        scale=tuple(1 + rng.uniform(-0.004, 0.004, 2)),
        gaps_mm=tuple(700 + rng.uniform(-60, 60) + rng.uniform(-4, 4, 2)),
        shift_mm=rng.uniform(-4, 4),
    )
