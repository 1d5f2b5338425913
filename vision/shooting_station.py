"""Where leaves are photographed: rails by tape, lens, lamps, tone and colour of the camera.

A station is set up once from a photograph of its rails and a colour chart, kept with a date, and
believed until it expires or a photograph's own greys disagree with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from vision.chart_references import WoodChip

STATION_DAYS = 30
"""Days for which a station is believed: lamps age and are moved."""


@dataclass(frozen=True, slots=True)
class RailsByTape:
    """The two printed rails as they lie on the table, measured with a steel tape.

    A printer's scale is off by up to half a percent, 12 mm over 2.5 m, so a length that nobody
    measured is never called measured.
    """

    markers: int
    """On each rail."""
    pitch_mm: float
    """Marker to marker, as designed."""
    left_length_mm: float
    """Centre of the first marker to centre of the last, by tape."""
    right_length_mm: float
    gap_top_mm: float | None = None
    """Centre line to centre line of the rails at the first markers, by tape. Without the gaps
    width rests on the squareness of the printed markers."""
    gap_bottom_mm: float | None = None
    """The same at the last markers."""


@dataclass(frozen=True, slots=True)
class ToneCurve:
    """What the camera made of light: monotone, for each channel, straight between knots in log-log.

    ``levels[c]`` are encoded levels, 0 to 255, rising; ``light[c]`` the linear light, rising, that
    they stand for.
    """

    levels: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]
    light: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class ColourMap:
    """From the camera's linear R, G, B (flat-fielded, tone taken out) to linear sRGB (D65).

    ``kind`` is ``3x3`` (terms R, G, B) or ``root-polynomial`` (terms R, G, B, sqrt RG, sqrt GB,
    sqrt RB: degree 2 of Finlayson, Mackiewicz and Hurlbert 2015, which does not change with
    exposure). ``rows`` holds one row of weights for each of the three outputs.
    """

    kind: str
    rows: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]
    fit_mean: float
    """Mean CIEDE2000 over the patches of the fit."""
    held_out_mean: float
    """Mean and largest CIEDE2000 of patches left out of the fit in turn."""
    held_out_max: float


@dataclass(frozen=True, slots=True)
class StationGrey:
    """How one grey of the rails read when the station was set up."""

    name: str
    lab: tuple[float, float, float]
    """D50, 2 degrees."""
    light: tuple[float, float, float] | None = None
    """Linear R, G, B as it fell on the camera, the tone curve taken out, of full scale. Lamps and
    exposure are both in it: the agreement check rests on it."""
    camera: tuple[float, float, float] | None = None
    """The same held against the board, white at 1, in the camera's own colours."""


@dataclass(frozen=True, slots=True)
class ShootingStation:
    """Everything that stays the same from photograph to photograph at one table."""

    name: str
    made_on: date
    camera: str
    """Camera and lens, as the file names them, or as typed."""
    lamps: str
    """In the dealer's words."""
    rails: RailsByTape | None = None
    camera_height_mm: float | None = None
    """Lens to table, by tape; with it the thickness of a stack can be allowed for."""
    chart_edition: str | None = None
    """Which list of known colours holds for the chart; None: no chart."""
    chart_patch_mm: float = 40.0
    """Patch to patch of the chart in its holder, centre to centre."""
    chips: tuple[WoodChip, ...] = ()
    """Wood of known colour that lies on the table."""
    grey_reflectances: tuple[float, ...] = ()
    """Measured reflectances of the rails' grey steps; empty: as designed."""
    tone: ToneCurve | None = None
    colour: ColourMap | None = None
    greys: tuple[StationGrey, ...] = ()
    days: int = STATION_DAYS

    @property
    def expires_on(self) -> date:
        """The first day on which the station is no longer believed."""
        return self.made_on + timedelta(days=self.days)
