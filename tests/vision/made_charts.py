"""A table photographed in sight of the test: board, chart, rails' greys, and a camera of its own.

Colours are known as CIELAB; the camera mixes them by a matrix of its own, bends them by its own
tone curve and stands under an uneven lamp. One pixel is one millimetre.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vision.chart_references import chart_reference
from vision.colour_space import lab_to_linear
from vision.photo import Photo

SIZE = (1000, 760)
"""Width and height, px."""
CHART_AT = (500.0, 200.0)
PITCH_MM = 44.0
STEPS = (0.80, 0.55, 0.38, 0.26, 0.17, 0.10, 0.05)
GAP_MM = 800.0
CAMERA = ((0.78, 0.17, 0.05), (0.10, 0.82, 0.08), (0.02, 0.20, 0.78))
"""A camera's linear R, G, B of linear sRGB; white stays white."""


@dataclass(frozen=True)
class MadePatch:
    name: str
    rail: Literal["left", "right"]
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    reflectance: float | None


class MadePlan:
    """Two copies of the grey scale on each rail, and whites."""

    def grey_patches(self) -> list[MadePatch]:
        return [
            MadePatch(f"{rail} {copy} grey {step:.2f}", rail, 0.0, y + 24.0 * index, 20, 20, step)
            for rail in ("left", "right")
            for copy, y in ((1, 60.0), (2, 420.0))
            for index, step in enumerate(STEPS)
        ]

    def white_patches(self) -> list[MadePatch]:
        return [
            MadePatch(f"{rail} white {y:g}", rail, 0.0, y, 20, 24, None)
            for rail in ("left", "right")
            for y in (260.0, 350.0, 640.0)
        ]


class MadeTable:
    """Table millimetres are pixels, from (100, 40)."""

    def to_px(self, points_mm: NDArray[np.float64], height_mm: float = 0.0) -> NDArray[np.float64]:
        assert height_mm == 0
        return np.asarray(points_mm, dtype=np.float64) + [100.0, 40.0]

    def rail_to_mm(
        self, rail: Literal["left", "right"], points_mm: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        return np.asarray(points_mm + ([0.0, 0.0] if rail == "left" else [GAP_MM, 0.0]))

    def holder_to_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(points_mm, dtype=np.float64) + CHART_AT


def patch_centres() -> list[tuple[float, float]]:
    return [((c - 2.5) * PITCH_MM, (r - 1.5) * PITCH_MM) for r in range(4) for c in range(6)]


def s_curve(strength: float) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Return an S-shaped contrast on encoded values 0 to 1: a logistic through both ends."""

    def logistic(v: NDArray[np.float64] | float) -> NDArray[np.float64]:
        return np.asarray(1 / (1 + np.exp(-strength * (np.asarray(v) - 0.45))))

    return lambda v: (logistic(v) - logistic(0.0)) / (logistic(1.0) - logistic(0.0))


def as_it_is(v: NDArray[np.float64]) -> NDArray[np.float64]:
    return v


def srgb_code(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return encoded values 0 to 1 (IEC 61966-2-1)."""
    lit = np.clip(light, 0, 1)
    return np.where(lit <= 0.0031308, 12.92 * lit, 1.055 * lit ** (1 / 2.4) - 0.055)


@dataclass(frozen=True)
class MadeTableTop:
    """What lies on the table and what photographs it."""

    edition: str | None = "after-2014"
    board: float = 0.20
    curve: Callable[[NDArray[np.float64]], NDArray[np.float64]] = as_it_is
    camera: tuple[tuple[float, float, float], ...] = CAMERA
    cast: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """The lamp's own colour, on the camera's channels."""
    exposure: float = 0.8
    paper: tuple[float, float, float] = (0.88, 0.87, 0.82)
    """Bare paper, linear sRGB: warm."""
    wood: tuple[tuple[float, float, float], ...] = ((48, 9, 16), (66, 9, 21), (82, 6, 19))
    """CIELAB of pieces of wood in a row, 100 mm wide, below the chart."""
    turned: bool = False
    """The chart upside down in its holder."""
    shadow: float = 0.0
    """Depth of a shadow over the whole chart."""
    half_shadow: float = 0.0
    """Depth of a soft shadow that grows across the chart."""
    gloss: tuple[int, ...] = ()
    """Patches with a reflection over half of them."""
    seed: int = 0
    noise: float = 0.01

    def photo(self) -> Photo:
        rgb = self.paint()
        height, width = rgb.shape[:2]
        return Photo(rgb, "made.jpg", "", width, height, 1.0, None, None, (), b"")

    def paint(self) -> NDArray[np.uint8]:
        width, height = SIZE
        true = np.full((height, width, 3), self.board)
        for patch in [*MadePlan().grey_patches(), *MadePlan().white_patches()]:
            place = MadeTable().to_px(
                MadeTable().rail_to_mm(patch.rail, np.array([[patch.x_mm, patch.y_mm]]))
            )[0]
            grey = np.array(self.paper if patch.reflectance is None else (patch.reflectance,) * 3)
            _fill(true, place, patch.width_mm, patch.height_mm, grey)
        for index, lab in enumerate(self.wood):
            _fill(true, wood_centre(index), 100, 120, lab_to_linear(lab))
        light = self.lamp()[..., None] * np.array(self.cast) * self.exposure
        if self.edition is not None:
            light = self._lay_chart(true, light)
        seen = true @ np.array(self.camera).T * light
        rng = np.random.default_rng(self.seed)
        seen = seen * (1 + self.noise * rng.standard_normal(seen.shape))
        return np.rint(255 * self.curve(srgb_code(seen))).astype(np.uint8)

    def _lay_chart(
        self, true: NDArray[np.float64], light: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        colours = lab_to_linear(chart_reference(str(self.edition)).lab)
        if self.turned:
            colours = colours[::-1]
        _fill(true, np.array(CHART_AT), 6.4 * PITCH_MM, 4.4 * PITCH_MM, np.full(3, 0.04))
        for index, (x, y) in enumerate(patch_centres()):
            at = np.array([x, y]) + CHART_AT
            _fill(true, at, 0.82 * PITCH_MM, 0.82 * PITCH_MM, colours[index])
            if index in self.gloss:
                _fill(true, at + [8.0, 0.0], 16, 30, np.full(3, 3.0))
        y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]]
        u = (x - CHART_AT[0]) / (6.4 * PITCH_MM)
        v = (y - CHART_AT[1]) / (4.4 * PITCH_MM)
        on_chart = (np.abs(u) < 0.5) & (np.abs(v) < 0.5)
        shade = 1 - on_chart * (self.shadow + self.half_shadow * (u + 0.5))
        return np.asarray(light * shade[..., None])

    def lamp(self) -> NDArray[np.float64]:
        y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]].astype(np.float64)
        square = (x - 420) ** 2 + (y + 300) ** 2 + 900.0**2
        light = 900.0**3 / square**1.5
        return np.asarray(light / light.max())


def wood_centre(index: int) -> NDArray[np.float64]:
    return np.array([350.0 + 150 * index, 520.0])


def _fill(
    picture: NDArray[np.float64],
    at: NDArray[np.float64],
    width: float,
    height: float,
    colour: NDArray[np.float64],
) -> None:
    x, y = at
    picture[
        round(y - height / 2) : round(y + height / 2), round(x - width / 2) : round(x + width / 2)
    ] = colour
