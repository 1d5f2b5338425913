"""What two leaves would show in a room that was never photographed: the truth behind a forecast.

Axes are those of the panel: x right across the grain, y along it toward the upper end, z out of
the face; the middle of the leaf is 0, 0, 0. Each leaf is looked at in turn in that one place, so
that the step is the leaves' own and not the light's fall-off from one to the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sample_images.colour import delta_e00, lab_of
from sample_images.leaf import Leaf
from sample_images.placing import Place, reflectance
from sample_images.truth import mean_areas

Doubles = NDArray[np.float64]
Triple = tuple[float, float, float]

ROOM_PX_PER_MM = 0.12
"""Means over a fifth of a leaf need no finer wood than this."""
SKY_RADIUS_MM = 1.0e6
SKY_RINGS, SKY_SPOKES = 7, 16


@dataclass(frozen=True, slots=True)
class Patch:
    """A small flat piece of something that shines: where, which way it faces, how large."""

    position_mm: Triple
    facing: Triple | None
    """Unit vector of the side that shines, which sends less to the side; None: all ways alike."""
    side_mm: float
    power: float

    def on(self, board_mm: Doubles) -> tuple[Doubles, Doubles]:
        """Return irradiance at points of the panel and unit directions to the patch."""
        toward = np.empty((*board_mm.shape[:-1], 3))
        toward[..., :2] = np.array(self.position_mm[:2]) - board_mm
        toward[..., 2] = self.position_mm[2]
        square = (toward**2).sum(axis=-1)
        unit = toward / np.sqrt(square)[..., None]
        sent = np.ones(square.shape)
        if self.facing is not None:
            sent = np.clip(-(unit @ np.array(self.facing)), 0.0, None)
        middle = float((np.array(self.position_mm) ** 2).sum())
        return self.power * sent * np.clip(unit[..., 2], 1e-6, None) * middle / square, unit

    @property
    def spread_deg(self) -> float:
        """Return the standard deviation of the patch's angular size along one axis."""
        distance = float(np.linalg.norm(self.position_mm))
        return float(np.degrees(self.side_mm / np.sqrt(12) / distance))


@dataclass(frozen=True, slots=True)
class RoomLight:
    """All that shines in a room, and where the eye is, mm."""

    patches: tuple[Patch, ...]
    eye_mm: Triple


def small_lamps(places_mm: list[Triple], *, side_mm: float = 60.0) -> tuple[Patch, ...]:
    """Return equal lamps that send light all ways, at those places."""
    squares = [float((np.array(place) ** 2).sum()) for place in places_mm]
    return tuple(
        Patch(place, None, side_mm, 1e6 / square)
        for place, square in zip(places_mm, squares, strict=True)
    )


def window(
    centre_mm: Triple, across_mm: Triple, up_mm: Triple, *, each: int = 5
) -> tuple[Patch, ...]:
    """Return a window as a grid of patches: its middle and its two whole sides as vectors."""
    centre, across, up = (np.array(one) for one in (centre_mm, across_mm, up_mm))
    normal = np.cross(across, up)
    normal /= np.linalg.norm(normal)
    if normal @ centre > 0:
        normal = -normal
    facing = (float(normal[0]), float(normal[1]), float(normal[2]))
    side = float(np.sqrt(np.linalg.norm(across) * np.linalg.norm(up))) / each
    steps = (np.arange(each) + 0.5) / each - 0.5
    patches = []
    for one in steps:
        for other in steps:
            x, y, z = centre + one * across + other * up
            square = float(x * x + y * y + z * z)
            patches.append(Patch((float(x), float(y), float(z)), facing, side, 1e6 / square))
    return tuple(patches)


def sky() -> tuple[Patch, ...]:
    """Return an even white sky all round the face."""
    cosines = np.sqrt((np.arange(SKY_RINGS) + 0.5) / SKY_RINGS)
    patches = []
    for cosine in cosines:
        sine = np.sqrt(1 - cosine**2)
        for spoke in range(SKY_SPOKES):
            turn = 2 * np.pi * (spoke + 0.5) / SKY_SPOKES
            place = np.array([sine * np.cos(turn), sine * np.sin(turn), cosine]) * SKY_RADIUS_MM
            # Rings of equal share of the light on the face: a patch's own cosine comes in `on`.
            patches.append(
                Patch(
                    (float(place[0]), float(place[1]), float(place[2])),
                    None,
                    0.25 * SKY_RADIUS_MM,
                    1.0 / float(cosine),
                )
            )
    return tuple(patches)


def sun(direction: Triple) -> tuple[Patch, ...]:
    """Return the sun (half a degree wide) in a direction from the panel."""
    place = np.array(direction) / np.linalg.norm(direction) * SKY_RADIUS_MM
    at = (float(place[0]), float(place[1]), float(place[2]))
    return (Patch(at, None, np.sqrt(12) * np.radians(0.13) * SKY_RADIUS_MM, 1.0),)


def room_truth(
    left: Leaf,
    right: Leaf,
    room: RoomLight,
    *,
    laid: tuple[str, str] = ("as-lies", "face-over"),
    turned_deg: tuple[float, float] = (0.0, 0.0),
) -> dict[str, Any]:
    """Return the true steps between two leaves so laid and then turned, clockwise as seen.

    The names are those of the truth file's pairs; ``tilt_only`` are the same steps were both
    leaves the wood of their face A throughout, so that no face differs from another.
    """
    leaves = tuple(zip((left, right), laid, turned_deg, strict=True))
    one, other = (_seen(leaf, how, room, turn) for leaf, how, turn in leaves)
    alike = [_seen(leaf, how, room, turn, face="A") for leaf, how, turn in leaves]
    step, apart = other[:, 0] - one[:, 0], delta_e00(one, other)
    tilt_only = alike[1][:, 0] - alike[0][:, 0]
    return {
        "lightness_step": float(step[0]),
        "segments": [float(value) for value in step[2:]],
        "tilt_only_step": float(tilt_only[0]),
        "tilt_only_segments": [float(value) for value in tilt_only[2:]],
        "tilt_only_delta_e00_segments": [float(v) for v in delta_e00(*alike)[2:]],
        "delta_e00": float(apart[0]),
        "delta_e00_segments": [float(value) for value in apart[2:]],
    }


def _seen(
    leaf: Leaf, laid: str, room: RoomLight, turned_deg: float, *, face: str | None = None
) -> Doubles:
    """Return CIELAB of the areas of one leaf so laid and turned in a room."""
    up = leaf.lay(laid, face=face, step=max(1, int(leaf.sheet.px_per_mm / ROOM_PX_PER_MM)))
    return lab_of(
        mean_areas(up, reflectance(up, Place(turn_deg=-turned_deg), room.patches, room.eye_mm))
    )
