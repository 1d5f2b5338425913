"""From an outline to a flat leaf with its size: one leaf, or the two of an opened pair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.board import Board
from vision.flags import PhotoFlag
from vision.flatten import Straightened, flatten, long_edges, straighten
from vision.leaf_image import LeafImage
from vision.leaf_size import disagrees_with_typed, measure_size
from vision.markers import Rail
from vision.opened_pair import find_joint, split_outline, split_pair
from vision.openings import Openings
from vision.outline import Outline
from vision.photo import Photo
from vision.readings import LampAndEye, LeafSize, ScaleClass
from vision.shooting_station import ColourMap
from vision.shot import Shot
from vision.station import Station, find_station
from vision.table_map import TableMap

CLIPPED_SHARE = 0.005
"""More than this share of a leaf at an end of the camera's scale is told."""
LEAST_PX_PER_MM = 0.4
"""Below this not even stripes 10 mm apart are safe."""
EDGE_SD = 0.3
"""One standard deviation of a leaf's end or edge, photo pixels (`vision.fine_edge`)."""
OUTLINE_LOSS_PX = 0.4
"""Fine pixels by which the kept outline may depart from the found one."""
ON_TABLE_LOSS_PX = 0.15
"""The same where rails give the outline in millimetres, photo pixels (joined ones, if joined)."""


@dataclass(frozen=True, slots=True, eq=False)
class CutOut:
    """One leaf, flat, with its size and what is doubtful about it."""

    image: LeafImage
    size: LeafSize
    foot: float
    """Where the point under the camera lies, as a fraction of the length from the top."""
    station: LampAndEye
    darkest_board: float
    """Least linear light that the board beside the leaf sends, 0 to 1."""
    outline: tuple[tuple[float, float], ...]
    """In full-size photo pixels."""
    flags: tuple[PhotoFlag, ...]


def cut_out(
    photo: Photo,
    board: Board,
    outlines: Sequence[Outline],
    *,
    shot: Shot,
    rails: tuple[Rail, ...],
    board_rgb: tuple[float, float, float],
    table: TableMap | None = None,
    decode: NDArray[np.float32] | None = None,
    colour: ColourMap | None = None,
    openings: Sequence[Openings] = (),
) -> tuple[CutOut, ...]:
    """Return each outlined leaf, straightened and held against the board.

    Parameters
    ----------
    photo, board
        The photograph, and the light on its board.
    outlines : sequence of Outline
    shot : Shot
        For the typed size.
    rails : tuple of Rail
        Marker rails in view; may be empty.
    board_rgb : tuple of float
        The bundle's board reflectance, linear.
    table : TableMap or None
        Where the rails say that the table lies; tilt and lens are then taken out.
    decode, colour
        As for `flatten`.
    openings : sequence of Openings
        Splits and holes of each outlined leaf, if they were looked for.

    Raises
    ------
    RailsUnfit
        If there is a table but its rails do not flank the leaf; without it the leaf can be read.
    """
    leaves = []
    station = find_station(board.lamp_field, focal_35mm=photo.focal_35mm, table=table)
    for index, outline in enumerate(outlines):
        straight = straighten(outline, table=table, height_mm=shot.thickness_mm or 0.0)
        size = measure_size(straight, shot, rails, edge_sd_px=EDGE_SD)
        image = flatten(
            photo.rgb,
            board.field,
            straight,
            board_rgb=board_rgb,
            px_per_mm=size.px_per_mm,
            edge_loss_px=max(1.0, 0.75 * board.fine_step),
            decode=decode,
            colour=colour,
        )
        if openings:
            image = _cut_open(image, straight, openings[index], edge_px=board.fine_step)
            size = _with_area(size, straight, openings[index])
        size = _in_full_px(size, photo)
        light = _board_beside(board, straight)
        flags = [*_size_faults(size, shot), *_clipped(photo, straight)]
        leaves.append(
            CutOut(
                image=image,
                size=size,
                foot=_foot(photo, straight),
                station=_lamp_and_eye(station, straight),
                darkest_board=float(light.min()),
                outline=_kept_outline(outline.points, photo, board, on_table=table is not None),
                flags=tuple(flags),
            )
        )
    return tuple(leaves)


