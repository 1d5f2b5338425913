"""The greys and whites printed on the rails, read where the table's map says they lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from vision.patch_light import faults_of, sample_patches, trimmed_light, trimmed_mean

INNER = 0.6
"""Share of a patch's sides that is read."""


class RailPatch(Protocol):
    """A grey or a white of a rail, as `vision.rail_plan` lays it out."""

    @property
    def name(self) -> str: ...
    @property
    def rail(self) -> Literal["left", "right"]: ...
    @property
    def x_mm(self) -> float: ...
    @property
    def y_mm(self) -> float: ...
    @property
    def width_mm(self) -> float: ...
    @property
    def height_mm(self) -> float: ...
    @property
    def reflectance(self) -> float | None: ...


class Table(Protocol):
    """What is asked of the table's map (`vision.table_map.TableMap`)."""

    def to_px(self, points_mm: NDArray[np.float64], height_mm: float = 0.0) -> NDArray[np.float64]:
        """Return photo pixels of table points."""
        ...

    def rail_to_mm(
        self, rail: Literal["left", "right"], points_mm: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return table mm of points of a rail, from its centre line and first marker."""
        ...

    def holder_to_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return photo pixels of points of the chart holder; a `VisionError` if not in view."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class RailGreys:
    """Printed patches as photographed; those out of view or faulty are left out.

    Parameters
    ----------
    names : tuple of str
    designed : ndarray, shape (n,)
        Reflectance as designed; NaN for bare paper.
    samples : ndarray of uint8, shape (n, pixels, 3)
    centres_px : ndarray, shape (n, 2)
    """

    names: tuple[str, ...]
    designed: NDArray[np.float64]
    samples: NDArray[np.uint8]
    centres_px: NDArray[np.float64]

    def levels(self) -> NDArray[np.float64]:
        """Return the trimmed mean of the encoded levels, shape (n, 3)."""
        return trimmed_mean(self.samples)

    def light(self, decode: NDArray[np.float32]) -> NDArray[np.float64]:
        """Return the trimmed mean of the linear light, shape (n, 3)."""
        return trimmed_light(self.samples, decode)


def read_rail_greys(
    rgb: NDArray[np.uint8], table: Table, patches: Sequence[RailPatch]
) -> RailGreys:
    """Return the patches of the rails that are in view, whole, and of one even tone.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        Full size.
    table : Table
    patches : sequence of RailPatch
        `RailPlan.grey_patches` or `RailPlan.white_patches`.
    """
    if not patches:
        empty = np.zeros((0, 1, 3), np.uint8)
        return RailGreys((), np.zeros(0), empty, np.zeros((0, 2)))
    # Middle, right end and lower end of what is read, rail millimetres.
    half = np.array([[0.0, 0.0], [INNER / 2, 0.0], [0.0, INNER / 2]])
    middles = np.array([(one.x_mm, one.y_mm) for one in patches])
    sizes = np.array([(one.width_mm, one.height_mm) for one in patches])
    points = middles[:, None] + half * sizes[:, None]
    is_left = np.array([one.rail == "left" for one in patches])
    sides: tuple[tuple[Literal["left", "right"], NDArray[np.bool_]], ...]
    sides = (("left", is_left), ("right", ~is_left))
    for rail, own in sides:
        points[own] = table.rail_to_mm(rail, points[own].reshape(-1, 2)).reshape(-1, 3, 2)
    places = table.to_px(points.reshape(-1, 2)).reshape(-1, 3, 2)
    across, down = (2 * (places[:, side] - places[:, 0]) for side in (1, 2))
    samples, inside = sample_patches(rgb, places[:, 0], across, down)
    keep = inside & np.array([not why for why in faults_of(samples)])
    designed = [np.nan if one.reflectance is None else one.reflectance for one in patches]
    return RailGreys(
        tuple(one.name for one, kept in zip(patches, keep, strict=True) if kept),
        np.array(designed)[keep],
        samples[keep].reshape(int(keep.sum()), -1, 3),
        places[keep, 0],
    )
