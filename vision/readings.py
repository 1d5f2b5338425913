"""What is known of a leaf after its photograph has been read. No pixels, no image library."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from vision.flags import AlternationFlag, PhotoFlag


class ScaleClass(StrEnum):
    """Where millimetres come from."""

    MEASURED = "measured"
    """Rails whose length was taken by tape, with the lens fitted in the same photograph."""
    RAILS = "rails"
    """Rails as printed, their length taken on trust."""
    TYPED = "typed"
    NONE = "none"


class ColourClass(StrEnum):
    """Where colour comes from, best first. Relative colour is never compared across bundles."""

    MEASURED = "measured"
    """A chart of known colours in the photograph itself."""
    STATION = "station"
    """The station's profile, with which the greys of this photograph agree."""
    GREY_STEPS = "grey-steps"
    """Known greys set tone and level; hue is the camera's own."""
    RELATIVE = "relative"
    NONE = "none"


class LightReference(StrEnum):
    """What holds the exposures of a bundle together, best first."""

    BLANK = "blank"
    """A photograph of the bare board under the same lamp, tied to this one by the visible board."""
    BOARD = "board"
    """The bare board around the leaf in the same photograph."""


@dataclass(frozen=True, slots=True)
class LeafSize:
    """Size of a leaf; millimetres are None where no scale is known."""

    length_mm: float | None
    width_mm: float | None
    px_per_mm: float | None
    scale_class: ScaleClass
    length_px: float
    width_px: float
    length_sd_mm: float | None = None
    """One standard deviation of the length; None where nothing tells."""
    width_sd_mm: float | None = None
    net_area_mm2: float | None = None
    """Wood in view, splits and holes taken off; None without a scale."""
    split_area_mm2: float | None = None
    """Open splits that run in from an end or an edge."""
    hole_area_mm2: float | None = None
    """Holes with wood all round."""


@dataclass(frozen=True, slots=True)
class LeafColour:
    """The colour of a leaf in CIELAB (white point and observer as in ``illuminant``)."""

    lightness: float
    """L* of the mean linear light, 0 (black) to 100 (white)."""
    a: float
    b: float
    chroma: float
    hue_deg: float
    """0 to 360."""
    lightness_p5: float
    """L* below which 5 % of the leaf lies, on a 1 mm grid."""
    lightness_p95: float
    illuminant: str
    colour_class: ColourClass
    delta_e00_sd: float | None = None
    """How far, CIEDE2000, the colour may be off (one standard deviation); None if nothing tells."""


@dataclass(frozen=True, slots=True)
class LeafFigure:
    """Grain and figure. None where the photograph is too coarse or has no scale."""

    grain_angle_deg: float | None
    """Mean direction of the grain against the leaf's long axis, -90 to 90, positive clockwise
    in the picture as seen (toward the right going up)."""
    grain_straightness: float | None
    """0 (no common direction) to 1 (every line parallel): resultant length of doubled angles."""
    line_pitch_mm: float | None
    """Mean distance between grain lines, measured across the grain."""
    cross_figure_period_mm: float | None
    """Period of fiddleback or other stripes across the grain; None where there are none."""
    cross_figure_strength: float | None
    """RMS L* of the cross stripes in the 5-40 mm band."""
    flake_density: float | None
    """Share of the leaf, 0 to 1, covered by light flecks across the grain."""


@dataclass(frozen=True, slots=True)
class LampAndEye:
    """Where lamp and eye stood, in leaf lengths from the point under the eye.

    ``lamp_along`` runs down the rows of the leaf as it lay: negative past its upper end.
    """

    lamp_along: float
    lamp_across: float
    lamp_height: float
    eye_height: float


@dataclass(frozen=True, slots=True)
class LightProfile:
    """How light a leaf is along its length in one photograph, as it lay, top of picture first.

    All values are linear light (sRGB primaries, D65) as a fraction of what a white sheet would
    send from the same place, so that lamp fall-off, exposure and cast are out of them.
    """

    slices: tuple[tuple[float, float, float], ...]
    """Mean linear R, G, B of N equal slices of the leaf's length (N = `SLICES`)."""
    foot: float
    """Where the point under the camera lies, as a fraction of the leaf's length from the top."""
    edge_left: tuple[float, ...]
    """L* along the left long edge (a 40 mm band), one value every `edge_pitch_mm`."""
    edge_right: tuple[float, ...]
    edge_pitch_mm: float | None
    """None where no scale is known; the edge bands are then empty."""
    reference: LightReference
    level_sd: float
    """One standard deviation of the exposure level against the bundle, as a fraction."""
    scale_sd: float = 0.0
    """One standard deviation of the bundle's lightness scale itself, as a fraction of a step:
    none to speak of with a grey strip, large where only the camera's exposure sets it."""
    station: LampAndEye | None = None
    """As the light on the board shows it; None in readings made before it was asked."""
    pattern: tuple[tuple[float, ...], ...] = ()
    """What varies within each slice (`vision.light_pattern`); empty in readings made before it was
    asked, and of a slice that is mostly board."""


SLICES = 20
"""Slices of a light profile: four to each fifth of the leaf."""


