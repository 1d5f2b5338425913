"""What is wrong with a photograph itself: blur, focus, glare, shade, buckles, compression.

Each fault is a continuous score with a limit. They are read from edges, small pictures and a few
rows of blocks, never from the whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.buckle import measure_ripples
from vision.coarse_jpeg import table_coarseness, traced_coarseness
from vision.edge_sharpness import measure_sharpness
from vision.flags import PhotoFlag
from vision.flatten import Straightened, straighten
from vision.outline import Outline
from vision.photo import Photo
from vision.shadow_edge import measure_shade
from vision.sheen import measure_sheen
from vision.small_look import look_small

Doubles = NDArray[np.float64]

LIMITS: dict[PhotoFlag, float] = {
    PhotoFlag.BLURRED: 2.4,
    PhotoFlag.FOCUS_UNEVEN: 3.0,
    PhotoFlag.GLARE: 0.35,
    PhotoFlag.SHADOW_EDGE: 0.003,
    PhotoFlag.UNEVEN_LIGHT: 15.0,
    PhotoFlag.BUCKLED: 0.035,
    PhotoFlag.OVER_COMPRESSED: 1.2,
}
"""From these scores on a fault is told.

Blur, standard deviation in px: twice that of a plain lens; figure below 10 px is gone. Glare: white
light over the wood's own, of which a tenth is 3 L*. Shade: log light times share of the board.
Light: brightest over darkest along the leaf. Buckles: RMS of log light, 1.2 L*. Compression: 1 is a
JPEG of quality 50, 1.2 of 42.
"""


THINNED = 3
"""Every third point of an outline shows enough here."""


@dataclass(frozen=True, slots=True)
class FaultScore:
    """How far one fault goes, and from where it is told."""

    flag: PhotoFlag
    score: float
    """0 or more; the unit is the fault's own (`LIMITS`)."""
    limit: float

    @property
    def is_told(self) -> bool:
        """Whether the fault goes too far."""
        return self.score >= self.limit


def find_faults(
    photo: Photo,
    board: Board,
    outlines: Sequence[Outline],
    *,
    board_rgb: tuple[float, float, float],
) -> tuple[FaultScore, ...]:
    """Return every fault's score for one photograph; of several leaves the worst counts.

    Parameters
    ----------
    photo : Photo
    board : Board
        The light on its board.
    outlines : sequence of Outline
        The leaves, as found. Without any, shade and compression are still read, which may tell
        why none was found.
    board_rgb : tuple of float
        The board's reflectance, linear, for telling white light from coloured.
    """
    straight = [straighten(_thinned(outline)) for outline in outlines]
    sharp = [measure_sharpness(photo.rgb, board, one) for one in straight]
    looks = [look_small(board, one) for one in straight]
    scores = {
        PhotoFlag.BLURRED: max((one.whole_px for one in sharp), default=0.0),
        PhotoFlag.FOCUS_UNEVEN: max((one.uneven_px for one in sharp), default=0.0),
        PhotoFlag.GLARE: max((measure_sheen(one, board_rgb) for one in looks), default=0.0),
        PhotoFlag.SHADOW_EDGE: measure_shade(board, outlines),
        PhotoFlag.UNEVEN_LIGHT: max(
            _light_ratio(board, along) for along in _lines(board, straight)
        ),
        PhotoFlag.BUCKLED: max((measure_ripples(one) for one in looks), default=0.0),
        PhotoFlag.OVER_COMPRESSED: max(
            table_coarseness(photo.original), traced_coarseness(photo.rgb)
        ),
    }
    return tuple(FaultScore(flag, float(score), LIMITS[flag]) for flag, score in scores.items())


def faults_flags(faults: Sequence[FaultScore]) -> tuple[PhotoFlag, ...]:
    """Return the flags of those faults that go too far."""
    return tuple(fault.flag for fault in faults if fault.is_told)


def _thinned(outline: Outline) -> Outline:
    return replace(outline, points=outline.points[::THINNED])


def _lines(board: Board, straight: Sequence[Straightened]) -> list[Doubles]:
    """Return places along each leaf, photo pixels; along the picture if no leaf was found."""
    if not straight:
        width, height = board.field.size_px
        share = np.linspace(0.1, 0.9, 24)
        middle = np.full_like(share, 0.5)
        lines = (np.stack([middle, share], axis=1), np.stack([share, middle], axis=1))
        return [line * [width - 1, height - 1] for line in lines]
    found = []
    for one in straight:
        columns, rows = one.size_px
        x, y = np.meshgrid(np.array([0.1, 0.5, 0.9]) * columns, np.linspace(0, 1, 24) * (rows - 1))
        found.append(np.stack([x, y, np.ones_like(x)], axis=-1) @ one.to_photo.T)
    return found


def _light_ratio(board: Board, places: Doubles) -> float:
    """Return the light on the board, brightest over darkest of some places."""
    light = board.field.at(places[..., 0], places[..., 1]).mean(axis=-1)
    return float(light.max() / max(float(light.min()), 1e-6))
