"""Settings of the image pipeline, handed down by argument and stored with each reading."""

from __future__ import annotations

from dataclasses import dataclass

PIPELINE_VERSION = "2"
"""Raised with every change that moves a stored number."""


@dataclass(frozen=True, slots=True)
class VisionSettings:
    """Everything about reading a photograph that a dealer may want to set."""

    max_megapixels: float = 120.0
    """Larger pictures are refused before they are opened: they would fill the memory."""
    strip_reflectances: tuple[float, ...] = (0.80, 0.55, 0.38, 0.26, 0.17, 0.10, 0.05)
    """Reflectances of the grey strip's steps from one end to the other; empty if unknown."""
    slight_from: float = 1.0
    """CIEDE2000 from which light and dark is flagged slight. 0.8 is the 50:50 limit of being
    perceptible on uniform samples (Paravina et al., dentistry); wood texture masks further."""
    strong_from: float = 2.5
    """CIEDE2000 from which it is flagged strong: a judgement, so a setting."""
    face_sd: float = 1.2
    """Standard deviation, L*, allowed for a face that was not photographed, where nothing tells how
    strong the fibres' highlight is (assumed; 1.2 over drawn flitches)."""
    face_albedo_sd: float = 0.02
    """Standard deviation of one face's own lightness over the other's, as a fraction of linear
    light (assumed), where the highlight is known."""


DEFAULT_VISION_SETTINGS = VisionSettings()
