"""What sets the colour of one photograph: a chart in it, the station, greys, or nothing.

Nothing is ever taken to be grey because most of the picture is: wood is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.chart_colour import ChartColour, ReadChip, calibrate_by_chart
from vision.chart_references import ChartReference, WoodChip, chart_reference
from vision.colour_chart import ChartReading, find_chart, read_by_holder
from vision.errors import VisionError
from vision.frame import Frame, FrameCalibration, Rails, held_greys, look, station_greys, triple
from vision.grey_calibration import LEAST_SD, WOOD_SHARE, calibrate_by_station
from vision.patch_light import sample_patches
from vision.photo import Photo
from vision.rail_greys import Table
from vision.readings import ColourClass
from vision.shooting_station import ShootingStation, ToneCurve

__all__ = ["FrameCalibration", "calibrate_frame"]

CHIP_MM = 12.0
"""Side of what is read of a wood chip."""
MOST_HELD_OUT = 4.5
"""Mean CIEDE2000 of left-out patches beyond which a chart is not believed."""
MOST_SHADING = 0.12
"""Fall of light over the chart, as a fraction, beyond which it lies in a shadow."""
WHITEST = 1.04
"""Paper cannot reflect more: beyond, the chart was darker than the rails, in a shadow."""


def calibrate_frame(
    photo: Photo,
    *,
    table: Table | None = None,
    plan: Rails | None = None,
    station: ShootingStation | None = None,
    chart_edition: str | None = None,
    chips: Sequence[WoodChip] = (),
    patch_centres_mm: Sequence[tuple[float, float]] | None = None,
    held: tuple[Board | None, ToneCurve | None] | None = None,
    blank: NDArray[np.uint8] | None = None,
    today: date | None = None,
) -> FrameCalibration:
    """Return what sets the colour of a photograph, the best that can be trusted.

    A chart in the photograph comes first, then the station if it has not expired and the rails'
    greys agree with it, then the greys alone.

    Parameters
    ----------
    photo : Photo
        Full size.
    table : Table or None
        The fit of the rails; with ``plan`` the rails' greys are read by it.
    plan : Rails or None
    station : ShootingStation or None
    chart_edition : str or None
        One of `chart_references.EDITIONS` or a reference file; None: no chart is looked for.
    chips : sequence of WoodChip
        Wood of known colour on the table; needs ``table``.
    patch_centres_mm : sequence or None
        The 24 patches in the chart's holder (`Holder.patch_centres`). Without them, or without
        ``table``, the chart is looked for in the whole picture, which takes longer.
    held : tuple of Board and ToneCurve (each may be None), or None
        The photograph as already held against its board, and the curve by which it was; None: the
        board is looked for, by the station's curve.
    blank : ndarray or None
        The bare board under the same lamp.
    today : date or None
        The day of the photograph, against the station's expiry; None: not asked.
    """
    start = None if station is None else station.tone
    frame = replace(
        look(photo.rgb, table=table, plan=plan, blank=blank, held=held or (None, start)),
        is_linear=photo.is_linear,
    )
    found: FrameCalibration | None = None
    if chart_edition is not None:
        reference = chart_reference(chart_edition)
        chart = _read_chart(photo.rgb, table, patch_centres_mm, reference)
        if chart is not None:
            read = _read_chips(photo.rgb, table, chips)
            found = _by_chart(frame, chart, reference, read)
    if found is not None and found.colour_class is ColourClass.MEASURED:
        return found
    other = calibrate_by_station(frame, station, today)
    if found is None:
        return other
    return replace(
        other,
        colour=other.colour or found.colour,
        patches=found.patches,
        words=f"{found.words} {other.words}".strip(),
    )


def _read_chart(
    rgb: NDArray[np.uint8],
    table: Table | None,
    patch_centres_mm: Sequence[tuple[float, float]] | None,
    reference: ChartReference,
) -> ChartReading | None:
    """Return the chart by its holder's markers, or without rails wherever it is found."""
    if table is None or patch_centres_mm is None:
        return find_chart(rgb, lab=reference.lab)
    try:
        centres = np.asarray(patch_centres_mm, dtype=np.float64)
        return read_by_holder(rgb, table.holder_to_px, centres, lab=reference.lab)
    except VisionError:
        return None


