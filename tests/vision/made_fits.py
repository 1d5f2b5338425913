"""Fits of leaves whose fibres are known, without photographs."""

from __future__ import annotations

import numpy as np

from vision.readings import SLICES
from vision.slope_fit import SlopeFit
from vision.slope_solver import OF_LEAF


def fit_of(
    slope_deg: float | np.ndarray = 2.0,
    *,
    strength: float = 0.6,
    width_deg: float = 11.0,
    lean_deg: float = 0.0,
    face_light: float = 0.0,
    face_width: float = 0.0,
    sd: float = 0.01,
) -> SlopeFit:
    """Fibres that rise by ``slope_deg`` toward the lower end, on wood of 20 % reflectance."""
    return SlopeFit(
        slope=np.deg2rad(np.broadcast_to(np.asarray(slope_deg, float), SLICES)).copy(),
        strength=strength,
        width=float(np.deg2rad(width_deg)),
        log_wood=np.full(SLICES, np.log(0.2)),
        lean=float(np.deg2rad(lean_deg)),
        face_width=face_width,
        face_light=face_light,
        wood=np.full((SLICES, 3), 0.2),
        spread=np.eye(OF_LEAF) * sd**2,
        is_over=False,
        both_faces=True,
        swing=np.zeros(SLICES),
    )
