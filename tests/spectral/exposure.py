"""Light on the sensor of a photograph, and what the camera's electronics make of it.

Colour is added up over the spectrum once for each surface and each lamp; a pixel then only mixes
those, lamp by lamp, with the light that falls on its place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.spectral.bands import Doubles
from tests.spectral.camera import Camera
from tests.spectral.lamps_and_sensors import Sight
from tests.spectral.printed_rails import Patch
from tests.spectral.table_scene import SPECK_MM, Leaf, Table, look_up

Floats = NDArray[np.float32]

STRIP_ROWS = 480
RIM = 8
"""Rows above and below a strip that are drawn for the sake of its blur."""
NODE_PX = 16
BOARD_TEXTURE = 0.010
"""Standard deviation of the board's own unevenness, a fraction."""


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A printed rectangle as it lands in the picture."""

    x: slice
    y: slice
    share: Floats
    """How much of each pixel it covers."""
    colour: Doubles
    """Raw R, G, B under each lamp, shape (n, 3)."""


def light_on_sensor(
    table: Table, camera: Camera, sight: Sight, rng: np.random.Generator, *, blur_px: float = 0.55
) -> Iterator[tuple[slice, Floats]]:
    """Yield strips of the picture: rows, and raw R, G, B (a white under light 1 has G = 1)."""
    width, height = camera.photo_px
    drawn = [one for patch in table.patches() if (one := _draw(patch, table, camera, sight))]
    board = sight.rgb(table.board)
    speckle = 1 + BOARD_TEXTURE * rng.standard_normal((512, width + 64), np.float32)
    speckle = cv2.GaussianBlur(speckle, (0, 0), 0.8)
    for start in range(0, height, STRIP_ROWS):
        stop = min(start + STRIP_ROWS, height)
        rows = slice(start - RIM, stop + RIM)
        tall = rows.stop - rows.start
        shift = int(rng.integers(64))
        light = _light(table, camera, slice(0, width), rows, height_mm=0.0)
        raw = _lit(light, board) * speckle[:tall, shift : shift + width, None]
        for one in drawn:
            _lay(raw, light, one, rows)
        if table.leaf is not None:
            _lay_leaf(raw, table, camera, sight, rows)
        if blur_px > 0:
            raw = cv2.GaussianBlur(raw, (0, 0), blur_px)
        yield slice(start, stop), np.ascontiguousarray(raw[RIM : tall - RIM])


def _lit(light: Floats, colour: Doubles) -> Floats:
    """Return raw R, G, B where each lamp's light falls on one colour."""
    return np.asarray(cv2.transform(light, np.ascontiguousarray(colour.T, np.float32)))


def _draw(patch: Patch, table: Table, camera: Camera, sight: Sight) -> Drawn | None:
    at = camera.to_px(patch.corners)
    width, height = camera.photo_px
    x0, y0 = np.maximum(np.floor(at.min(axis=0)).astype(int) - 2, 0)
    x1, y1 = np.minimum(np.ceil(at.max(axis=0)).astype(int) + 3, (width, height))
    if x1 <= x0 or y1 <= y0:
        return None
    if max(x1 - x0, y1 - y0) > 400:
        share = _share_on_table(patch.corners, camera, slice(x0, x1), slice(y0, y1))
    else:
        share = _share(at, x0, x1, y0, y1)
        for cell in patch.white_cells:
            share -= _share(camera.to_px(cell), x0, x1, y0, y1)
    ink = "black" if patch.ink == "marker" else patch.ink
    colour = sight.rgb(table.spectra[ink])
    return Drawn(slice(x0, x1), slice(y0, y1), share.astype(np.float32), colour)


def _share(corners: Doubles, x0: int, x1: int, y0: int, y1: int) -> Doubles:
    """Return how much of each pixel a small rectangle covers: exact where it stands upright."""
    x, y = np.meshgrid(np.arange(x0, x1, dtype=np.float64), np.arange(y0, y1, dtype=np.float64))
    share = np.ones_like(x)
    for one, other in _opposite_sides(corners):
        share *= np.clip(
            np.minimum(_inside(one, x, y) + 0.5, 1) + np.minimum(_inside(other, x, y) + 0.5, 1) - 1,
            0,
            1,
        )
    return share


def _opposite_sides(corners: Doubles) -> tuple[tuple[tuple[Doubles, Doubles], ...], ...]:
    a, b, c, d = _clockwise(corners)
    return (((a, b), (c, d)), ((b, c), (d, a)))


def _clockwise(corners: Doubles) -> Doubles:
    following = np.roll(corners, -1, axis=0)
    twice = float((corners[:, 0] * following[:, 1] - following[:, 0] * corners[:, 1]).sum())
    return corners if twice > 0 else corners[::-1]


def _inside(side: tuple[Doubles, Doubles], x: Doubles, y: Doubles) -> Doubles:
    """Return how far points lie inside a side of a rectangle that runs clockwise."""
    start, end = side
    along = (end - start) / np.hypot(*(end - start))
    return np.asarray(along[0] * (y - start[1]) - along[1] * (x - start[0]))


def _share_on_table(
    corners: Doubles, camera: Camera, x: slice, y: slice, height_mm: float = 0.0
) -> Floats:
    """Return how much of each pixel a long rectangle covers, its sides bent by the lens."""
    at = _to_mm(camera, x, y, height_mm)
    scale = np.abs(np.gradient(at[..., 1], axis=0))
    share = np.ones(at.shape[:2], np.float32)
    for pair in _opposite_sides(corners):
        for side in pair:
            share *= np.clip(_inside(side, at[..., 0], at[..., 1]) / scale + 0.5, 0, 1)
    return share.astype(np.float32)


