"""Where things lie on the board, and what a leaf lying there sends to the camera."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.lamps import Light
from sample_images.leaf import LaidFace
from sample_images.noise import SplineLine
from sample_images.reflection import Lobe, fibre_axis, highlight, matt_gain, refract

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

NODE_MM = 30.0
"""Pitch at which directions to lamp and camera are worked out; between, they are smooth."""
FLAKE_SHINE = 0.7
"""Highlight of a ray laid open over that of the fibres beside it."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the middle of a thing lies on the board, mm, and how far it is turned."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    turn_deg: float = 0.0
    """Counter-clockwise as seen in the picture."""

    def to_board(self, own_mm: Doubles) -> Doubles:
        """Return board points of a thing's own points, shape (..., 2)."""
        angle = np.radians(self.turn_deg)
        cosine, sine = np.cos(angle), np.sin(angle)
        x, y = own_mm[..., 0], own_mm[..., 1]
        return np.stack(
            [self.x_mm + cosine * x - sine * y, self.y_mm + sine * x + cosine * y], axis=-1
        )

    def from_board(self, board_mm: Floats | Doubles) -> Floats | Doubles:
        """Return a thing's own points of board points; the inverse of `to_board`."""
        angle = np.radians(self.turn_deg)
        cosine, sine = float(np.cos(angle)), float(np.sin(angle))
        x, y = board_mm[..., 0] - self.x_mm, board_mm[..., 1] - self.y_mm
        return np.stack([cosine * x + sine * y, cosine * y - sine * x], axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class Curl:
    """How a leaf that does not lie flat rises and falls along its length."""

    line: SplineLine
    size_deg: float
    length_mm: float

    def slope_deg(self, y_mm: Doubles) -> Doubles:
        """Return the slope at heights of the board; over the whole leaf it comes to nothing."""
        ends = np.linspace(-0.5, 0.5, 101) * self.length_mm
        level = float(self.line.at(ends, 0.0).mean())
        return self.size_deg * (self.line.at(y_mm, 0.0) - level)

    def turn(self, direction: Doubles, y_mm: Doubles) -> Doubles:
        """Return directions as the sloping surface sees them, rows at heights ``y_mm``."""
        slope = np.radians(self.slope_deg(y_mm))[:, None]
        cosine, sine = np.cos(slope), np.sin(slope)
        x, y, z = np.moveaxis(direction, -1, 0)
        return np.stack([x, cosine * y + sine * z, cosine * z - sine * y], axis=-1)


def place_pair(left: LaidFace, right: LaidFace) -> tuple[Place, Place]:
    """Return where two laid leaves lie when butted at x = 0, the joint upright."""
    turns, reach = [], []
    for edge in (left.long_edges_mm[1], right.long_edges_mm[0]):
        slope = float(np.polyfit(edge[:, 1], edge[:, 0], 1)[0])
        turn = float(np.degrees(np.arctan(slope)))
        turns.append(turn)
        turned = Place(turn_deg=turn).to_board(edge)
        reach.append(turned[np.argsort(turned[:, 1])])
    heights = np.linspace(*_common(reach[0][:, 1], reach[1][:, 1]), 200)
    edges = [np.interp(heights, one[:, 1], one[:, 0]) for one in reach]
    gap = float((edges[0] - edges[1]).max())
    half = float(np.mean(edges[0] - edges[1])) / 2
    shift = (gap - 2 * half) / 2
    left_x = -float(np.mean(edges[0])) - shift
    right_x = -float(np.mean(edges[1])) + shift
    return Place(left_x, 0.0, turns[0]), Place(right_x, 0.0, turns[1])


def _common(one: Doubles, other: Doubles) -> tuple[float, float]:
    return max(one.min(), other.min()) + 1, min(one.max(), other.max()) - 1


def reflectance(
    face: LaidFace,
    place: Place,
    lamps: Sequence[Light],
    camera_mm: tuple[float, float, float],
    *,
    curl: Curl | None = None,
) -> Floats:
    """Return what a laid leaf sends to the camera over what a white matt sheet would send there.

    Parameters
    ----------
    face : LaidFace
        The leaf's upper side.
    place : Place
        Where it lies on the board.
    lamps : sequence of LampLight
        Those that burn; their shares follow the light each lays on the place.
    camera_mm : tuple of float
        Where the camera is.
    curl : Curl or None
        How the leaf rises and falls; None lies flat.

    Returns
    -------
    ndarray of float32, shape (rows, columns, 3)
        Linear reflectance factor.
    """
    own_mm = _nodes(face)
    board = place.to_board(own_mm)
    eye = np.empty((*board.shape[:-1], 3))
    eye[..., :2] = np.array(camera_mm[:2]) - board
    eye[..., 2] = camera_mm[2]
    eye /= np.linalg.norm(eye, axis=-1, keepdims=True)
    lit = [lamp.on(board) for lamp in lamps]
    falling = [np.ones(board.shape[:-1]) for _ in lamps]
    if curl is not None:
        heights = own_mm[:, 0, 1]
        eye = curl.turn(eye, heights)
        turned = [curl.turn(toward, heights) for _, toward in lit]
        falling = [now[..., 2] / flat[..., 2] for now, (_, flat) in zip(turned, lit, strict=True)]
        lit = [(light, now) for (light, _), now in zip(lit, turned, strict=True)]
    total = np.sum([light for light, _ in lit], axis=0)
    shape = face.tilt_deg.shape
    fibre = fibre_axis(face.tilt_deg, face.angle_deg - np.float32(place.turn_deg))
    eye_inside = _spread(refract(eye, face.lobe.film_index), shape)
    gain = np.zeros(shape, np.float32)
    for lamp, (light, toward), more in zip(lamps, lit, falling, strict=True):
        through, sheen = matt_gain(toward, eye, face.lobe)
        share = through * more * light / total
        lamp_inside = _spread(refract(toward, face.lobe.film_index), shape)
        shine = highlight(
            fibre, lamp_inside, eye_inside, face.lobe, lamp_spread_deg=lamp.spread_deg
        )
        if face.flake is not None:
            across = _spread(FLAKE_SHINE * _shine_across(toward, eye, face.lobe), shape)
            shine += face.flake * (across - shine)
        gain += _spread(share, shape) * (1 + shine) + _spread(share * sheen, shape)
    return face.light * gain[..., None]


def _nodes(face: LaidFace) -> Doubles:
    """Return own mm of a coarse grid that spans the face, shape (rows, columns, 2)."""
    sheet = face.sheet
    width, length = sheet.shape[1] / sheet.px_per_mm, sheet.shape[0] / sheet.px_per_mm
    columns, rows = max(2, int(width / NODE_MM) + 1), max(2, int(length / NODE_MM) + 1)
    x = ((np.arange(columns) + 0.5) / columns - 0.5) * width
    y = (0.5 - (np.arange(rows) + 0.5) / rows) * length
    return np.stack(np.meshgrid(x, y), axis=-1)


def _spread(nodes: Doubles, shape: tuple[int, ...]) -> Floats:
    """Return values at every pixel from values at `_nodes`; straight beyond the outer nodes."""
    padded = nodes.astype(np.float32)
    for axis in (0, 1):
        first, second = padded.take([0], axis), padded.take([1], axis)
        last, before = padded.take([-1], axis), padded.take([-2], axis)
        padded = np.concatenate([2 * first - second, padded, 2 * last - before], axis=axis)
    rows, columns = nodes.shape[:2]
    y = ((np.arange(shape[0]) + 0.5) / shape[0] * rows + 0.5).astype(np.float32)
    x = ((np.arange(shape[1]) + 0.5) / shape[1] * columns + 0.5).astype(np.float32)
    low_y, low_x = y.astype(np.int32), x.astype(np.int32)
    part_y, part_x = (y - low_y), (x - low_x)
    tail = (1,) * (padded.ndim - 2)
    across = padded[:, low_x] + (padded[:, low_x + 1] - padded[:, low_x]) * part_x.reshape(
        1, -1, *tail
    )
    down = across[low_y]
    down += (across[low_y + 1] - down) * part_y.reshape(-1, 1, *tail)
    return np.asarray(down, np.float32)


def _shine_across(toward: Doubles, eye: Doubles, lobe: Lobe) -> Doubles:
    """Return R F of cells that lie across the leaf, as those of rays do."""
    lamp_inside, eye_inside = refract(toward, lobe.film_index), refract(eye, lobe.film_index)
    across = (np.ones(1, np.float32), np.zeros(1, np.float32), np.zeros(1, np.float32))
    return highlight(across, lamp_inside, eye_inside, lobe).astype(np.float64)
