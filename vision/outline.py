"""Leaf against board: the outline of every leaf in a photograph."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.measure import find_contours

from vision.board import Board
from vision.errors import LeafNotFound

SEED_DISTANCE = 7.0
"""Standard deviations of the board beyond which a working pixel is surely not board."""
LEAST_NOISE = (0.020, 0.010, 0.010)
"""Floors of the board's noise in log lightness and the two log hues: stains, moiré, JPEG."""
LEAST_AREA = 0.012
"""Share of the picture below which nothing is taken for a leaf."""
MOST_SLENDER = 45.0
"""Length over width beyond which a thing is no leaf: 60 mm by 2.4 m, a narrow one, has 40."""
SECOND_LEAF = 0.25
"""A second wooden thing of at least this share of the first one's area is a leaf too."""
NEUTRAL_HUE = 0.15
"""|log(red/blue)| below which a thing, as photographed, is grey: warm lamps make a grey strip 0.08
to 0.12. Wood, from maple to walnut, lies above 0.2: hue angles 27 to 82 degrees over 98 tropical
species (see README, Sources)."""
HUE_SEES = 0.6
"""Hue alone is trusted if it finds this share of what hue and lightness find together; the rest
is then shadow or a strip that touches the leaf."""
FULL_SHARE = 0.93
"""Share of its convex hull that a whole leaf fills."""
WHOLE_SIDE = 0.9
"""Share of a side of the picture from which what touches it is no leaf but the table."""
PAD_PX = 12
"""Fine pixels of board round a leaf in which its edge is sought."""
BAY_SHARE = 0.002
"""Share of a leaf's area from which the bays in its outline are looked at again."""
BAY_HUE = 3.0
"""Standard deviations of the board's hue beyond which the calmed picture of a bay shows wood;
half the leaf's own distance from the board is asked as well, for wood glows on what is near."""
FLAT_SHARE = 0.6
"""Share of flat pixels from which a grey thing is a grey strip, not a grey-dyed leaf."""

_TO_HUES = np.array(
    [[1 / 3, 1 / 3, 1 / 3], [1 / 2, 0, -1 / 2], [-1 / 4, 1 / 2, -1 / 4]], dtype=np.float64
)
"""log RGB -> log lightness, red-blue and green-magenta; the last two do not see shadows."""

_CONTRASTS = np.linspace(-5.0, 5.0, 200)
_HALF_MIXED = np.log((np.exp(_CONTRASTS) + 1) / 2) / _CONTRASTS
"""Log of wood over board, and what part of that log a pixel shows which is half wood."""


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """The closed outline of one leaf (or of a pair butted together).

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        x, y in photo pixels.
    area_px : float
        Area inside, photo pixels squared.
    touches_frame : bool
        True if the picture's edge cuts it.
    """

    points: NDArray[np.float64]
    area_px: float
    touches_frame: bool


def find_leaves(board: Board) -> tuple[Outline, ...]:
    """Return the outlines of all leaves in a photograph, left to right; at least one.

    Grey strip, marker rails, shadows and specks are not leaves.

    Raises
    ------
    LeafNotFound
        If nothing in the picture can be a leaf.
    """
    parts = _seed_parts(board)
    leaves = [found for part in parts for found in _refine(board, part)]
    leaves = [found for found in leaves if not _is_a_lath(found)]
    leaves.sort(key=lambda found: -found.area_px)
    total = board.ratio.shape[0] * board.ratio.shape[1] * board.step**2
    leaves = [
        found
        for found in leaves
        if found.area_px >= LEAST_AREA * total and found.area_px >= SECOND_LEAF * leaves[0].area_px
    ]
    if not leaves:
        raise LeafNotFound(
            "No leaf was found: nothing but board, strip or markers is in view. Lay one leaf on "
            "a plain board whose tone differs from it, and keep the whole leaf in the picture."
        )
    return tuple(sorted(leaves, key=lambda found: float(found.points[:, 0].mean())))