def _read_chips(
    rgb: NDArray[np.uint8], table: Table | None, chips: Sequence[WoodChip]
) -> tuple[ReadChip, ...]:
    if table is None or not chips:
        return ()
    middles = np.array([(one.x_mm, one.y_mm) for one in chips])
    centres = table.to_px(middles)
    across = table.to_px(middles + [CHIP_MM, 0.0]) - centres
    down = table.to_px(middles + [0.0, CHIP_MM]) - centres
    samples, inside = sample_patches(rgb, centres, across, down)
    return tuple(
        ReadChip(chip.name, chip.lab, pixels.reshape(-1, 3), (float(x), float(y)))
        for chip, pixels, (x, y), whole in zip(chips, samples, centres, inside, strict=True)
        if whole
    )


def _by_chart(
    frame: Frame, chart: ChartReading, reference: ChartReference, chips: tuple[ReadChip, ...]
) -> FrameCalibration:
    found = calibrate_by_chart(chart, reference, frame=frame, chips=chips)
    if found is None:
        words = (
            f"Too few patches of the chart can be used ({_lost(chart, reference)}). Expose so that "
            "its white is not burnt out, and avoid reflections."
        )
        return FrameCalibration(None, None, ColourClass.NONE, words=words)
    doubt = _doubt(frame, found)
    if doubt and found.board is not None:
        # The board may not reach under the chart at all: its colours can still be told.
        alone = calibrate_by_chart(chart, reference, frame=replace(frame, board=None), chips=chips)
        if alone is not None and alone.held_out_mean < found.held_out_mean:
            found = alone
    colour_map = found.fit.colour_map
    if doubt and found.held_out_mean > MOST_HELD_OUT:
        return FrameCalibration(
            None, None, ColourClass.RELATIVE, patches=found.patches, words=doubt
        )
    return FrameCalibration(
        tone=found.tone,
        colour=colour_map,
        colour_class=ColourClass.RELATIVE if doubt else ColourClass.MEASURED,
        patches=found.patches,
        greys=station_greys(
            frame, found.board, found.board_rgb, tone=found.tone, colour_map=colour_map
        ),
        words=doubt or _chart_words(chart, found, reference),
        delta_e00_sd=max(LEAST_SD, WOOD_SHARE * found.held_out_mean),
        board_rgb=triple(found.board_rgb),
        board=found.board,
    )


def _doubt(frame: Frame, found: ChartColour) -> str:
    """Say why the chart cannot be believed, or nothing."""
    held_out = found.held_out_mean
    if found.shading > MOST_SHADING:
        return (
            f"The chart lies in uneven light: it falls by {found.shading:.0%} across the chart "
            "beyond what the board shows. Move the chart out of the shadow or the reflection."
        )
    rows = np.array(found.fit.colour_map.rows)[:, :3]
    if np.argmax(rows, axis=1).tolist() != [0, 1, 2]:
        return (
            "The chart's patches do not fit together: red, green and blue come out exchanged. "
            "Check what program wrote the file."
        )
    white = _whitest(frame, found)
    if white > WHITEST:
        return (
            f"The chart lies in a shadow: beside it the paper of the rails would reflect "
            f"{white:.0%}. Lay the chart where the leaf lies, in the same light."
        )
    if held_out > MOST_HELD_OUT:
        return (
            f"The chart's patches do not fit together: ΔE {held_out:.1f} with patches left out, "
            f"{MOST_HELD_OUT:.1f} is allowed. Check that the chart is clean, whole and of the kind "
            "chosen."
        )
    return ""


def _lost(chart: ChartReading, reference: ChartReference) -> str:
    return ", ".join(f"{reference.names[i]} {why}" for i, why in enumerate(chart.dropped) if why)


def _whitest(frame: Frame, found: ChartColour) -> float:
    """Return what the rails' paper, or the board if it is lighter, would reflect."""
    lightest = float(np.mean(found.board_rgb)) if found.board is not None else 0.0
    if frame.whites is None or found.board is None or not frame.whites.names:
        return lightest
    camera = held_greys(frame.whites, found.board, found.tone) * found.board_rgb
    return max(lightest, float(np.median(camera.mean(axis=1))))


def _chart_words(chart: ChartReading, found: ChartColour, reference: ChartReference) -> str:
    colour_map = found.fit.colour_map
    words = (
        f"Measured by the chart: ΔE {colour_map.fit_mean:.1f} in the mean, "
        f"{colour_map.held_out_mean:.1f} with patches left out."
    )
    if any(chart.dropped):
        words += f" Left out: {_lost(chart, reference)}."
    if chart.is_small:
        words += f" Its patches are {chart.side_px:.0f} px wide; 20 are needed to trust a JPEG."
    if found.other_edition:
        words += f" The edition {found.other_edition} fits better: look at the chart's back."
    return words