def _cut_open(
    image: LeafImage, straight: Straightened, openings: Openings, *, edge_px: float
) -> LeafImage:
    """Return the leaf with its splits and holes, and the rims that mix with board, left out."""
    if not openings.polygons:
        return image
    hole = np.zeros(image.on_leaf.shape, np.uint8)
    for polygon in openings.polygons:
        flat = np.round(straight.from_photo(polygon) * 16).astype(np.int32)
        cv2.fillPoly(hole, [flat], 1, lineType=cv2.LINE_8, shift=4)
    reach = 2 * int(np.ceil(max(1.0, 0.75 * edge_px))) + 1
    wide = np.asarray(cv2.dilate(hole, np.ones((reach, reach), np.uint8)), dtype=bool)
    return LeafImage(image.light, image.on_leaf & ~wide, image.px_per_mm)


def _with_area(size: LeafSize, straight: Straightened, openings: Openings) -> LeafSize:
    """Return the size with the wood's area, splits and holes told apart."""
    if size.px_per_mm is None:
        return size
    mm2 = 1 / size.px_per_mm**2
    whole = float(cv2.contourArea(straight.points.astype(np.float32)))
    split, hole = openings.split_area_px, openings.hole_area_px
    return replace(
        size,
        net_area_mm2=(whole - split - hole) * mm2,
        split_area_mm2=split * mm2,
        hole_area_mm2=hole * mm2,
    )