def _is_a_lath(outline: Outline) -> bool:
    """Tell a wooden rule or a batten from a leaf: far longer for its width than any leaf."""
    _, sides, _ = cv2.minAreaRect(outline.points.astype(np.float32))
    return max(sides) > MOST_SLENDER * max(min(sides), 1.0)


def _hues(ratio: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.asarray(cv2.transform(ratio, _TO_HUES.astype(np.float32)), dtype=np.float32)


def _ratio(hues: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return log(photo / board) per channel: `_hues` undone."""
    back = np.linalg.inv(_TO_HUES).astype(np.float32)
    return np.asarray(cv2.transform(hues, back), dtype=np.float32)


def _noise(board: Board) -> NDArray[np.float64]:
    covariance = _TO_HUES @ board.noise @ _TO_HUES.T
    return np.maximum(np.sqrt(np.diag(covariance)), LEAST_NOISE)


def _seed_parts(board: Board) -> list[NDArray[np.bool_]]:
    """Return what is surely wood, part by part: by hue where hue tells, else by lightness too.

    What is warm and lighter than the board counts with hue, for no shadow is lighter: sapwood may
    have the hue of a brown board. Hue does not see shadows, nor grey things on a grey board; but
    on a board of the wood's own hue it sees little else than the grey things, and then lightness
    must help.
    """
    calmed = np.asarray(cv2.GaussianBlur(board.ratio, (0, 0), 0.8), dtype=np.float32)
    to_hues = _TO_HUES / _noise(board)[:, None]
    hues = np.asarray(cv2.transform(calmed, to_hues.astype(np.float32)), dtype=np.float32)
    by_hue = np.hypot(hues[..., 1], hues[..., 2]) > SEED_DISTANCE
    warm = cv2.subtract(board.log_light[..., 0], board.log_light[..., 2]) > NEUTRAL_HUE
    by_hue |= warm & (hues[..., 0] > SEED_DISTANCE)
    by_any = by_hue | (np.abs(hues[..., 0]) > SEED_DISTANCE)
    found = [
        [
            part
            for part in _parts(_close_and_open(mask.astype(np.uint8)))
            if not _is_grey_thing(board, part) and not _is_past_board(part)
        ]
        for mask in (by_hue, by_any)
    ]
    areas = [max((int(part.sum()) for part in parts), default=0) for parts in found]
    hue_is_enough = areas[0] > 0 and areas[0] >= HUE_SEES * areas[1] and _is_full(found[0][0])
    return found[0] if hue_is_enough else found[1]


def _close_and_open(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    closing = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    opening = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, closing), dtype=np.uint8)
    return np.asarray(cv2.morphologyEx(_fill(mask), cv2.MORPH_OPEN, opening), dtype=np.uint8)


def _is_full(part: NDArray[np.bool_]) -> bool:
    """Tell whether a part is as full as a leaf is, not eaten into."""
    contours, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    longest = max(contours, key=cv2.contourArea)
    hull = float(cv2.contourArea(cv2.convexHull(longest)))
    return hull > 0 and float(cv2.contourArea(longest)) / hull > FULL_SHARE


def _fill(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros_like(mask)
    cv2.drawContours(filled, contours, -1, 1, cv2.FILLED)
    return filled


def _parts(mask: NDArray[np.uint8]) -> list[NDArray[np.bool_]]:
    """Return the larger connected parts of a mask, largest first."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    order = 1 + np.argsort(-stats[1:count, cv2.CC_STAT_AREA])
    return [
        labels == index
        for index in order[:8]
        if stats[index, cv2.CC_STAT_AREA] >= 0.7 * LEAST_AREA * mask.size
    ]


def _is_grey_thing(board: Board, part: NDArray[np.bool_]) -> bool:
    """Tell a grey strip or a row of markers from wood: grey as photographed, in flat fields."""
    sample = board.log_light.reshape(-1, 3)[np.flatnonzero(part)[::5]]
    if abs(float(np.median(sample[:, 0] - sample[:, 2]))) > NEUTRAL_HUE:
        return False
    across = cv2.Scharr(board.log_light[..., 1], cv2.CV_32F, 1, 0) / 32
    along = cv2.Scharr(board.log_light[..., 1], cv2.CV_32F, 0, 1) / 32
    slope = np.hypot(across[part], along[part])
    return float((slope < 0.03).mean()) > FLAT_SHARE or float((slope > 0.25).mean()) > 0.1


def _is_past_board(part: NDArray[np.bool_]) -> bool:
    """Tell a table seen past the board from a leaf: it takes up a whole side of the picture."""
    sides = (part[0], part[-1], part[:, 0], part[:, -1])
    return max(float(side.mean()) for side in sides) > WHOLE_SIDE


def _refine(board: Board, part: NDArray[np.bool_]) -> list[Outline]:
    """Return the outline at the half-way point between the board and the wood beside it.

    Two leaves a hair apart are one part where leaf and board are told apart, and come apart here.
    """
    rows, columns = board.fine.shape[:2]
    whole = cv2.resize(part.astype(np.uint8), (columns, rows), interpolation=cv2.INTER_NEAREST)
    x, y, width, height = cv2.boundingRect(whole)
    top, bottom = max(0, y - PAD_PX), min(rows, y + height + PAD_PX)
    left, right = max(0, x - PAD_PX), min(columns, x + width + PAD_PX)
    window = (slice(top, bottom), slice(left, right))
    inside = np.asarray(whole[window], dtype=np.uint8)
    hues = _hues(board.fine_ratio(*window))
    share = _wood_share(hues, inside, _noise(board))
    element = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    near = cv2.dilate(inside, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (13, 13)))
    mask = ((share > 0.5) & (near > 0)).astype(np.uint8)
    mask = _fill(np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, element), dtype=np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    areas = stats[1:count, cv2.CC_STAT_AREA]
    noise = _noise(board)
    found = []
    for index in np.flatnonzero(areas >= SECOND_LEAF * areas.max(initial=1)):
        others = (mask > 0) & (labels != index + 1)
        one = _fill_bays((labels == index + 1).astype(np.uint8), hues, noise)
        one[others] = 0
        outline = _trace(one, share, corner=(left, top), board=board)
        if outline is not None:
            found.append(outline)
    return found


def _trace(
    mask: NDArray[np.uint8], share: NDArray[np.float32], *, corner: tuple[int, int], board: Board
) -> Outline | None:
    """Return where the share of wood is one half round a mask of the fine picture's window."""
    core = cv2.erode(mask, np.ones((3, 3), np.uint8))
    reach = cv2.dilate(mask, np.ones((3, 3), np.uint8))
    soft = np.where(core > 0, 1.0, np.where(reach > 0, np.clip(share, 0, 1), 0.0))
    contours: list[NDArray[np.float64]] = find_contours(np.pad(soft, 1), 0.5)  # type: ignore[no-untyped-call]
    if not contours:
        return None
    longest = max(contours, key=len)
    points = (longest[:, ::-1] - 1 + corner + 0.5) * board.fine_step - 0.5
    (left, top), (height, width) = corner, mask.shape
    rows, columns = board.fine.shape[:2]
    touches = (
        (top == 0 and mask[0].any())
        or (left == 0 and mask[:, 0].any())
        or (top + height == rows and mask[-1].any())
        or (left + width == columns and mask[:, -1].any())
    )
    area = float(cv2.contourArea(points.astype(np.float32)))
    return Outline(points, area, bool(touches))


def _fill_bays(
    mask: NDArray[np.uint8], hues: NDArray[np.float32], noise: NDArray[np.float64]
) -> NDArray[np.uint8]:
    """Return the leaf with those bays of its outline filled that show wood, not board.

    Where wood is nearly of the board's tone, single pixels do not tell; many together do. Only hue
    is asked, which sees no shadow, and not the pixels at the edge, which mix wood and board.
    """
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    hull = np.zeros_like(mask)
    cv2.fillConvexPoly(hull, cv2.convexHull(max(contours, key=cv2.contourArea)), 1)
    element = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    bays = cv2.morphologyEx(hull & ~mask & 1, cv2.MORPH_OPEN, element)
    deep = bays & (cv2.dilate(mask, element) == 0)
    if int(deep.sum()) < BAY_SHARE * int(mask.sum()):
        return mask
    tint = hues[..., 1:] / noise[1:].astype(np.float32)
    least = max(BAY_HUE, 0.5 * float(np.hypot(*np.median(tint[mask > 0][::7], axis=0))))
    share = cv2.GaussianBlur(deep.astype(np.float32), (0, 0), 3.0)
    calm = cv2.GaussianBlur(tint * deep[..., None].astype(np.float32), (0, 0), 3.0)
    strength = np.hypot(calm[..., 0], calm[..., 1]) / np.maximum(share, 1e-3)
    is_wood = bays & (strength > least).astype(np.uint8)
    filled = cv2.morphologyEx(mask | is_wood, cv2.MORPH_CLOSE, element)
    filled = _fill(np.asarray(cv2.morphologyEx(filled, cv2.MORPH_OPEN, element), dtype=np.uint8))
    return np.where(cv2.dilate(is_wood, np.ones((9, 9), np.uint8)) > 0, filled, mask)


def _wood_share(
    hues: NDArray[np.float32], inside: NDArray[np.uint8], noise: NDArray[np.float64]
) -> NDArray[np.float32]:
    """Return how much of each pixel is wood: 0 on the board, about 1 on the leaf.

    Between the board (0) and the wood nearby (a local mean) the share is read along the
    direction that parts the two best, Fisher's linear discriminant, with the spread of board and
    of wood figure as the within-class scatter. Light mixes, not its logarithm: a pixel half on a
    pale leaf and half on a dark board is nearer the leaf in log light.
    """
    core = cv2.erode(inside, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7)))
    if not core.any():
        core = inside
    weight = cv2.GaussianBlur(core.astype(np.float32), (0, 0), 6.0)
    blurred = cv2.GaussianBlur(hues * core[..., None].astype(np.float32), (0, 0), 6.0)
    near = blurred / np.maximum(weight, 1e-6)[..., None]
    inner = np.flatnonzero(core)[::5]
    spread = hues.reshape(-1, 3)[inner] - near.reshape(-1, 3)[inner]
    scatter = np.cov(spread.T, dtype=np.float64) + np.diag(noise**2)
    direction = cv2.transform(near, np.linalg.inv(scatter).astype(np.float32))
    total = np.ones((1, 3), np.float32)
    along = cv2.transform(direction * hues, total)
    whole = np.maximum(cv2.transform(direction * near, total), 1e-6)
    share = np.asarray(along / whole, dtype=np.float32)
    mixed = _hues(np.log((np.exp(_ratio(near.astype(np.float32))) + 1) / 2))
    half = (direction * mixed).sum(axis=2) / whole
    contrast = np.interp(half, _HALF_MIXED, _CONTRASTS).astype(np.float32)
    share = np.expm1(contrast * np.clip(share, -1.0, 2.0)) / np.expm1(contrast)
    return np.where(weight > 1e-5, share, 0.0).astype(np.float32)


def choose_leaves(found: tuple[Outline, ...], *, pair: bool) -> tuple[Outline, ...]:
    """Return the leaves that the shot list promises: one, or a pair (butted or apart).

    Raises
    ------
    LeafNotFound
        If there is another number of leaves, or the picture's edge cuts one.
    """
    if any(outline.touches_frame for outline in found):
        raise LeafNotFound(
            "The edge of the picture cuts the leaf; the whole leaf is needed. Step back or move "
            "the leaf until board shows all round it."
        )
    if len(found) > (2 if pair else 1):
        raise LeafNotFound(
            f"{len(found)} leaves lie in the picture, {'two' if pair else 'one'} needed. Take "
            "the others away"
            + ("." if pair else ", or list the photograph as opened-pair with LEFT+RIGHT.")
        )
    return found
