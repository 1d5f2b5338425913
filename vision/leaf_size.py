"""Length and width of a leaf, and where its millimetres come from."""

from __future__ import annotations

import numpy as np

from vision.flatten import OnTable, Straightened
from vision.markers import Rail, length_between_mm
from vision.readings import LeafSize, ScaleClass
from vision.shot import Laid, Shot

AGREE_WITHIN = 0.04
"""Typed length and width may disagree with the picture's proportions by this share."""


TYPED_SD_MM = 1.0
"""One standard deviation of a length that was typed in."""


def measure_size(
    straight: Straightened,
    shot: Shot,
    rails: tuple[Rail, ...],
    *,
    edge_sd_px: float = 1.0,
) -> LeafSize:
    """Return the size of what lies in the outline: a leaf, or a pair butted together.

    Rails fitted together with the lens come first: measured, if their own lengths were taken by
    tape; else as printed, or stretched to the typed length.
    Without such a fit a typed length comes first, then marker rails (lens and tilt left in), then
    the typed width (of one leaf; a pair is scaled by its length alone); without any the size is in
    pixels only.

    Parameters
    ----------
    edge_sd_px : float
        One standard deviation of an end or edge of the leaf, flat pixels.

    Raises
    ------
    RailsUnfit
        If the fitted rails do not flank the leaf.
    """
    if straight.on_table is not None:
        return _by_table(straight, straight.on_table, shot, edge_sd_px)
    px_per_mm, scale_class = _scale(straight, shot, rails)
    known = px_per_mm is not None
    return LeafSize(
        length_mm=straight.length_px / px_per_mm if known and px_per_mm else None,
        width_mm=straight.width_px / px_per_mm if known and px_per_mm else None,
        px_per_mm=px_per_mm,
        scale_class=scale_class,
        length_px=straight.length_px,
        width_px=straight.width_px,
    )


def disagrees_with_typed(size: LeafSize, shot: Shot) -> bool:
    """Tell whether the typed length or width is not what the picture shows."""
    typed = [(shot.length_mm, size.length_mm)]
    if shot.laid is not Laid.OPENED_PAIR:
        typed.append((shot.width_mm, size.width_mm))
    return any(
        abs(seen / told - 1) > AGREE_WITHIN
        for told, seen in typed
        if told is not None and seen is not None
    )


def _by_table(straight: Straightened, lies: OnTable, shot: Shot, edge_sd_px: float) -> LeafSize:
    along_mm = (straight.points @ lies.to_mm[:, :2].T + lies.to_mm[:, 2])[:, 1]
    lies.table.check_spans(float(along_mm.min()), float(along_mm.max()))
    trust, px_per_mm = lies.table.trust, lies.px_per_mm
    by_stack = abs(lies.height_mm) / float(lies.table.eye_mm[2]) * trust.focal
    along, across = np.hypot(trust.along, by_stack), np.hypot(trust.across, by_stack)
    scale_class = ScaleClass.MEASURED if lies.table.is_by_tape else ScaleClass.RAILS
    if shot.length_mm is not None and not lies.table.is_by_tape:
        px_per_mm, scale_class = straight.length_px / shot.length_mm, ScaleClass.TYPED
        across = np.hypot(across, TYPED_SD_MM / shot.length_mm)
        along = TYPED_SD_MM / shot.length_mm
    length_mm, width_mm = straight.length_px / px_per_mm, straight.width_px / px_per_mm
    edges_mm = np.sqrt(2) * edge_sd_px / px_per_mm
    return LeafSize(
        length_mm=length_mm,
        width_mm=width_mm,
        px_per_mm=px_per_mm,
        scale_class=scale_class,
        length_px=straight.length_px,
        width_px=straight.width_px,
        length_sd_mm=float(np.hypot(along * length_mm, edges_mm)),
        width_sd_mm=float(np.hypot(across * width_mm, edges_mm)),
    )


def _scale(
    straight: Straightened, shot: Shot, rails: tuple[Rail, ...]
) -> tuple[float | None, ScaleClass]:
    if shot.length_mm is not None:
        return straight.length_px / shot.length_mm, ScaleClass.TYPED
    by_rails = _length_by_rails(straight, rails)
    if by_rails is not None:
        return straight.length_px / by_rails, ScaleClass.RAILS
    if shot.width_mm is not None and shot.laid is not Laid.OPENED_PAIR:
        return straight.width_px / shot.width_mm, ScaleClass.TYPED
    return None, ScaleClass.NONE


def _length_by_rails(straight: Straightened, rails: tuple[Rail, ...]) -> float | None:
    """Return the leaf's length by the rails; None if they do not stand along it."""
    columns, rows = straight.size_px
    middle = straight.to_photo @ (columns / 2, rows / 2, 1.0)
    along = straight.to_photo[:, 1]
    if abs(along[1]) < 0.97:
        return None
    half = straight.length_px / 2 * abs(along[1])
    measured = length_between_mm(rails, middle[1] - half, middle[1] + half)
    return None if measured is None else measured / abs(along[1])
