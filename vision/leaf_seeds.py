"""Where leaves lie in a photograph, roughly: what is surely wood, and the grey things beside it."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.wood_edge import hue_noise, to_hues

SEED_DISTANCE = 7.0
"""Standard deviations of the board beyond which a working pixel is surely not board."""
LEAST_NOISE = (0.020, 0.010, 0.010)
"""Floors of the board's noise in log lightness and the two log hues: stains, moiré, JPEG."""
LEAST_AREA = 0.012
"""Share of the picture below which nothing is taken for a leaf."""
LEAST_SEED = 0.7 * LEAST_AREA
LEAST_GREY = 0.0006
"""The same for what is surely wood, of which the rim is lacking, and for a grey thing."""
NEUTRAL_HUE = 0.15
"""|log(red/blue)| below which a thing, as photographed, is grey: warm lamps make a grey strip 0.08
to 0.12. Wood, from maple to walnut, lies above 0.2: hue angles 27 to 82 degrees over 98 tropical
species (see README, Sources)."""
FAINT_DISTANCE = 2.6
"""The same as `SEED_DISTANCE` for what is calmed over a patch: the steps of a JPEG's colours stay
below 2.3."""
FIGURE_TELLS = 2.0
"""Weight of the swing of lightness within a patch beside hue."""
MOST_SWING = 4.0
"""Standard deviations of lightness beyond which figure tells no more: bark, a dark knot."""
HUE_SEES = 0.6
"""Hue alone is trusted if it finds this share of what hue and lightness find together; the rest
is then shadow or a strip that touches the leaf."""
FULL_SHARE = 0.93
"""Share of its convex hull that a whole leaf fills."""
WHOLE_SIDE = 0.9
"""Share of a side of the picture from which what touches it is no leaf but the table."""
WARM_SHARE = 0.4
"""Share of warm things among all that is not board from which what is grey is no leaf."""
SMALL_SHARE = 0.03
SMALL_NEUTRAL_HUE = 0.3
SMALL_FLAT_SHARE = 0.75
"""A thing of less than that share of the picture may be warmer, by a lamp's cast, and is yet a
paper label or a strip if that share of it is flat."""
FLAT_SHARE = 0.6
"""Share of flat pixels from which a grey thing is a grey strip, not a grey-dyed leaf."""


def disc(size: int) -> NDArray[np.uint8]:
    """Return a disc so many pixels across, for eroding and dilating."""
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)


