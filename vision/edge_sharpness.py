"""How sharp a photograph is, read at edges: those of the leaf and those of things on the board.

An edge shows the lens and the camera's rest whatever the wood. The gradient across it is taken at
two scales; how much it falls from the finer to the coarser tells the blur already there, without
knowing the contrast (Zhuo and Sim, Pattern Recognition 44, 2011, with two re-blurs for one).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.flatten import Straightened

Doubles = NDArray[np.float64]
Floats = NDArray[np.float32]

HALF_ACROSS_PX = 26
"""Half the width of the strip read across an edge."""
ALONG_PX = 24
"""Length of edge over which noise and pores are averaged."""
FINE_PX, COARSE_PX = 1.0, 3.0
"""The two scales, standard deviations."""
LARGEST_PX = 12.0
"""Blur beyond this is not told from this."""
CENTRE_PX = 10
"""How far from the place that was asked for the edge may lie."""
LEAST_SLOPE = 0.5
"""Levels per px at the coarser scale from which there is an edge to read."""
EDGE_PLACES = 16
"""Places on each long edge."""
END_PLACES = 6
"""Places on each end."""
THINGS = 18
"""Places on the board."""
PARTS = 4
"""Parts of the leaf's length that are compared."""
LEAST_PLACES = 3
"""Places that make a part known."""
CELL_PX = 40
"""Coarse pixels in which at most one edge of the board is taken."""
CLEAR_PX = 15
"""Side, coarse px, of the square that keeps clear of the leaf itself."""
THING_SLOPE = 0.12
"""Log light per coarse pixel that makes an edge of a thing on the board."""


@dataclass(frozen=True, slots=True, eq=False)
class Sharpness:
    """Blur, standard deviation in photo pixels, at places in the photograph.

    ``nan`` where the contrast was too low to tell.
    """

    sides: Doubles
    """At the long edges, shape (2, `EDGE_PLACES`), from the upper end to the lower."""
    ends: Doubles
    """At the upper and the lower end, shape (2, `END_PLACES`)."""
    things: Doubles
    """At edges of things on the board."""
    things_across: NDArray[np.bool_]
    """Whether those edges are sharp or soft across the leaf (else along it)."""

    @property
    def whole_px(self) -> float:
        """Blur that nothing in the picture escapes, across or along the leaf, whichever is worse.

        A camera that moved smears one direction alone. The sharpest quarter counts: waney and torn
        edges are soft of themselves.
        """
        across = _least(_quarter(self.sides), _quarter(self.things[self.things_across]))
        along = _least(_quarter(self.ends), _quarter(self.things[~self.things_across]))
        return max(across, along)

    @property
    def uneven_px(self) -> float:
        """Blur that one part of the leaf has beyond the sharpest part, or beyond the board."""
        parts = [_middle(part) for part in np.array_split(self.sides, PARTS, axis=1)]
        best = _least(*parts, _quarter(self.things[self.things_across]))
        worst = max((part for part in parts if np.isfinite(part)), default=best)
        return float(np.sqrt(max(0.0, worst**2 - best**2)))


def measure_sharpness(rgb: NDArray[np.uint8], board: Board, straight: Straightened) -> Sharpness:
    """Return how sharp the leaf's outline and the things on the board are."""
    places, normals = _outline_places(straight)
    at_things, thing_normals = _things_on_board(board, straight)
    blur = _blur_at(
        rgb, np.concatenate([places, at_things]), np.concatenate([normals, thing_normals])
    )
    sides = blur[: 2 * EDGE_PLACES].reshape(2, EDGE_PLACES)
    ends = blur[2 * EDGE_PLACES : len(places)].reshape(2, END_PLACES)
    across = straight.to_photo[:, 0]
    is_across = np.abs(thing_normals @ across) > np.sqrt(0.5)
    return Sharpness(sides, ends, blur[len(places) :], is_across)


def _quarter(blur: Doubles) -> float:
    return _quantile(blur, 0.25)


def _middle(blur: Doubles) -> float:
    return _quantile(blur, 0.5)


def _quantile(blur: Doubles, share: float) -> float:
    known = blur[np.isfinite(blur)]
    return float(np.quantile(known, share)) if len(known) >= LEAST_PLACES else float("nan")


