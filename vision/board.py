"""The bare board in a photograph: how the light falls on it, and what is not board.

The board serves as the reference sheet. Its picture under a lamp carries the lamp's fall-off, the
lens's vignetting, the exposure and the cast, all at once and at every place; dividing the leaf by
the board interpolated underneath takes all four out together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import look_up_levels, srgb_to_linear
from vision.errors import BoardNotFound
from vision.grid_fit import LegendreGrid, degrees_of, field_basis

FINE_LONG_PX = 1500
"""Long side, px, at which the edge of a leaf is set: it is then good to 0.3 px."""
COARSE_LONG_PX = 750
"""Long side, px, at which leaf, strip and board are told apart."""
FIT_LONG_PX = 150
"""Long side, px, at which the light on the board is fitted; light is smooth."""
LEAST_BOARD_SHARE = 0.08
"""Below a twelfth of the picture the light under the leaf would be a guess."""
DARKEST_LINEAR = 5e-4
"""Floor for logarithms: darker is sensor noise."""
FIELD_STEP_PX = 16
"""Fine pixels between places where the light on the board is worked out."""
FULL_SCALE = 250
"""From this level a pixel of a reduced picture may be at the end of the camera's scale: its mean,
noise and all, lies a little below 255. Light 4 % below the end is given up with it."""


def log_table(decode: NDArray[np.float32] | None = None) -> NDArray[np.float32]:
    """Return log linear light of every encoded level, shape (1, 256, 3), as `cv2.LUT` takes it.

    Parameters
    ----------
    decode : ndarray, shape (256, 3), or None
        Linear light of the levels (`vision.tone_curve.decode_table`); None stands for sRGB.
    """
    if decode is None:
        decode = np.repeat(srgb_to_linear(np.arange(256, dtype=np.uint8))[:, None], 3, axis=1)
    return np.log(np.maximum(decode, DARKEST_LINEAR)).astype(np.float32)[None]


LOG_LIGHT = log_table()
"""sRGB level -> log linear light."""


@dataclass(frozen=True, slots=True, eq=False)
class LightField:
    """Linear light that the bare board sends, per channel, anywhere in the photograph.

    Parameters
    ----------
    terms : ndarray, shape (n, 3)
        Coefficients of log light; see `field_basis`.
    degree : int
        Degree of the polynomial.
    blank : ndarray or None
        Log light of the photograph of the bare board, shape (rows, columns, 3), at
        `FIT_LONG_PX`, which the polynomial then only corrects.
    size_px : tuple of int
        Width and height of the photograph that the coordinates refer to.
    residual_sd : float
        RMS of board against field as a fraction, at the fit's resolution, noise included.
    board_share : float
        Share of the picture that is board, 0 to 1.
    """

    terms: NDArray[np.float64]
    degree: int
    blank: NDArray[np.float32] | None
    size_px: tuple[int, int]
    residual_sd: float
    board_share: float

    def at(self, x_px: NDArray[np.float64], y_px: NDArray[np.float64]) -> NDArray[np.float32]:
        """Return the board's linear light, shape x.shape + (3,), at pixels of the photograph."""
        log_light = field_basis(*_unit(x_px, y_px, self.size_px), self.degree) @ self.terms
        if self.blank is not None:
            log_light = log_light + self._blank_at(self.blank, x_px, y_px)
        return np.exp(log_light).astype(np.float32)

    def log_on_grid(
        self, x_px: NDArray[np.float64], y_px: NDArray[np.float64]
    ) -> NDArray[np.float32]:
        """Return the log of the board's light where columns x and rows y cross, (y, x, 3)."""
        u, v = _unit(x_px, y_px, self.size_px)
        planes = LegendreGrid(u, v, self.degree).field(self.terms)
        log_light = planes.transpose(1, 2, 0).astype(np.float32)
        if self.blank is not None:
            log_light += self._blank_at(self.blank, *np.meshgrid(x_px, y_px))
        return log_light

    def _blank_at(
        self, blank: NDArray[np.float32], x_px: NDArray[np.float64], y_px: NDArray[np.float64]
    ) -> NDArray[np.float32]:
        rows, columns = blank.shape[:2]
        map_x = ((x_px + 0.5) * columns / self.size_px[0] - 0.5).astype(np.float32)
        map_y = ((y_px + 0.5) * rows / self.size_px[1] - 0.5).astype(np.float32)
        at = cv2.remap(blank, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(at, dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """A photograph held against its own board.

    Parameters
    ----------
    field : LightField
        The light on the board.
    log_light : ndarray of float32, shape (rows, columns, 3)
        Log linear light of the photograph at the coarse size.
    ratio : ndarray of float32, shape (rows, columns, 3)
        log(photo / board) at the coarse size; about 0 where board is in view, burnt or not.
    noise : ndarray, shape (3, 3)
        Covariance of ``ratio`` on the board.
    step : float
        Photo pixels per coarse pixel.
    fine : ndarray of uint8, shape (rows, columns, 3)
        The photograph at the fine size, sRGB.
    fine_step : float
        Photo pixels per fine pixel.
    log_of_level : ndarray of float32, shape (1, 256, 3)
        Log linear light of the encoded levels, by sRGB or by the camera's own tone curve.
    lamp_field : LightField
        The light as a smooth field alone, for asking where the lamp stood: a blank frame also
        holds what lies on the board, a grey strip or rails.
    """

    field: LightField
    log_light: NDArray[np.float32]
    ratio: NDArray[np.float32]
    noise: NDArray[np.float64]
    step: float
    fine: NDArray[np.uint8]
    fine_step: float
    log_of_level: NDArray[np.float32]
    lamp_field: LightField

    def fine_ratio(self, rows: slice, columns: slice) -> NDArray[np.float32]:
        """Return log(photo / board) in a window of the fine picture."""
        window = self.fine[rows, columns]
        height, width = window.shape[:2]
        nx, ny = max(2, width // FIELD_STEP_PX), max(2, height // FIELD_STEP_PX)
        x = (columns.start + (np.arange(nx) + 0.5) * width / nx) * self.fine_step - 0.5
        y = (rows.start + (np.arange(ny) + 0.5) * height / ny) * self.fine_step - 0.5
        coarse = self.field.log_on_grid(x, y)
        board = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR)
        light = look_up_levels(window, self.log_of_level)
        ratio = np.asarray(cv2.subtract(light, board, dst=light), dtype=np.float32)
        return _at_least(ratio, window)


def _at_least(ratio: NDArray[np.float32], levels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return log(photo / board), 0 where a channel at full scale allows that.

    A burnt channel says only that its light is at least so much. Where the board by its field is
    lighter still, nothing tells the place from board; taken at its word, it would have the hue of
    wood, red being the first to burn under a warm lamp.
    """
    if levels.max() >= FULL_SCALE:
        ratio[(levels >= FULL_SCALE) & (ratio < 0)] = 0
    return ratio


def shrink(rgb: NDArray[np.uint8], long_px: int) -> tuple[NDArray[np.uint8], float]:
    """Return the picture with a long side of at most ``long_px``, and the step between pixels."""
    height, width = rgb.shape[:2]
    step = max(1.0, max(height, width) / long_px)
    size = (max(1, round(width / step)), max(1, round(height / step)))
    if step >= 4 and width % 4 == 0 and height % 4 == 0:
        rgb = _quarter(rgb)
    if rgb.shape[1::-1] != size:
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return rgb, step


def _quarter(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the picture at a quarter of its size: halved twice, in half the time of once by four.

    Halving rounds halves up. The second time the negative is halved, which rounds them down, so
    that the picture does not grow lighter.
    """
    columns, rows = rgb.shape[1] // 4, rgb.shape[0] // 4
    half = cv2.resize(rgb, (2 * columns, 2 * rows), interpolation=cv2.INTER_AREA)
    cv2.bitwise_not(half, dst=half)
    quarter = cv2.resize(half, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.bitwise_not(quarter, dst=quarter), dtype=np.uint8)


def find_board(
    rgb: NDArray[np.uint8],
    *,
    blank: NDArray[np.uint8] | None = None,
    decode: NDArray[np.float32] | None = None,
    reduced: tuple[NDArray[np.uint8], float] | None = None,
) -> Board:
    """Return the light on the board of a photograph, and the photograph held against it.

    The board is taken to be what most of the picture's rim shows: one smooth field of light on
    one colour. Leaf, grey strip, marker rails and shadows depart from it and are left out by
    reweighting (Tukey's biweight), seeded from the rim.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, upright.
    blank : ndarray of uint8 or None
        The bare board under the same lamp from the same place, same shape. It gives the shape of
        the light; the board in view then only sets level, cast and a slight slope.
    decode : ndarray of float32, shape (256, 3), or None
        Linear light of the encoded levels, by the camera's tone curve; None stands for sRGB.
    reduced : tuple of ndarray and float, or None
        ``shrink(rgb, FINE_LONG_PX)``, if it is at hand.

    Raises
    ------
    BoardNotFound
        If no smooth field explains at least `LEAST_BOARD_SHARE` of the picture, or ``blank`` is
        of another shape.
    """
    fine, fine_step = shrink(rgb, FINE_LONG_PX) if reduced is None else reduced
    return _hold(fine, fine_step, (rgb.shape[1], rgb.shape[0]), blank=blank, decode=decode)


def hold_again(
    board: Board,
    *,
    blank: NDArray[np.uint8] | None = None,
    decode: NDArray[np.float32] | None = None,
) -> Board:
    """Return the same photograph held against its board anew, by another tone curve.

    Cheaper than `find_board`: the photograph need not be made smaller once more.

    Raises
    ------
    BoardNotFound
        As `find_board`.
    """
    full = board.field.size_px
    return _hold(board.fine, board.fine_step, full, blank=blank, decode=decode)


def _hold(
    fine: NDArray[np.uint8],
    fine_step: float,
    full: tuple[int, int],
    *,
    blank: NDArray[np.uint8] | None,
    decode: NDArray[np.float32] | None,
) -> Board:
    """Hold a photograph, given at the fine size, against its board."""
    width, height = full
    coarse, again = shrink(fine, COARSE_LONG_PX)
    table = LOG_LIGHT if decode is None else log_table(decode)
    log_light = look_up_levels(coarse, table)
    size = _fit_size(log_light)
    small = np.asarray(cv2.resize(log_light, size, interpolation=cv2.INTER_AREA), np.float32)
    log_blank = None if blank is None else _blank_light(blank, (height, width, 3), table)
    steps = _STEPS if log_blank is None else _STEPS_ON_BLANK
    against = small if log_blank is None else small - log_blank
    terms, on_board, residual_sd = _fit_field(against, full=(width, height), steps=steps)
    share = float(on_board.mean())
    if share < LEAST_BOARD_SHARE:
        raise BoardNotFound(
            f"Only {share:.0%} of the picture looks like one plain board; {LEAST_BOARD_SHARE:.0%} "
            "is needed to tell leaf from board. Lay the leaf on a plain matt board and leave a "
            "hand's width of it in view on every side."
        )
    field = LightField(terms, steps[-1][0], log_blank, (width, height), residual_sd, share)
    log_field = field.log_on_grid(*_axes(size, (width, height)))
    expanded = cv2.resize(log_field, coarse.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    ratio = _at_least(np.asarray(log_light - expanded, dtype=np.float32), coarse)
    noise = _board_noise(ratio, on_board)
    lamp_field = field if log_blank is None else _smooth_field(small, (width, height)) or field
    return Board(
        field, log_light, ratio, noise, fine_step * again, fine, fine_step, table, lamp_field
    )


def _smooth_field(small: NDArray[np.float32], full: tuple[int, int]) -> LightField | None:
    """Return the light on the board without its blank frame; None if it is not smooth enough."""
    terms, on_board, residual_sd = _fit_field(small, full=full, steps=_STEPS)
    share = float(on_board.mean())
    if share < LEAST_BOARD_SHARE:
        return None
    return LightField(terms, _STEPS[-1][0], None, full, residual_sd, share)


_STEPS = ((1, 0.20), (2, 0.12), (2, 0.08), (3, 0.05), (4, 0.03), (4, 0.02), (4, 0.015))
"""Rounds of the fit: degree, and how far off (log light) still counts as board. A lamp just past
the leaf's end, and vignetting, leave less than 0.3 % at degree 4, 1 % at degree 3."""
ROUNDS_EACH = 3
STAINED = 0.08
"""How far off, log light, even a stained or coarse board may lie and still count."""
RIM_AGREES = 0.85
"""Share of the rim near one field from which the whole rim is taken to be board."""
LEAST_GAIN = 0.03
"""Share of the picture that a field fitted to part of the rim must explain beyond the others."""
NOISE_STEP = 4
"""Coarse pixels between those that tell the board's noise: some ten thousand are enough."""
_STEPS_ON_BLANK = ((1, 0.20), (1, 0.10), (2, 0.05), (2, 0.02), (2, 0.015))
"""The same against a blank frame, which already has the shape of the light."""


def _fit_size(picture: NDArray[np.float32]) -> tuple[int, int]:
    rows, columns = picture.shape[:2]
    step = max(1.0, max(rows, columns) / FIT_LONG_PX)
    return max(8, round(columns / step)), max(8, round(rows / step))


def _blank_light(
    blank: NDArray[np.uint8], shape: tuple[int, ...], table: NDArray[np.float32]
) -> NDArray[np.float32]:
    if blank.shape != shape:
        raise BoardNotFound(
            f"The photograph of the bare board has {blank.shape[1]} x {blank.shape[0]} pixels, "
            f"this one {shape[1]} x {shape[0]}. Photograph the board again with the same camera, "
            "held the same way."
        )
    coarse, _ = shrink(shrink(blank, FINE_LONG_PX)[0], COARSE_LONG_PX)
    light = look_up_levels(coarse, table)
    small = cv2.resize(light, _fit_size(light), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.GaussianBlur(cv2.medianBlur(small, 5), (0, 0), 2.0), dtype=np.float32)


def _unit(
    x_px: NDArray[np.float64], y_px: NDArray[np.float64], full: tuple[int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return photo coordinates scaled so that the long side runs from -1 to 1."""
    long_px = max(full)
    return (x_px - (full[0] - 1) / 2) / long_px * 2, (y_px - (full[1] - 1) / 2) / long_px * 2


def _axes(
    size: tuple[int, int], full: tuple[int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return photo coordinates of the columns and the rows of a picture shrunk to ``size``."""
    x = (np.arange(size[0]) + 0.5) * full[0] / size[0] - 0.5
    y = (np.arange(size[1]) + 0.5) * full[1] / size[1] - 0.5
    return x, y


def _fit_field(
    log_light: NDArray[np.float32],
    *,
    full: tuple[int, int],
    steps: tuple[tuple[int, float], ...],
) -> tuple[NDArray[np.float64], NDArray[np.bool_], float]:
    """Fit the field to the board; return terms, the board mask and the residual RMS."""
    rows, columns = log_light.shape[:2]
    grid = LegendreGrid(*_unit(*_axes((columns, rows), full), full), steps[-1][0])
    blurred = cv2.GaussianBlur(log_light, (0, 0), 1.0).transpose(2, 0, 1)
    smooth = np.ascontiguousarray(blurred, dtype=np.float64)
    weight = _seed(grid, smooth, steps[:2])
    off = smooth
    for degree, floor in steps[2:]:
        fitted = _fit_round(grid, smooth, weight, degree=degree, floor=floor)
        if fitted is None:
            count = len(degrees_of(degree)[0])
            return np.zeros((count, 3)), np.zeros((rows, columns), bool), np.inf
        terms, off, weight = fitted
    on_board = weight > 0.1
    residual = float(np.sqrt(np.mean(off[:, on_board] ** 2))) if on_board.any() else float("inf")
    return terms, on_board, residual


def _fit_round(
    grid: LegendreGrid,
    smooth: NDArray[np.float64],
    weight: NDArray[np.float64],
    *,
    degree: int,
    floor: float,
    within: NDArray[np.bool_] | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]] | None:
    """Return terms, what is left over and new weights; None if too little board is left."""
    for _ in range(ROUNDS_EACH):
        if np.count_nonzero(weight) < 4 * len(degrees_of(degree)[0]):
            return None
        terms = grid.fit(smooth, weight, degree)
        off = smooth - grid.field(terms)
        largest = np.abs(off).max(axis=0)
        spread = 1.4826 * float(np.median(largest[weight > 0.3]))
        distance = largest / min(max(floor, 3.0 * spread), max(4 * floor, STAINED))
        weight = np.where(distance < 1, (1 - distance**2) ** 2, 0.0)
        if within is not None:
            weight = np.where(within, weight, 0.0)
    return terms, off, weight


def _seed(
    grid: LegendreGrid, smooth: NDArray[np.float64], steps: tuple[tuple[int, float], ...]
) -> NDArray[np.float64]:
    """Return first weights of the board, by what the rim of the picture shows.

    A table seen past one side of the board would tilt a field fitted to the whole rim. Where the
    rim does not agree with itself, each side is left out in turn, and the field that explains
    most of the picture is taken.
    """
    rows, columns = smooth.shape[1:]
    best: tuple[float, NDArray[np.float64]] = (-1.0, np.zeros((rows, columns)))
    for rim in _rims(rows, columns):
        weight = rim.astype(np.float64)
        for degree, floor in steps:
            fitted = _fit_round(grid, smooth, weight, degree=degree, floor=floor, within=rim)
            if fitted is None:
                break
            _, off, weight = fitted
        else:
            near = np.abs(off).max(axis=0) < STAINED
            explained = float(near.mean())
            if explained > best[0] + LEAST_GAIN:
                best = (explained, weight)
            if float(near[rim].mean()) > RIM_AGREES:
                break
    return best[1]


def _rims(rows: int, columns: int) -> Iterator[NDArray[np.bool_]]:
    """Mark the outer tenth of the picture, where the board is looked for first.

    First the whole rim, then the rim of the picture less a sixth at one side.
    """
    left, top = columns // 6, rows // 6
    for x0, x1, y0, y1 in (
        (0, columns, 0, rows),
        (left, columns, 0, rows),
        (0, columns - left, 0, rows),
        (0, columns, top, rows),
        (0, columns, 0, rows - top),
    ):
        depth_y, depth_x = max(2, rows // 16), max(2, columns // 10)
        rim = np.zeros((rows, columns), dtype=bool)
        rim[y0:y1, x0:x1] = True
        rim[y0 + depth_y : y1 - depth_y, x0 + depth_x : x1 - depth_x] = False
        yield rim


def _board_noise(ratio: NDArray[np.float32], on_board: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the robust covariance of the board about its field, 3 x 3."""
    mask = cv2.resize(
        on_board.astype(np.uint8), ratio.shape[1::-1], interpolation=cv2.INTER_NEAREST
    )
    y, x = np.nonzero(mask[::NOISE_STEP, ::NOISE_STEP])
    sample = np.ascontiguousarray(ratio[y * NOISE_STEP, x * NOISE_STEP].T)
    far = np.abs(sample)
    limit = 6 * 1.4826 * np.median(far, axis=1, keepdims=True) + np.float32(1e-4)
    sample = sample[:, (far < limit).all(axis=0)]
    sample -= sample.mean(axis=1, keepdims=True)
    covariance = (sample @ sample.T).astype(np.float64) / (sample.shape[1] - 1)
    return np.asarray(covariance + np.eye(3) * 1e-6)
