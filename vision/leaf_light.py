"""One leaf's light in one photograph."""

from __future__ import annotations

from dataclasses import dataclass

from vision.readings import LightProfile
from vision.shot import Shot


@dataclass(frozen=True, slots=True)
class LeafLight:
    """One leaf's light in one photograph; an opened pair gives two."""

    shot: Shot
    profile: LightProfile