def grown(mask: NDArray[np.uint8], element: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a mask dilated."""
    return np.asarray(cv2.dilate(mask, element), dtype=np.uint8)


FIVE = disc(5)


def board_noise(board: Board) -> NDArray[np.float64]:
    """Return the standard deviations of the board in hues (see `to_hues`), not below the floor."""
    return np.maximum(hue_noise(board.noise), LEAST_NOISE)


def seed_parts(board: Board) -> tuple[list[NDArray[np.bool_]], NDArray[np.uint8]]:
    """Return what is surely wood, part by part, and (1) the grey things beside it.

    Wood is found by hue where hue tells, else by lightness too.

    What is warm and lighter than the board counts with hue, for no shadow is lighter: sapwood may
    have the hue of a brown board. Hue does not see shadows, nor grey things on a grey board; but
    on a board of the wood's own hue it sees little else than the grey things, and then lightness
    must help.
    """
    calmed = np.asarray(cv2.GaussianBlur(board.ratio, (0, 0), 0.8), dtype=np.float32)
    hues = to_hues(calmed, noise=board_noise(board))
    light, red, green = cv2.split(hues)
    by_hue = cv2.magnitude(red, green) > SEED_DISTANCE
    warm = _redness(board.log_light) > NEUTRAL_HUE
    by_hue |= warm & (light > SEED_DISTANCE)
    by_any = by_hue | (np.abs(light) > SEED_DISTANCE)
    grey = _grey_beside(board, by_any, warm)
    by_hue &= grey == 0
    by_any &= grey == 0
    found, refused = [], []
    for mask in (by_hue, by_any):
        parts = _parts(_close_and_open(mask.view(np.uint8)))
        no_leaf = [_is_grey_thing(board, part) or _is_past_board(part) for part in parts]
        found.append([part for part, no in zip(parts, no_leaf, strict=True) if not no])
        refused.append([part for part, no in zip(parts, no_leaf, strict=True) if no])
    areas = [max(map(np.count_nonzero, parts), default=0) for parts in found]
    hue_is_enough = areas[0] > 0 and areas[0] >= HUE_SEES * areas[1] and _is_full(found[0][0])
    chosen = 0 if hue_is_enough else 1
    known = (by_any & ~warm).view(np.uint8) | grey
    for part in (*found[chosen], *refused[chosen]):
        known |= part.view(np.uint8)
    return _grow_parts(found[chosen], _faint_wood(hues, known, warm)), grey


def _grey_beside(
    board: Board, by_any: NDArray[np.bool_], warm: NDArray[np.bool_]
) -> NDArray[np.uint8]:
    """Mark (1) grey things that may touch a leaf, such as a strip; none if no warm leaf is seen."""
    warm_px, any_px = np.count_nonzero(by_any & warm), np.count_nonzero(by_any)
    if warm_px < max(LEAST_AREA * warm.size, WARM_SHARE * any_px):
        return np.zeros(warm.shape, np.uint8)
    grey = (by_any & ~warm).view(np.uint8)
    grey = np.asarray(cv2.morphologyEx(grey, cv2.MORPH_OPEN, np.ones((9, 9), np.uint8)), np.uint8)
    beside = np.zeros_like(grey)
    for part in _parts(grey, least=LEAST_GREY):
        if _is_grey_thing(board, part):
            beside |= part.view(np.uint8)
    return grown(beside, np.ones((3, 3), np.uint8))


def _faint_wood(
    hues: NDArray[np.float32], known: NDArray[np.uint8], warm: NDArray[np.bool_]
) -> NDArray[np.uint8]:
    """Mark (1) what hue or figure, calmed over a patch, sets apart from the board.

    Wood is warm and has figure where the board is plain; no shadow has hue or figure. What is
    ``known``, as wood or as a grey thing, is left out with its edges.
    """
    rows, columns = known.shape
    size = (columns // 2, rows // 2)
    half = cv2.resize(hues, size, interpolation=cv2.INTER_AREA)
    near = cv2.resize(known * np.uint8(255), size, interpolation=cv2.INTER_AREA)
    half[cv2.dilate(near, FIVE) > 0] = 0
    light, red, green = cv2.split(half)
    figure = np.clip(light - cv2.blur(light, (5, 5)), -MOST_SWING, MOST_SWING)
    planes = cv2.merge([red, green, figure * figure])
    red, green, swing = cv2.split(cv2.GaussianBlur(planes, (0, 0), 1.5))
    score = red**2 + green**2 + FIGURE_TELLS**2 * swing
    least = max(FAINT_DISTANCE**2, 9 * float(np.median(score[::2, ::2])))
    opened = cv2.morphologyEx(
        (score > least).view(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8)
    )
    inner = cv2.erode(opened, np.ones((3, 3), np.uint8))
    wide = np.asarray(cv2.resize(inner, (columns, rows), interpolation=cv2.INTER_NEAREST))
    wide[~warm] = 0
    return wide.astype(np.uint8)


def _grow_parts(
    parts: list[NDArray[np.bool_]], beyond: NDArray[np.uint8]
) -> list[NDArray[np.bool_]]:
    """Return the parts with the faint wood that goes on from them, where that is more than a rim.

    Parts that faint wood joins become one: a leaf is not cut in two by a band of the board's tone.
    """
    if not parts or not beyond.any():
        return parts
    sure = np.zeros_like(beyond)
    for part in parts:
        sure |= part.view(np.uint8)
    wide = np.ones((15, 15), np.uint8)
    bridge = grown(beyond, wide) & grown(sure, wide)
    joined = _parts(_close_and_open(sure | beyond | bridge))
    return [part for part in joined if (part & sure.view(np.bool_)).any()]


def _redness(log_light: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.asarray(cv2.transform(log_light, np.array([[1, 0, -1]], np.float32)), np.float32)


def _close_and_open(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    closing = FIVE
    opening = FIVE
    mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, closing), dtype=np.uint8)
    return np.asarray(cv2.morphologyEx(fill(mask), cv2.MORPH_OPEN, opening), dtype=np.uint8)


def _is_full(part: NDArray[np.bool_]) -> bool:
    """Tell whether a part is as full as a leaf is, not eaten into."""
    contours, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    longest = max(contours, key=cv2.contourArea)
    hull = float(cv2.contourArea(cv2.convexHull(longest)))
    return hull > 0 and float(cv2.contourArea(longest)) / hull > FULL_SHARE


def fill(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a mask without holes."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros_like(mask)
    cv2.drawContours(filled, contours, -1, 1, cv2.FILLED)
    return filled


def _parts(mask: NDArray[np.uint8], *, least: float = LEAST_SEED) -> list[NDArray[np.bool_]]:
    """Return the larger connected parts of a mask, largest first."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    sized = [(cv2.contourArea(one) + len(one) / 2, one) for one in contours]
    large = [(area, one) for area, one in sized if area >= least * mask.size]
    parts = []
    for _, contour in sorted(large, key=lambda pair: -pair[0])[:8]:
        part = np.zeros_like(mask)
        cv2.drawContours(part, [contour], -1, 1, cv2.FILLED)
        parts.append(part.view(np.bool_))
    return parts


def _is_grey_thing(board: Board, part: NDArray[np.bool_]) -> bool:
    """Tell a grey strip or a row of markers from wood: grey as photographed, in flat fields."""
    x, y, width, height = cv2.boundingRect(part.view(np.uint8))
    window = (slice(y, y + height), slice(x, x + width))
    is_small = np.count_nonzero(part) < SMALL_SHARE * part.size
    part = part[window]
    log_light = board.log_light[window]
    at = np.flatnonzero(part)[::5]
    some = log_light[at // width, at % width]
    redness = abs(float(np.median(some[:, 0] - some[:, 2])))
    if redness > (SMALL_NEUTRAL_HUE if is_small else NEUTRAL_HUE):
        return False
    green = np.ascontiguousarray(log_light[..., 1])
    across = cv2.Scharr(green, cv2.CV_32F, 1, 0, scale=1 / 32)
    along = cv2.Scharr(green, cv2.CV_32F, 0, 1, scale=1 / 32)
    slope = cv2.magnitude(across, along)[part]
    flat = float((slope < 0.03).mean())
    if redness > NEUTRAL_HUE:
        return flat > SMALL_FLAT_SHARE
    return flat > FLAT_SHARE or float((slope > 0.25).mean()) > 0.1


def _is_past_board(part: NDArray[np.bool_]) -> bool:
    """Tell a table seen past the board from a leaf: it takes up a whole side of the picture."""
    sides = (part[0], part[-1], part[:, 0], part[:, -1])
    return max(float(side.mean()) for side in sides) > WHOLE_SIDE
