"""A photograph that is about to be recorded, and how plainly it shows its leaf."""

from __future__ import annotations

from dataclasses import dataclass

from catalog.records import PictureKeys, StationId
from vision.readings import PhotoReading
from vision.settings import VisionSettings
from vision.shot import Laid, Lamp, Shot

_LAMP_RANK = {Lamp.BOTH: 0, Lamp.A: 1, Lamp.B: 2, Lamp.SIDE: 3, Lamp.UNKNOWN: 4}
_LAID_RANK = {Laid.AS_LIES: 0, Laid.END_TURNED: 2, Laid.FACE_OVER: 3, Laid.END_OVER: 4}
_PAIR_RANK = (1, 5)
"""An opened pair shows its left leaf as it lies, its right one with the other face up."""
_WET_RANK = 10


@dataclass(frozen=True, slots=True)
class NewPhoto:
    """One measured photograph whose pictures are in the store already."""

    shot: Shot
    reading: PhotoReading
    pictures: tuple[PictureKeys, ...]
    """Parallel to ``reading.leaves``."""
    settings: VisionSettings
    station_id: StationId | None = None


def plain_rank(shot: Shot, side: int) -> int:
    """Return how plainly a shot shows its leaf for its own sake; 0 is best.

    Dry before wet; as it lies before turned, and by itself before in a pair; lit from both ends,
    which hides light and dark, before from one end.

    Examples
    --------
    >>> plain_rank(Shot("a.jpg", "01", lamp=Lamp.BOTH), 0)
    0
    >>> plain_rank(Shot("b.jpg", "01"), 0) < plain_rank(Shot("c.jpg", "01", Laid.FACE_OVER), 0)
    True
    """
    laid = _PAIR_RANK[side] if shot.laid is Laid.OPENED_PAIR else _LAID_RANK[shot.laid]
    return (_WET_RANK * shot.wet + laid) * len(_LAMP_RANK) + _LAMP_RANK[shot.lamp]