def _least(*blur: float) -> float:
    return min((one for one in blur if np.isfinite(one)), default=0.0)


def _outline_places(straight: Straightened) -> tuple[Doubles, Doubles]:
    """Return places on the outline and the directions across it, photo pixels."""
    points = straight.points
    low, high = points.min(axis=0), points.max(axis=0)
    middle = (low[0] + high[0]) / 2
    heights = low[1] + np.linspace(0.04, 0.96, EDGE_PLACES) * (high[1] - low[1])
    across = low[0] + np.linspace(0.2, 0.8, END_PLACES) * (high[0] - low[0])
    centre = (low[1] + high[1]) / 2
    x, y = points[:, 0], points[:, 1]
    sides = [_nearest(y, side, heights) for side in (x < middle, x >= middle)]
    ends = [_nearest(x, side, across) for side in (y < centre, y >= centre)]
    index = np.concatenate([*sides, *ends])
    apart = float(np.median(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    reach = max(1, round(ALONG_PX / 2 / max(apart, 1e-6)))
    count = len(points)
    chord = points[(index + reach) % count] - points[(index - reach) % count]
    turn = straight.to_photo[:, :2]
    chord = chord / np.maximum(np.linalg.norm(chord, axis=1, keepdims=True), 1e-9) @ turn.T
    return points[index] @ turn.T + straight.to_photo[:, 2], np.stack(
        [chord[:, 1], -chord[:, 0]], axis=1
    )


def _nearest(along: Doubles, side: NDArray[np.bool_], wanted: Doubles) -> NDArray[np.intp]:
    """Return which points of one side lie nearest to the wanted places."""
    own = np.flatnonzero(side)
    return np.asarray(own[np.abs(along[own] - wanted[:, None]).argmin(axis=1)])


def _things_on_board(board: Board, straight: Straightened) -> tuple[Doubles, Doubles]:
    """Return places and directions of the strongest edges beside the leaf, photo pixels."""
    light = np.ascontiguousarray(board.ratio[..., 1])
    rows, columns = light.shape
    across = cv2.Scharr(light, cv2.CV_32F, 1, 0, scale=1 / 32)
    along = cv2.Scharr(light, cv2.CV_32F, 0, 1, scale=1 / 32)
    strength = cv2.magnitude(across, along)
    photo = straight.points @ straight.to_photo[:, :2].T + straight.to_photo[:, 2]
    corners = np.round((photo + 0.5) / board.step - 0.5).astype(np.int32)
    beside = np.ones(light.shape, np.uint8)
    cv2.fillPoly(beside, [corners], 0)
    apart = cv2.erode(beside, np.ones((CLEAR_PX, CLEAR_PX), np.uint8))
    strength = np.asarray(strength * apart, np.float32)
    whole = strength[: rows // CELL_PX * CELL_PX, : columns // CELL_PX * CELL_PX]
    cells = whole.reshape(rows // CELL_PX, CELL_PX, columns // CELL_PX, CELL_PX)
    flat = cells.transpose(0, 2, 1, 3).reshape(-1, CELL_PX * CELL_PX)
    best = flat.argmax(axis=1)
    order = np.argsort(-flat[np.arange(len(flat)), best])[:THINGS]
    order = order[flat[order, best[order]] > THING_SLOPE]
    y = order // (columns // CELL_PX) * CELL_PX + best[order] // CELL_PX
    x = order % (columns // CELL_PX) * CELL_PX + best[order] % CELL_PX
    normal = np.stack([across[y, x], along[y, x]], axis=1).astype(np.float64)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    return (np.stack([x, y], axis=1) + 0.5) * board.step - 0.5, normal


def _blur_at(rgb: NDArray[np.uint8], places: Doubles, normals: Doubles) -> Doubles:
    """Return the blur of the edge at each place, standard deviation in photo pixels."""
    strips = _strips(rgb, places, normals)
    lined = _line_up(strips)
    edge = lined.mean(axis=1)
    fine, coarse = (_slope(edge, sd) for sd in (FINE_PX, COARSE_PX))
    middle = slice(HALF_ACROSS_PX - CENTRE_PX, HALF_ACROSS_PX + CENTRE_PX + 1)
    at = coarse[:, middle].argmax(axis=1) + middle.start
    near = np.clip(at[:, None] + np.arange(-2, 3), 0, edge.shape[1] - 1)
    each = np.arange(len(edge))
    sharp = np.take_along_axis(fine, near, axis=1).max(axis=1, initial=0)
    soft = coarse[each, at]
    fall = np.maximum((sharp / np.maximum(soft, 1e-9)) ** 2, 1.0)
    square = (COARSE_PX**2 - fall * FINE_PX**2) / np.maximum(fall - 1, 1e-3)
    blur = np.sqrt(np.clip(square, 0.0, LARGEST_PX**2))
    return np.where(soft >= LEAST_SLOPE, blur, np.nan)


def _strips(rgb: NDArray[np.uint8], places: Doubles, normals: Doubles) -> Floats:
    """Return levels across each edge, shape (places, `ALONG_PX`, width), in its best channels."""
    across = np.arange(-HALF_ACROSS_PX, HALF_ACROSS_PX + 1, dtype=np.float64)
    along = np.arange(ALONG_PX) - (ALONG_PX - 1) / 2
    edge = np.stack([-normals[:, 1], normals[:, 0]], axis=1)
    at = (
        places[:, None, None, :]
        + across[:, None] * normals[:, None, None, :]
        + along[:, None, None] * edge[:, None, None, :]
    ).astype(np.float32)
    rows, width = len(places) * ALONG_PX, len(across)
    seen = cv2.remap(
        rgb,
        at[..., 0].reshape(rows, width),
        at[..., 1].reshape(rows, width),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    channels = np.asarray(seen, np.float32).reshape(len(places), ALONG_PX * width, 3)
    inside = np.tile(across < -4, ALONG_PX).astype(np.float32)
    outside = np.tile(across > 4, ALONG_PX).astype(np.float32)
    step = (outside - inside) @ channels
    weight = step / np.maximum(np.abs(step).sum(axis=1, keepdims=True), 1e-6)
    return np.asarray((channels @ weight[..., None]).reshape(len(places), ALONG_PX, width))


def _line_up(strips: Floats) -> Floats:
    """Return the strips with each line moved so that a straight or bent edge stands upright."""
    lines, width = strips.shape[1:]
    calm = cv2.blur(strips.reshape(-1, width), (5, 1)).reshape(strips.shape)
    calm[:, 2:-2] = (calm[:, :-4] + calm[:, 1:-3] + calm[:, 2:-2] + calm[:, 3:-1] + calm[:, 4:]) / 5
    slope = np.maximum(calm[:, :, 2:] - calm[:, :, :-2], 0)
    middle = slice(HALF_ACROSS_PX - CENTRE_PX - 1, HALF_ACROSS_PX + CENTRE_PX)
    weight = slope[:, :, middle] ** 2
    off = np.arange(-CENTRE_PX, CENTRE_PX + 1, dtype=np.float32)
    total = weight.sum(axis=2) + 1e-6
    crossing = (weight * off).sum(axis=2) / total
    along = np.linspace(-1, 1, lines)
    basis = np.stack([np.ones(lines), along, along**2 - 1 / 3], axis=1)
    fit = crossing @ (basis @ np.linalg.inv(basis.T @ basis)) @ basis.T
    start = (np.arange(width) + fit[..., None]).astype(np.float32).reshape(-1, width)
    line = np.repeat(np.arange(len(start), dtype=np.float32)[:, None], width, axis=1)
    lined = cv2.remap(
        strips.reshape(-1, width), start, line, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(lined.reshape(strips.shape), np.float32)


def _slope(edge: Floats, sd: float) -> Floats:
    """Return the gradient along each row, smoothed with a Gaussian."""
    reach = int(np.ceil(3.5 * sd)) + 1
    at = np.arange(-reach, reach + 1)
    bell = np.exp(-(at**2) / (2 * sd**2))
    kernel = -(at * bell) / (at**2 * bell).sum()
    # correlation with the derivative of a Gaussian, scaled to unit slope on a unit ramp
    return np.asarray(cv2.filter2D(edge, -1, -kernel[None].astype(np.float32)), np.float32)
