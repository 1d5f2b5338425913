"""Leaf against board: the outline of every leaf in a photograph."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.errors import LeafNotFound
from vision.leaf_mask import bridge_splits, fill_bays
from vision.leaf_seeds import FIVE, LEAST_AREA, board_noise, disc, fill, grown, seed_parts
from vision.wood_edge import LEAST_APART, WoodScale, like_board, scale_wood, to_hues, trace

MOST_SLENDER = 45.0
"""Length over width beyond which a thing is no leaf: 60 mm by 2.4 m, a narrow one, has 40."""
SECOND_LEAF = 0.25
"""A second wooden thing of at least this share of the first one's area is a leaf too."""
PAD_PX = 12
"""Fine pixels of board round a leaf in which its edge is sought."""


@dataclass(frozen=True, slots=True, eq=False)
class Within:
    """What lies within an outline, in a window of the fine picture.

    Parameters
    ----------
    mask : ndarray of uint8, shape (rows, columns)
        1 within the outline.
    share : ndarray of float32, shape (rows, columns)
        How much of each pixel is wood.
    scale : WoodScale
        How that was read.
    corner : tuple of int
        Column and row of the window's first pixel in the fine picture.
    """

    mask: NDArray[np.uint8]
    share: NDArray[np.float32]
    scale: WoodScale
    corner: tuple[int, int]


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
    within : Within or None
        Where splits and holes are looked for; None for an outline drawn by hand.
    """

    points: NDArray[np.float64]
    area_px: float
    touches_frame: bool
    within: Within | None = None


def find_leaves(board: Board) -> tuple[Outline, ...]:
    """Return the outlines of all leaves in a photograph, left to right; at least one.

    Grey strip, marker rails, shadows and specks are not leaves.

    Raises
    ------
    LeafNotFound
        If nothing in the picture can be a leaf.
    """
    parts, grey = seed_parts(board)
    leaves = [found for part in parts for found in _refine(board, part, grey)]
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


def _refine(board: Board, part: NDArray[np.bool_], grey: NDArray[np.uint8]) -> list[Outline]:
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
    hues = to_hues(board.fine_ratio(*window))
    noise = board_noise(board)
    core = np.asarray(cv2.erode(inside, disc(7)), dtype=np.uint8)
    core = core if core.any() else inside
    may_be_board = like_board(hues, noise)
    scale = scale_wood(hues, core, may_be_board, noise)
    share = scale.share(hues)
    deep = np.asarray(cv2.erode(core, disc(7)), dtype=np.uint8)
    unclear = (scale.apart(hues.shape[1::-1]) < LEAST_APART).view(np.uint8)
    wood = (share > 0.5).view(np.uint8) & grown(inside, disc(13))
    wood |= deep & (~may_be_board | unclear)
    wood[cv2.resize(grey, (columns, rows), interpolation=cv2.INTER_NEAREST)[window] > 0] = 0
    mask = fill(np.asarray(cv2.morphologyEx(wood, cv2.MORPH_OPEN, FIVE), dtype=np.uint8))
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    areas = [cv2.contourArea(contour) for contour in contours]
    found = []
    for contour, area in zip(contours, areas, strict=True):
        if area < max(SECOND_LEAF * max(areas), 1.0):
            continue
        one = np.zeros_like(mask)
        cv2.drawContours(one, [contour], -1, 1, cv2.FILLED)
        others = mask - one
        one = bridge_splits(one, wood & ~grown(others, FIVE))
        one = fill_bays(one, hues, noise)
        one[others > 0] = 0
        within = Within(one, share, scale, (left, top))
        outline = _trace(within, board)
        if outline is not None:
            found.append(outline)
    return found


def _trace(within: Within, board: Board) -> Outline | None:
    """Return where the share of wood is one half round a mask of the fine picture's window."""
    mask, (left, top) = within.mask, within.corner
    core = cv2.erode(mask, np.ones((3, 3), np.uint8))
    reach = cv2.dilate(mask, np.ones((3, 3), np.uint8))
    soft = np.clip(within.share, 0, 1) * reach
    soft[core > 0] = 1
    line = trace(soft)
    if line is None:
        return None
    points = (line + within.corner + 0.5) * board.fine_step - 0.5
    height, width = mask.shape
    rows, columns = board.fine.shape[:2]
    touches = (
        (top == 0 and mask[0].any())
        or (left == 0 and mask[:, 0].any())
        or (top + height == rows and mask[-1].any())
        or (left + width == columns and mask[:, -1].any())
    )
    area = float(cv2.contourArea(points.astype(np.float32)))
    return Outline(points, area, bool(touches), within)


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
