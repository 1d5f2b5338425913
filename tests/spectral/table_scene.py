"""What lies on the table under which light: rails, chart, board, leaf, lamps. No pixels."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from tests.spectral.bands import Doubles, to_xyz, xyz_to_lab
from tests.spectral.printed_rails import Holder, Patch, Rails
from tests.spectral.wood_spectra import Wood

FIGURE_LEVELS = np.linspace(-1, 1, 33)
"""Places of the figure for which spectra are worked out; between, light is mixed."""
SLICES = 20
SPECK_MM = 5.0
"""Diameter of the dark specks that mark known places on a leaf."""


@dataclass(frozen=True, slots=True, eq=False)
class Leaf:
    """A leaf of veneer: where it lies, of what wood, with what figure.

    Leaf coordinates: u across and v along from its top left corner, mm.
    """

    length_mm: float
    width_mm: float
    corner_mm: tuple[float, float]
    turn_deg: float
    height_mm: float
    """Of its upper face over the rails' printed face."""
    wood: Wood
    other_wood: Wood
    """Of which more and more is mixed in along the leaf."""
    mixing: float
    """Share of the other wood at the lower end."""
    grain: Doubles
    """Figure, -1 to 1, on a grid over the leaf, shape (rows along, columns across)."""
    specks_mm: tuple[tuple[float, float], ...] = ()
    """Places (u, v) of dark specks."""

    @property
    def corners(self) -> Doubles:
        """Return the corners on the table, clockwise in the picture from the top left."""
        return self.on_table(
            np.array(
                [
                    [0.0, 0.0],
                    [self.width_mm, 0.0],
                    [self.width_mm, self.length_mm],
                    [0.0, self.length_mm],
                ]
            )
        )

    def on_table(self, uv: Doubles) -> Doubles:
        """Return table mm of leaf coordinates."""
        return np.asarray(uv @ self._axes() + np.array(self.corner_mm))

    def from_table(self, points: Doubles) -> Doubles:
        """Return leaf coordinates of table mm."""
        return np.asarray((points - np.array(self.corner_mm)) @ self._axes().T)

    def figure_at(self, u: Doubles, v: Doubles) -> Doubles:
        """Return the figure, -1 to 1, at places of the leaf."""
        rows, columns = self.grain.shape
        x = (np.clip(u / self.width_mm, 0, 1) * (columns - 1)).astype(np.float32)
        y = (np.clip(v / self.length_mm, 0, 1) * (rows - 1)).astype(np.float32)
        found = cv2.remap(
            self.grain.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(found, np.float64)

    def mix_at(self, v: Doubles) -> Doubles:
        """Return the share of the other wood."""
        return np.asarray(self.mixing * np.clip(v / self.length_mm, 0, 1))

    def spectra(self) -> Doubles:
        """Return the spectra of both woods at `FIGURE_LEVELS`, shape (2, 33, 61)."""
        return np.stack(
            [self.wood.reflectance(FIGURE_LEVELS), self.other_wood.reflectance(FIGURE_LEVELS)]
        )

    def slice_lab(self) -> Doubles:
        """Return L*, a*, b* (D50, 2 degrees) of the mean light of twenty equal slices."""
        return xyz_to_lab(self._slice_xyz())

    def mean_lab(self) -> Doubles:
        """Return L*, a*, b* (D50, 2 degrees) of the mean light of the whole leaf."""
        return xyz_to_lab(self._slice_xyz().mean(axis=0))

    def _slice_xyz(self) -> Doubles:
        per_slice, columns = max(20, round(self.length_mm / SLICES)), max(40, round(self.width_mm))
        v = (np.arange(SLICES * per_slice) + 0.5) / (SLICES * per_slice) * self.length_mm
        u = (np.arange(columns) + 0.5) / columns * self.width_mm
        uu, vv = np.meshgrid(u, v)
        figure, mix = self.figure_at(uu, vv), self.mix_at(vv)[..., None]
        tables = to_xyz(self.spectra())
        xyz = look_up(tables[0], figure) * (1 - mix) + look_up(tables[1], figure) * mix
        return np.asarray(xyz.reshape(SLICES, -1, 3).mean(axis=1))

    def _axes(self) -> Doubles:
        c, s = np.cos(np.radians(self.turn_deg)), np.sin(np.radians(self.turn_deg))
        return np.array([[c, s], [-s, c]])


@dataclass(frozen=True, slots=True)
class LampPlace:
    """A lamp of some size over the table; its light falls with the square of its distance."""

    place_mm: tuple[float, float, float]
    strength: float

    def light(self, points_mm: Doubles, height_mm: float) -> Doubles:
        """Return the light on a level face at points, relative."""
        x, y, z = self.place_mm
        square = (points_mm[..., 0] - x) ** 2 + (points_mm[..., 1] - y) ** 2 + (z - height_mm) ** 2
        return np.asarray(self.strength * (z - height_mm) * 1e7 / square**1.5)


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Everything on the table and above it but the camera."""

    rails: Rails
    lamps: tuple[LampPlace, ...]
    board: Doubles
    """Spectrum of the matt board."""
    spectra: dict[str, Doubles]
    """Spectrum of every ink; see `Patch`."""
    holder: Holder | None = None
    leaf: Leaf | None = None

    def patches(self) -> list[Patch]:
        """Return everything printed, undermost first."""
        held = self.holder.patches() if self.holder else []
        return [*self.rails.patches(), *held]


def look_up(table: Doubles, figure: Doubles) -> Doubles:
    """Return colours at places of the figure, straight between `FIGURE_LEVELS`."""
    at = (np.clip(figure, -1, 1) + 1) / 2 * (len(table) - 1)
    low = np.minimum(at.astype(np.intp), len(table) - 2)
    part = (at - low)[..., None].astype(table.dtype)
    return np.asarray(table[low] * (1 - part) + table[low + 1] * part)


def draw_grain(length_mm: float, width_mm: float, rng: np.random.Generator) -> Doubles:
    """Return a figure, -1 to 1: lines along the leaf that wander, cathedrals, a fine grain."""
    columns, rows = max(60, int(width_mm * 1.5)), max(60, int(length_mm / 4))
    u = np.linspace(0, width_mm, columns)[None]
    v = np.linspace(0, length_mm, rows)[:, None]
    wander = sum(
        rng.uniform(4, 14) * np.sin(v / rng.uniform(250, 900) + rng.uniform(0, 6.3))
        for _ in range(3)
    )
    bow = ((u / width_mm - rng.uniform(0.3, 0.7)) ** 2) * rng.uniform(20, 80) * np.sin(v / 1200)
    at = u + wander + bow
    pitch = rng.uniform(6, 14)
    lines = 0.45 * np.sin(2 * np.pi * at / pitch + 1.5 * np.sin(at / 31))
    slow = cv2.GaussianBlur(rng.normal(0, 1, (rows, columns)), (0, 0), sigmaX=25, sigmaY=30)
    fine = cv2.GaussianBlur(rng.normal(0, 1, (rows, columns)), (0, 0), sigmaX=0.6, sigmaY=6)
    figure = lines + 0.25 * slow / slow.std() + 0.15 * fine / fine.std()
    return np.asarray(np.clip(figure, -1, 1))
