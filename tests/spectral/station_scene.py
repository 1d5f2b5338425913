"""Whole shooting stations by a seed: tables, leaves, photographs and the truth about them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.spectral.bands import NM, Doubles
from tests.spectral.camera import Camera
from tests.spectral.darkroom import BODIES, Body, Exposure, balance_for, meter
from tests.spectral.lamps_and_sensors import Sight, lamp, sensor, tinted
from tests.spectral.printed_rails import GREYS, Holder, Rails
from tests.spectral.printed_spectra import chart_spectra, shaped_grey
from tests.spectral.table_scene import LampPlace, Leaf, Table, draw_grain
from tests.spectral.wood_spectra import draw_wood

SIZES_PX = {24: (4000, 6000), 12: (3024, 4032), 6: (2000, 3000)}
FOCAL_35MM = {24: 35.0, 12: 26.0, 6: 35.0}
HEIGHT_MM = {24: 3100.0, 12: 2750.0, 6: 3100.0}
TINT_TO_RATIO = 2.2
"""Tint from 400 to 700 nm for red over blue: a sensor's red and blue lie nearer together."""


@dataclass(frozen=True, slots=True, eq=False)
class Station:
    """One table with its lamps, rails, chart and camera."""

    rails: Rails
    holder: Holder
    edition: str
    lamp_name: str
    lamps: tuple[LampPlace, ...]
    powers: Doubles
    """Spectrum of each lamp."""
    spectra: dict[str, Doubles]
    board: Doubles
    body: Body
    megapixels: int
    height_mm: float
    focal_35mm: float
    k1: float
    k2: float

    def table(self, leaf: Leaf | None = None, *, chart: bool = True) -> Table:
        """Return the table with a leaf, and with the chart or without."""
        return Table(
            self.rails,
            self.lamps,
            self.board,
            self.spectra,
            holder=self.holder if chart else None,
            leaf=leaf,
        )

    def photo(
        self,
        table: Table,
        rng: np.random.Generator,
        *,
        height_mm: float | None = None,
        centre_mm: tuple[float, float] | None = None,
        level: float | None = None,
    ) -> Exposure:
        """Return one photograph, the camera's pose a little different each time."""
        middle = (self.rails.gap_top_mm / 2, self.rails.length_mm("left") / 2)
        x, y = centre_mm or middle
        place = (x + rng.uniform(-15, 15), y + rng.uniform(-15, 15), height_mm or self.height_mm)
        camera = Camera(
            place,
            (rng.uniform(-0.5, 0.5), rng.uniform(-0.5, 0.5), rng.uniform(-1, 1)),
            SIZES_PX[self.megapixels],
            self.focal_35mm,
            self.k1,
            self.k2,
            off_centre_px=(rng.uniform(-12, 12), rng.uniform(-12, 12)),
        )
        sight = Sight(self.powers, sensor(self.body.sensor))
        return Exposure(
            table,
            camera,
            self.body,
            sight,
            level or meter(table, camera, sight, white=rng.uniform(0.80, 0.88)),
            balance_for(sight, error=(rng.uniform(-0.03, 0.03), rng.uniform(-0.03, 0.03))),
            int(rng.integers(2**31)),
        )

    def relamped(self, *, lighter: float = 0.0, redder: float = 0.0) -> Station:
        """Return the station with other lamps.

        Parameters
        ----------
        lighter : float
            More light, a fraction.
        redder : float
            More red over blue as the camera sees it, a fraction.
        """
        powers = np.stack([tinted(one, TINT_TO_RATIO * redder) for one in self.powers])
        lamps = tuple(replace(one, strength=one.strength * (1 + lighter)) for one in self.lamps)
        return replace(self, powers=powers, lamps=lamps)


def draw_station(
    rng: np.random.Generator,
    *,
    lamp_name: str,
    body: Body = BODIES[0],
    megapixels: int = 24,
    edition: str = "after-2014",
    markers: int = 29,
) -> Station:
    """Return a station; what the dealer cannot know of it is drawn by lot."""
    printed = 1 + rng.uniform(-0.005, 0.005)
    gap = rng.uniform(480, 560)
    rails = Rails(
        markers,
        100.0,
        printed,
        printed + rng.uniform(-0.0005, 0.0005),
        gap,
        gap + rng.uniform(-3, 3),
        rng.uniform(-3, 3),
    )
    holder = Holder(
        38.0, (gap + 300 + rng.uniform(-10, 10), rng.uniform(1200, 1600)), rng.uniform(-4, 4)
    )
    middle = 50.0 * (markers - 1)
    side = 2000 + rng.uniform(-200, 200)
    lamps = (
        LampPlace((-side, middle + rng.uniform(-700, 700), rng.uniform(2200, 2600)), 1.0),
        LampPlace((gap + side, middle + rng.uniform(-700, 700), rng.uniform(2200, 2600)), 0.9),
    )
    tint = 0.02 * (1 if rng.random() < 0.5 else -1)
    return Station(
        rails,
        holder,
        edition,
        lamp_name,
        lamps,
        np.stack([lamp(lamp_name), tinted(lamp(lamp_name), tint)]),
        _inks(edition, rng),
        shaped_grey(rng.uniform(0.16, 0.36), a=rng.uniform(-0.6, 0.6), b=rng.uniform(-1.5, 1.5)),
        body,
        megapixels,
        HEIGHT_MM[megapixels],
        FOCAL_35MM[megapixels] * (1 + rng.uniform(-0.01, 0.01)),
        rng.uniform(-0.06, 0.05),
        rng.uniform(-0.02, 0.02),
    )


def _inks(edition: str, rng: np.random.Generator) -> dict[str, Doubles]:
    warm = rng.uniform(1, 3)
    inks = {
        "paper": shaped_grey(rng.uniform(0.84, 0.89), a=rng.uniform(-0.3, 0.6), b=warm),
        "black": np.full(len(NM), rng.uniform(0.035, 0.05)),
        "frame": np.full(len(NM), 0.035),
    }
    for step in GREYS:
        inks[f"grey {step:.2f}"] = shaped_grey(
            step, a=rng.uniform(-0.3, 0.5), b=warm * (0.4 + 0.6 * step)
        )
    for index, spectrum in enumerate(chart_spectra(edition, rng)):
        inks[f"chart {index}"] = spectrum
    return inks


def draw_leaf(
    station: Station,
    rng: np.random.Generator,
    *,
    wood: str,
    length_mm: float = 2500.0,
    width_mm: float = 300.0,
    height_mm: float = 0.6,
    mixing: float = 0.6,
    specks: tuple[tuple[float, float], ...] = (),
) -> Leaf:
    """Return a leaf of a wood between the rails of a station, turned a little."""
    gap = station.rails.gap_top_mm
    turn = rng.uniform(-0.4, 0.4)
    slack = station.rails.length_mm("left") - length_mm
    corner = (
        (gap - width_mm) / 2 + length_mm / 2 * np.sin(np.radians(turn)) + rng.uniform(-8, 8),
        max(slack / 2 + rng.uniform(-20, 20), 15.0),
    )
    one, other = draw_wood(wood, rng), draw_wood(wood, rng)
    grain = draw_grain(length_mm, width_mm, rng)
    return Leaf(length_mm, width_mm, corner, turn, height_mm, one, other, mixing, grain, specks)
