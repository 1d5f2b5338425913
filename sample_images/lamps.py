"""The lamps round the board and the light that falls on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from sample_images.plan import FlitchPlan

Doubles = NDArray[np.float64]

BEYOND_END_MM = 350.0
"""Lamps A and B hang this far past the ends of the leaf."""
FREE = "at "
"""Opens the word of a lamp that hangs anywhere."""


class Light(Protocol):
    """Anything that shines on the board from about one direction."""

    def on(self, board_mm: Doubles) -> tuple[Doubles, Doubles]:
        """Return irradiance at points of the board and unit directions to the light."""

    @property
    def spread_deg(self) -> float:
        """Return the standard deviation of its angular size along one axis."""


@dataclass(frozen=True, slots=True)
class LampLight:
    """One lamp: a small disc at a place, mm, in board axes; its light at the board's middle is
    ``power``, falling off with the square of distance and the cosine."""

    position_mm: tuple[float, float, float]
    radius_mm: float
    power: float = 1.0

    def on(self, board_mm: Doubles) -> tuple[Doubles, Doubles]:
        """Return irradiance (1 at the board's middle for power 1) and unit directions to the lamp.

        Parameters
        ----------
        board_mm : ndarray, shape (..., 2)
        """
        toward = np.empty((*board_mm.shape[:-1], 3))
        toward[..., :2] = np.array(self.position_mm[:2]) - board_mm
        toward[..., 2] = self.position_mm[2]
        square = (toward**2).sum(axis=-1)
        middle = float((np.array(self.position_mm) ** 2).sum())
        falling = (middle / square) ** 1.5
        return self.power * falling, toward / np.sqrt(square)[..., None]

    @property
    def spread_deg(self) -> float:
        """Return the standard deviation of the lamp's angular size along one axis."""
        distance = float(np.linalg.norm(self.position_mm))
        return float(np.degrees(self.radius_mm / 2 / distance))


def lamp_at(x_mm: float, y_mm: float, height_mm: float) -> str:
    """Return the word, for `sample_images.Scene`, of a lamp anywhere over the board.

    Parameters
    ----------
    x_mm, y_mm : float
        Right and up the picture from the board's middle.
    height_mm : float
        Over the board.

    Examples
    --------
    >>> lamps_of(FlitchPlan(seed=1), lamp_at(0, -400, 2000))[0].position_mm
    (0.0, -400.0, 2000.0)
    """
    return f"{FREE}{x_mm:g} {y_mm:g} {height_mm:g}"


def lamps_of(plan: FlitchPlan, lamp: str) -> tuple[LampLight, ...]:
    """Return the lamps that burn: A past the top of the picture, B past its bottom.

    ``both`` (and an unknown lamp) shares the light between A and B. `lamp_at` words a lamp
    anywhere else.
    """
    angle = np.tan(np.radians(plan.lamp_angle_deg))
    along = plan.length_mm / 2 + BEYOND_END_MM
    height = along / float(angle)
    radius = plan.lamp_radius_mm
    if lamp == "A":
        return (LampLight((0.0, along, height), radius),)
    if lamp == "B":
        return (LampLight((0.0, -along, height), radius),)
    if lamp == "side":
        return (LampLight((height, 0.0, height), radius),)
    if lamp.startswith(FREE):
        x, y, z = (float(word) for word in lamp.removeprefix(FREE).split())
        return (LampLight((x, y, z), radius),)
    return (
        LampLight((0.0, along, height), radius, 0.5),
        LampLight((0.0, -along, height), radius, 0.5),
    )