def cut_out_pair(
    photo: Photo,
    board: Board,
    outlines: Sequence[Outline],
    *,
    shot: Shot,
    rails: tuple[Rail, ...],
    board_rgb: tuple[float, float, float],
    table: TableMap | None = None,
    decode: NDArray[np.float32] | None = None,
    colour: ColourMap | None = None,
) -> tuple[CutOut, ...]:
    """Return the left and the right leaf of an opened pair, butted (one outline) or apart (two)."""
    found = cut_out(
        photo,
        board,
        outlines,
        shot=shot,
        rails=rails,
        board_rgb=board_rgb,
        table=table,
        decode=decode,
        colour=colour,
    )
    if len(found) == 2:
        return found
    (pair,) = found
    straight = straighten(outlines[0], table=table, height_mm=shot.thickness_mm or 0.0)
    joint = find_joint(pair.image)
    flags = pair.flags if joint.is_sure else (*pair.flags, PhotoFlag.JOINT_UNCERTAIN)
    rows = len(pair.image.on_leaf)
    y, left, right = long_edges(straight.points)
    line = joint.top_px + (joint.bottom_px - joint.top_px) * y / max(1, rows - 1)
    inner = slice(len(y) // 4, len(y) - len(y) // 4)
    widths = [float(np.median(width[inner])) for width in (line - left, right - line)]
    return tuple(
        replace(
            pair,
            image=side,
            size=_with_width(pair.size, width * photo.reduction),
            outline=_kept_outline(
                straight.in_photo(points), photo, board, on_table=table is not None
            ),
            flags=flags,
        )
        for side, width, points in zip(
            split_pair(pair.image, joint),
            widths,
            split_outline(straight.points, joint, rows=rows),
            strict=True,
        )
    )


def _with_width(size: LeafSize, width_px: float) -> LeafSize:
    scale = size.px_per_mm
    return replace(size, width_px=width_px, width_mm=None if scale is None else width_px / scale)


def _in_full_px(size: LeafSize, photo: Photo) -> LeafSize:
    if photo.reduction == 1:
        return size
    return replace(
        size,
        length_px=size.length_px * photo.reduction,
        width_px=size.width_px * photo.reduction,
        px_per_mm=None if size.px_per_mm is None else size.px_per_mm * photo.reduction,
    )


def _foot(photo: Photo, straight: Straightened) -> float:
    """Return where the point under the camera meets the leaf: without a table, the middle."""
    rows, columns = photo.rgb.shape[:2]
    lies = straight.on_table
    under = np.array([(columns - 1) / 2, (rows - 1) / 2]) if lies is None else lies.table.eye_mm[:2]
    along = straight.to_base[:, 1]
    y = float(along @ (under - straight.to_base[:, 2]) / (along @ along))
    top, bottom = straight.points[:, 1].min(), straight.points[:, 1].max()
    return float((y - top) / (bottom - top))


def _lamp_and_eye(station: Station, straight: Straightened) -> LampAndEye:
    across, along = straight.to_base[:, 0], straight.to_base[:, 1]
    unit = float(np.linalg.norm(along))
    length = straight.length_px * unit
    lamp = np.array(station.lamp)
    return LampAndEye(
        lamp_along=float(along @ lamp) / unit / length,
        lamp_across=float(across @ lamp) / unit / length,
        lamp_height=station.lamp_height / length,
        eye_height=station.eye_height / length,
    )


def _size_faults(size: LeafSize, shot: Shot) -> list[PhotoFlag]:
    flags = []
    if size.scale_class is ScaleClass.NONE:
        flags.append(PhotoFlag.SCALE_MISSING)
    elif size.px_per_mm is not None and size.px_per_mm < LEAST_PX_PER_MM:
        flags.append(PhotoFlag.LOW_RESOLUTION)
    if disagrees_with_typed(size, shot):
        flags.append(PhotoFlag.SIZE_DISAGREES)
    return flags


def _board_beside(board: Board, straight: Straightened) -> NDArray[np.float32]:
    """Return the light that the board sends under the leaf, from its upper to its lower end."""
    columns, rows = straight.size_px
    y = np.linspace(0, rows - 1, 24)
    places = straight.in_photo(np.stack([np.full_like(y, columns / 2), y], axis=1))
    return np.asarray(board.field.at(places[:, 0], places[:, 1]).mean(axis=1))


def _clipped(photo: Photo, straight: Straightened) -> list[PhotoFlag]:
    flags = []
    sample = _pixels_inside(photo.rgb, straight)
    if float((sample >= 254).any(axis=1).mean()) > CLIPPED_SHARE:
        flags.append(PhotoFlag.CLIPPED_LIGHT)
    if float((sample <= 1).all(axis=1).mean()) > CLIPPED_SHARE:
        flags.append(PhotoFlag.CLIPPED_DARK)
    return flags


def _pixels_inside(rgb: NDArray[np.uint8], straight: Straightened) -> NDArray[np.uint8]:
    """Return every few pixels of the leaf, untouched, for counting what is clipped."""
    columns, rows = straight.size_px
    x = np.linspace(0.06, 0.94, 60) * columns
    y = np.linspace(0.02, 0.98, 300) * rows
    xx, yy = np.meshgrid(x, y)
    at = straight.in_photo(np.stack([xx.ravel(), yy.ravel()], axis=1))
    index = np.round(at).astype(int)
    index = np.clip(index, 0, [rgb.shape[1] - 1, rgb.shape[0] - 1])
    return np.asarray(rgb[index[:, 1], index[:, 0]])


def _kept_outline(
    points: NDArray[np.float64], photo: Photo, board: Board, *, on_table: bool
) -> tuple[tuple[float, float], ...]:
    """Return an outline slimmed to what it may lose: less where rails give it in millimetres."""
    loss = ON_TABLE_LOSS_PX if on_table else OUTLINE_LOSS_PX * board.fine_step
    slim = cv2.approxPolyDP(points.astype(np.float32)[:, None, :], loss, closed=True)[:, 0, :]
    full = (slim + 0.5) * photo.reduction - 0.5
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in full)
