"""The plan of a flitch: everything that decides what is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from sample_images.species import SPECIES

CUTS = ("plain", "quarter", "rift")
FIGURES = ("none", "fiddleback", "ribbon", "flake", "crotch")
LAYINGS = ("as-lies", "end-turned", "face-over", "end-over", "opened-pair", "blank")
LAMPS = ("A", "B", "side", "both", "")
BOARDS: dict[str, tuple[float, float, float]] = {
    "light": (0.62, 0.62, 0.61),
    "mid": (0.28, 0.28, 0.28),
    "dark": (0.065, 0.066, 0.068),
    "black": (0.035, 0.035, 0.036),
    "brown": (0.26, 0.185, 0.115),
    "green": (0.11, 0.16, 0.125),
    "cream": (0.60, 0.50, 0.36),
}
"""Linear reflectance of the plain boards, R, G, B."""
STRIP_REFLECTANCES = (0.80, 0.55, 0.38, 0.26, 0.17, 0.10, 0.05)
"""The grey strip's steps, from its upper end down."""


@dataclass(frozen=True, slots=True)
class FlitchPlan:
    """Everything that defines a flitch and the photographs of it. One plan, one set of pixels."""

    seed: int
    species: str = "walnut"
    """walnut | oak | maple | cherry | mahogany"""
    cut: str = "plain"
    """plain | quarter | rift"""
    leaves: int = 8
    figure: str = "none"
    """none | fiddleback | ribbon | flake | crotch. Quartered oak shows flake in any case; "flake"
    asks for more of it."""
    length_mm: float = 2000.0
    width_mm: float = 240.0
    board: str = "mid"
    """light | mid | dark | black | brown | green | cream"""
    strip: bool = True
    """A grey strip lies left of the leaf; its steps are `STRIP_REFLECTANCES`, upper end first."""
    rails: bool = False
    """Marker rails left and right: ArUco 4X4_250, 40 mm, ids from 0 (left) and 100 (right)."""
    photo_px: tuple[int, int] = (4000, 6000)
    """Width, height."""
    shots: tuple[str, ...] = ("as-lies/A", "as-lies/B")
    """``laid/lamp`` words; opened-pair is drawn for every neighbouring pair, blank once."""
    label: str = ""
    """Opens the file names; empty means "flitch"."""

    # the wood
    thickness_mm: float = 0.6
    mean_tilt_deg: float | None = None
    """Fibre tilt of the flitch; None draws it from N(0, 2.5)."""
    tilt_drift_deg: float = 0.5
    """Standard deviation of a leaf's mean tilt about the flitch's."""
    tilt_along_deg: float = 0.8
    """Standard deviation of slow swings of tilt inside a leaf."""
    figure_strength: float = 1.0
    """Scales the tilt swings of the figure."""
    figure_period_mm: float | None = None
    """Pitch of fiddleback ripples or ribbon stripes; None draws it."""
    lobe_ratio: float | None = None
    lobe_width_deg: float | None = None
    lobe_shape: str = "gauss"
    """gauss | lorentz | flat-top"""
    sheen: float = 0.0
    film_index: float = 1.5
    face_albedo_sd: float = 0.015
    face_lobe_sd: float = 0.20
    sapwood: bool | None = None
    """None lets the seed decide (about one plain sliced flitch in three)."""
    waney: bool | None = None
    """Bark edge along the left; None lets the seed decide (some flitches with sapwood)."""
    end_damage: float = 0.4
    """Chips and closed splits per leaf end, on average."""

    # what is wrong with the leaves; at 0 nothing of it is drawn
    torn_mm: float = 0.0
    """How deep the ends are torn."""
    broken_corners: float = 0.0
    """Corners broken off a leaf, on average."""
    splits: float = 0.0
    """Open splits, 1.5 mm wide and wider, per leaf end, on average."""
    slivers: float = 0.0
    """Slivers along a long edge, split off from the end, per leaf end, on average."""
    holes: float = 0.0
    """Knots with a hole, 4 mm wide and wider, in each leaf of the flitch, on average."""
    edge_knots: float = 0.0
    """Knots that a long edge cuts, on average."""
    bark_mm: float = 0.0
    """Width of the bark that is left along the left edge."""
    crook_mm: float = 0.0
    """How far the leaf is bent sideways over its length."""
    taper_mm: float = 0.0
    """How much narrower the leaf is at its upper end."""
    lift_mm: float = 2.2
    """How far the leaf's shadow reaches on the side away from the lamps."""

    curl_deg: float = 0.0
    """Standard deviation of the slope of a leaf that does not lie flat, drawn anew for each
    photograph and unknown to the truth: the error that no laying takes out."""

    # the light and the camera
    lamp_angle_deg: float = 33.0
    """Lamps A and B, from vertical, seen from the board's centre."""
    lamp_radius_mm: float = 60.0
    exposure_jitter: float = 0.03
    white_balance_jitter: float = 0.01
    pixel_noise: float = 0.01
    """Standard deviation at mid-grey (0.2 of full scale), as a fraction of it."""
    pose_jitter: float = 1.0
    """Scales how far off the camera hangs: 15 mm, 0.4 % in height, 0.3 deg; and its small moves
    from shot to shot, an eighth of that."""
    placing_jitter: float = 1.0
    """Scales how carelessly a leaf is laid: 5 mm and 0.3 deg."""
    distortion: tuple[float, float] = (-0.04, 0.008)
    """k1, k2 of the lens (OpenCV's order and sense)."""
    vignetting: float = 0.6
    """Corner light falls as (1 + r^2)^-vignetting, r in focal lengths."""
    stains: float = 1.0
    """Scales stains and texture of the board."""
    jpeg_quality: int | None = None
    """None draws 85 to 92 shot by shot."""
    gps_share: float = 0.25
    """Share of the photographs whose EXIF carries a position (mid-ocean)."""
    orientation: int = 1
    """EXIF orientation, 1 or 6; truth is given for the upright picture."""
    wood_px_per_mm: float | None = None
    """Resolution of the wood; None follows the photograph."""
    give_size: bool = True
    """Write length_mm and width_mm into shots.csv."""

    def __post_init__(self) -> None:
        known = (
            ("species", self.species, tuple(SPECIES)),
            ("cut", self.cut, CUTS),
            ("figure", self.figure, FIGURES),
            ("board", self.board, tuple(BOARDS)),
        )
        for name, value, choices in known:
            if value not in choices:
                raise ValueError(f"The plan has no {name} {value!r}; use {', '.join(choices)}.")
        for shot in self.shots:
            read_shot(shot)
        if self.leaves < 1:
            raise ValueError(f"The plan has {self.leaves} leaves; at least 1 is needed.")

    @property
    def name(self) -> str:
        """Return what the file names open with."""
        return self.label or "flitch"

    @property
    def has_pairs(self) -> bool:
        """Tell whether two leaves lie side by side in some shots."""
        return any(shot.startswith("opened-pair") for shot in self.shots)


def read_shot(word: str) -> tuple[str, str]:
    """Return how the leaf lies and which lamp is on, from a word such as ``end-turned/A``.

    Examples
    --------
    >>> read_shot("opened-pair/B")
    ('opened-pair', 'B')
    """
    laid, _, lamp = word.partition("/")
    if laid not in LAYINGS or lamp not in LAMPS:
        raise ValueError(
            f"The shot {word!r} is not known; write LAID/LAMP with LAID one of "
            f"{', '.join(LAYINGS)} and LAMP one of A, B, side, both or nothing."
        )
    return laid, lamp
