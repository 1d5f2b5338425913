"""What tells one wood from another: colour, rings, pores, rays and shine."""

from __future__ import annotations

from dataclasses import dataclass

Rgb = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Pores:
    """Pores cut lengthwise, short dark streaks on the face."""

    early_per_mm2: float
    """How many start on a square millimetre of early wood."""
    late_per_mm2: float
    width_mm: float
    length_mm: tuple[float, float]
    """Range of most lengths."""
    absorb: Rgb
    """Absorbance of a pore that fills a pixel, R, G, B."""


@dataclass(frozen=True, slots=True)
class Rings:
    """Yearly growth and its drawing across one year."""

    width_mm: tuple[float, float]
    """Range of a flitch's mean ring width."""
    spread: float
    """Standard deviation of log ring width, year to year."""
    rise: float
    """Power by which the tone rises through the year; high is a sharp late band."""
    line: float
    """Strength of the thin dark line that ends the year, in units of the tone."""
    line_mm: float
    early_share: float
    """Share of the year that carries early-wood pores."""
    absorb: Rgb
    """Absorbance of full late-wood tone, R, G, B."""


@dataclass(frozen=True, slots=True)
class Rays:
    """Rays laid open on quartered faces."""

    strength: float = 0.0
    """0 hides them, 1 is full flake."""
    thick_mm: float = 0.5
    height_mm: float = 10.0
    rarity: float = 1.0
    """Standard deviations of the ray noise above which there is a ray."""
    swing: float = 1.0
    """Scales how far the grain carries rays sideways."""


@dataclass(frozen=True, slots=True)
class Species:
    """One wood. Colours are CIELAB D65 of the bare wood under even light."""

    lab: tuple[float, float, float]
    lab_sd: tuple[float, float, float]
    sap_lab: tuple[float, float, float]
    rings: Rings
    pores: Pores
    streaks: Rgb
    """Absorbance of a full pigment streak."""
    streak_share: float
    """How much of the wood the streaks take, 0 to 1."""
    flecks_per_m2: float
    """Gum flecks and the like."""
    rays: Rays
    lobe_ratio: tuple[float, float]
    lobe_width_deg: tuple[float, float]


SPECIES: dict[str, Species] = {
    "walnut": Species(
        lab=(48, 7.0, 14.5),
        lab_sd=(1.8, 0.5, 0.8),
        sap_lab=(70, 6, 19),
        rings=Rings((2.6, 4.2), 0.32, 3.4, 0.8, 0.35, 0.40, (0.32, 0.38, 0.43)),
        pores=Pores(0.085, 0.018, 0.19, (3.0, 16.0), (0.75, 0.85, 0.90)),
        streaks=(0.62, 0.66, 0.60),
        streak_share=0.35,
        flecks_per_m2=0,
        rays=Rays(),
        lobe_ratio=(0.12, 1.0),
        lobe_width_deg=(8, 18),
    ),
    "oak": Species(
        lab=(66, 6.8, 20.5),
        lab_sd=(1.5, 0.4, 0.7),
        sap_lab=(74, 5, 19),
        rings=Rings((2.2, 4.0), 0.38, 1.2, 0.3, 0.25, 0.30, (0.16, 0.22, 0.28)),
        pores=Pores(0.48, 0.010, 0.26, (2.5, 9.0), (0.50, 0.66, 0.84)),
        streaks=(0.12, 0.16, 0.22),
        streak_share=0.1,
        flecks_per_m2=0,
        rays=Rays(1.0, 0.6, 7.0, 0.8, 1.0),
        lobe_ratio=(0.08, 0.5),
        lobe_width_deg=(9, 20),
    ),
    "maple": Species(
        lab=(82, 4.3, 17.5),
        lab_sd=(1.2, 0.4, 0.8),
        sap_lab=(84, 3.5, 16),
        rings=Rings((1.8, 3.4), 0.3, 3.0, 1.6, 0.22, 1.0, (0.05, 0.085, 0.13)),
        pores=Pores(0.10, 0.10, 0.07, (1.0, 3.5), (0.22, 0.30, 0.40)),
        streaks=(0.08, 0.12, 0.17),
        streak_share=0.08,
        flecks_per_m2=14,
        rays=Rays(0.28, 0.22, 1.1, 0.9, 0.6),
        lobe_ratio=(0.15, 0.9),
        lobe_width_deg=(7, 15),
    ),
    "cherry": Species(
        lab=(62, 11.0, 21.5),
        lab_sd=(1.6, 0.7, 0.9),
        sap_lab=(78, 5, 19),
        rings=Rings((2.2, 3.8), 0.28, 1.8, 0.9, 0.25, 1.0, (0.11, 0.17, 0.23)),
        pores=Pores(0.10, 0.06, 0.06, (1.0, 3.5), (0.30, 0.36, 0.42)),
        streaks=(0.15, 0.22, 0.26),
        streak_share=0.15,
        flecks_per_m2=120,
        rays=Rays(0.28, 0.22, 1.1, 0.9, 0.6),
        lobe_ratio=(0.12, 0.8),
        lobe_width_deg=(8, 17),
    ),
    "mahogany": Species(
        lab=(50, 14.0, 22.0),
        lab_sd=(1.8, 0.8, 1.0),
        sap_lab=(72, 6, 20),
        rings=Rings((2.5, 5.0), 0.35, 1.3, 0.5, 0.3, 1.0, (0.14, 0.20, 0.22)),
        pores=Pores(0.035, 0.030, 0.22, (3.0, 14.0), (0.55, 0.60, 0.62)),
        streaks=(0.14, 0.18, 0.20),
        streak_share=0.15,
        flecks_per_m2=0,
        rays=Rays(),
        lobe_ratio=(0.25, 1.2),
        lobe_width_deg=(8, 16),
    ),
}
"""Colour ranges as printed for these woods: oak after Dzurenda 2018, BioResources 13(1):1525;
the others are common values to be bettered by Meints et al. 2017, doi 10.1007/s00107-016-1108-0.
Rings, pores and shine are set by eye, the shine within 0.08..1.2 and 7..20 degrees."""