def _to_mm(camera: Camera, x: slice, y: slice, height_mm: float) -> Doubles:
    """Return the table mm of every pixel of a window, worked out on nodes and filled in between."""
    return _filled(lambda nodes: camera.to_mm(nodes, height_mm), x, y)


def _filled(values: Callable[[Doubles], Doubles], x: slice, y: slice) -> Doubles:
    """Return values at every pixel of a window from a function of pixels that is smooth.

    Worked out on nodes, straight in between, in the precision of the function.
    """
    wide, tall = x.stop - x.start, y.stop - y.start
    nx, ny = -(-wide // NODE_PX) + 2, -(-tall // NODE_PX) + 2
    nodes = np.stack(
        np.meshgrid(
            x.start + (np.arange(nx) - 0.5) * NODE_PX, y.start + (np.arange(ny) - 0.5) * NODE_PX
        ),
        axis=-1,
    )
    at = values(nodes)
    (c0, pc), (r0, pr) = _between(wide, at.dtype), _between(tall, at.dtype)
    pc, pr = pc[None, :, None], pr[:, None, None]
    across = at[:, c0] * (1 - pc) + at[:, c0 + 1] * pc
    return np.asarray(across[r0] * (1 - pr) + across[r0 + 1] * pr)


def _between(length: int, dtype: np.dtype) -> tuple[NDArray[np.intp], Doubles]:
    """Return the node before each pixel of a line and the way on to the next, 0 to 1."""
    at = np.arange(length) / NODE_PX + 0.5
    return at.astype(np.intp), (at % 1).astype(dtype)


def _light(table: Table, camera: Camera, x: slice, y: slice, *, height_mm: float) -> Floats:
    """Return what each lamp sends to each pixel, vignetting included, shape (rows, columns, n)."""

    def at(nodes: Doubles) -> Doubles:
        mm = camera.to_mm(nodes, height_mm)
        each = [camera.vignette(nodes) * lamp.light(mm, height_mm) for lamp in table.lamps]
        return np.stack(each, axis=-1).astype(np.float32)

    return np.ascontiguousarray(_filled(at, x, y))


def _lay(raw: Floats, light: Floats, one: Drawn, rows: slice) -> None:
    top, bottom = max(one.y.start, rows.start), min(one.y.stop, rows.stop)
    if bottom <= top:
        return
    share = one.share[top - one.y.start : bottom - one.y.start, :, None]
    window = (slice(top - rows.start, bottom - rows.start), one.x)
    raw[window] += share * (_lit(np.ascontiguousarray(light[window]), one.colour) - raw[window])


def _lay_leaf(raw: Floats, table: Table, camera: Camera, sight: Sight, rows: slice) -> None:
    """Paint the leaf over a strip, with the light at its own height."""
    leaf = table.leaf
    assert leaf is not None
    at_px = camera.to_px(_rim(leaf), leaf.height_mm)
    x0, y0 = np.floor(at_px.min(axis=0)).astype(int) - 2
    x1, y1 = np.ceil(at_px.max(axis=0)).astype(int) + 3
    x = slice(max(x0, 0), min(x1, camera.photo_px[0]))
    y = slice(max(y0, rows.start), min(y1, rows.stop))
    if y.stop - y.start < 2 or x.stop <= x.start:
        return
    share = _share_on_table(leaf.corners, camera, x, y, leaf.height_mm)[..., None]
    uv = leaf.from_table(_to_mm(camera, x, y, leaf.height_mm))
    figure = leaf.figure_at(uv[..., 0], uv[..., 1]).astype(np.float32)
    mix = leaf.mix_at(uv[..., 1])[..., None].astype(np.float32)
    light = _light(table, camera, x, y, height_mm=leaf.height_mm)
    one, other = (sight.rgb(spectra).astype(np.float32) for spectra in leaf.spectra())
    wood = np.zeros((*figure.shape, 3), np.float32)
    for k in range(light.shape[-1]):
        both = look_up(one[k], figure) * (1 - mix) + look_up(other[k], figure) * mix
        wood += light[..., k : k + 1] * both
    if leaf.specks_mm:
        _lay_specks(wood, leaf, uv, _lit(light, sight.rgb(table.spectra["black"])))
    window = raw[y.start - rows.start : y.stop - rows.start, x]
    window += share * (wood - window)


def _lay_specks(wood: Floats, leaf: Leaf, uv: Doubles, dark: Floats) -> None:
    px_mm = abs(float(uv[1, 0, 1] - uv[0, 0, 1]))
    for u, v in leaf.specks_mm:
        near = np.flatnonzero(np.abs(uv[:, :, 1] - v).min(axis=1) < SPECK_MM)
        if not len(near):
            continue
        rows = slice(near[0], near[-1] + 1)
        away = np.hypot(uv[rows, :, 0] - u, uv[rows, :, 1] - v)
        share = np.clip((SPECK_MM / 2 - away) / px_mm + 0.5, 0, 1)[..., None].astype(np.float32)
        wood[rows] += share * (dark[rows] - wood[rows])


def _rim(leaf: Leaf) -> Doubles:
    a, b, c, d = leaf.corners
    t = np.linspace(0, 1, 50)[:, None]
    return np.vstack([a + (b - a) * t, b + (c - b) * t, c + (d - c) * t, d + (a - d) * t])