@dataclass(frozen=True, slots=True)
class LeafReading:
    """Everything read from one leaf in one photograph."""

    leaf: str
    size: LeafSize
    colour: LeafColour
    figure: LeafFigure
    light: LightProfile
    outline: tuple[tuple[float, float], ...]
    """Outline of the leaf in full-size photo pixels (x, y), clockwise from the top left; of a leaf
    joined from parts, in pixels of the joined picture."""
    outline_mm: tuple[tuple[float, float], ...] = ()
    """The same on the table of the station, mm across and along; empty without rails."""


@dataclass(frozen=True, slots=True)
class MarkerMiss:
    """How far one rail marker lies from where the fit puts it."""

    number: int
    x_px: float
    y_px: float
    """Its centre, full-size photo pixels."""
    dx_mm: float
    dy_mm: float


@dataclass(frozen=True, slots=True)
class PatchMiss:
    """One patch of the chart: what it is, and what the fit makes of it."""

    name: str
    lab_known: tuple[float, float, float]
    lab_read: tuple[float, float, float]
    """D50, 2 degrees, both."""
    delta_e00: float
    held_out: float | None
    """The same with this patch left out of the fit; None for a patch that was dropped."""
    dropped: str = ""
    """Why it was not used (``clipped``, ``uneven``), or empty."""


@dataclass(frozen=True, slots=True)
class PhotoQuality:
    """What a photograph says of its own trustworthiness; the quality sheet is drawn from it."""

    markers: tuple[MarkerMiss, ...] = ()
    rail_rms_mm: float | None = None
    patches: tuple[PatchMiss, ...] = ()
    light_map: tuple[tuple[float, ...], ...] = ()
    """Light on the board, rows of a coarse grid over the photograph, 1 where it is brightest."""
    colour_words: str = ""
    """Why the colour has the class it has, in a sentence."""
    size_words: str = ""
    """Why the size has the class it has, in a sentence."""


@dataclass(frozen=True, slots=True)
class PhotoReading:
    """Everything read from one photograph: one leaf, or two for an opened pair (left, right)."""

    file: str
    sha256: str
    """Of the file's bytes; of a leaf joined from parts, of the parts' bytes in order."""
    width_px: int
    """Of the photograph, upright; of a leaf joined from parts, of the joined picture, to whose
    pixels its outlines refer."""
    height_px: int
    taken_at: str | None
    """EXIF date and time, ISO 8601 without zone, or None."""
    leaves: tuple[LeafReading, ...]
    flags: tuple[PhotoFlag, ...]
    pipeline_version: str
    quality: PhotoQuality | None = None
    part_sha256: tuple[str, ...] = ()
    """Of each part's file, in order; empty for a single photograph."""
    picture_sha256: str = ""
    """Of the joined picture as kept (a JPEG); empty for a single photograph."""


class Evidence(StrEnum):
    """On what an alternation rests, best first."""

    OPENED_PAIR = "opened-pair"
    """The two leaves themselves, opened on the board under this lamp."""
    SAME_FACE = "same-face"
    """The very faces that the match shows were photographed in this light, leaf by leaf."""
    LAMP_SWAP = "lamp-swap"
    """The turned leaf seen under the lamp at the other end: slope measured, other face unseen."""
    END_TURNED = "end-turned"
    """The leaf spun end for end under the same lamp: slope measured, other face unseen."""
    MODEL = "model"
    """A light that was not photographed, worked out from the leaf's fibres as fitted."""
    NONE = "none"
    """No photograph shows what the turned leaf will look like in this light."""


@dataclass(frozen=True, slots=True)
class SegmentStep:
    """One fifth of a pair's length."""

    start: float
    end: float
    """Fractions of the length from the top."""
    lightness_step: float
    sd: float
    delta_e00: float


@dataclass(frozen=True, slots=True)
class PairAlternation:
    """Light and dark between two neighbours in one match under one light.

    Steps are L* of the right leaf minus L* of the left leaf as they lie in the match; None
    where nothing was measured.
    """

    left: str
    right: str
    match: str
    light: str
    """``lamp A`` or ``lamp B``: the lamps as photographed; else the name of a room's light."""
    lightness_step: float | None
    """Mean over the centre half of the length."""
    lightness_low: float | None
    lightness_high: float | None
    """Ends of the 95 % interval of `lightness_step`."""
    delta_e00: float | None
    """CIEDE2000 of the worst fifth of the length."""
    delta_e00_low: float | None
    delta_e00_high: float | None
    tilt_part: float | None
    """What changes sign when the lamp moves to the other end."""
    face_part: float | None
    """What stays: other face, other colour."""
    local_rms: float | None
    """RMS L* step along the joint in the 3-30 mm band: stripes that meet reversed."""
    likely: AlternationFlag
    """The flag of the best estimate alone, the interval left aside."""
    flag: str
    """``none``, ``slight``, ``strong``, ``not-measured``, or a range such as ``none to slight``."""
    evidence: Evidence
    segments: tuple[SegmentStep, ...] = ()

    @property
    def is_measured(self) -> bool:
        """Tell whether any photograph bears on this pair in this light."""
        return self.flag != AlternationFlag.NOT_MEASURED
