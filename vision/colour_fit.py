"""From a camera's colours to true ones: a matrix fitted to patches of known colour.

A plain 3x3 matrix is taken unless a root-polynomial of degree 2 (Finlayson, Mackiewicz, Hurlbert,
IEEE Trans. Image Process. 24, 2015; it does not change with exposure) foretells patches left out of
the fit better by a tenth. Polynomials proper drift with exposure and 24 patches are too few for
degree 3, so neither is offered.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.colour_space import delta_e00, lab_and_slopes, lab_to_linear, linear_to_lab
from vision.shooting_station import ColourMap

PLAIN, ROOTS = "3x3", "root-polynomial"
ROOTS_BETTER = 0.90
"""Share of the 3x3's held-out error below which the root-polynomial is taken."""
LEAST_PATCHES = {PLAIN: 12, ROOTS: 20}
"""Patches from which a fit is tried."""
CHIP_WEIGHT = 2.0
"""Weight of a wood chip of known colour against a patch of the chart."""
MIX_WEIGHT = 16.0
"""Weight of a mix of patches that is like wood: wood is what is measured."""
ROUNDS = 4
"""Gauss-Newton rounds; the third moves no colour by a hundredth of L* any more."""
HELD = 1e-4
"""Share of the mean weight with which the matrix is held near its first guess."""


@dataclass(frozen=True, slots=True, eq=False)
class ColourFit:
    """A fitted map and how far it misses each patch.

    Parameters
    ----------
    colour_map : ColourMap
    lab : ndarray, shape (n, 3)
        What the map makes of each patch, D50.
    off, held_out : ndarray, shape (n,)
        CIEDE2000 against the known colour; ``held_out`` with the patch left out of the fit.
    """

    colour_map: ColourMap
    lab: NDArray[np.float64]
    off: NDArray[np.float64]
    held_out: NDArray[np.float64]


def apply_colour(light: NDArray[np.float32], colour_map: ColourMap | None) -> NDArray[np.float32]:
    """Return linear sRGB of the camera's linear light, shape (rows, columns, 3).

    Parameters
    ----------
    light : ndarray of float32
        Held against the board, the tone taken out, R, G, B in that order.
    colour_map : ColourMap or None
        None leaves the light as it is.
    """
    if colour_map is None:
        return light
    rows = np.array(colour_map.rows, dtype=np.float32)
    mapped = cv2.transform(light, rows[:, :3])
    if colour_map.kind == ROOTS:
        lit = np.maximum(light, np.float32(0))
        roots = cv2.sqrt(lit * np.roll(lit, -1, axis=-1)).reshape(light.shape)
        mapped = cv2.add(mapped, cv2.transform(roots, rows[:, 3:]))
    return np.asarray(mapped, dtype=np.float32)


def map_colours(light: NDArray[np.floating], colour_map: ColourMap | None) -> NDArray[np.float64]:
    """Return linear sRGB of single colours, shape (n, 3); the same as `apply_colour`."""
    if colour_map is None:
        return np.asarray(light, dtype=np.float64)
    return np.asarray(terms_of(light, colour_map.kind) @ np.array(colour_map.rows).T)


def terms_of(light: NDArray[np.floating], kind: str) -> NDArray[np.float64]:
    """Return the terms of a map, shape (n, 3) or (n, 6): R, G, B, then roots of RG, GB, BR."""
    plain = np.asarray(light, dtype=np.float64)
    if kind == PLAIN:
        return plain
    lit = np.maximum(plain, 0.0)
    return np.concatenate([plain, np.sqrt(lit * np.roll(lit, -1, axis=-1))], axis=-1)


def fit_colour(
    camera: NDArray[np.floating],
    lab: NDArray[np.floating],
    *,
    weights: NDArray[np.floating] | None = None,
    mixes: NDArray[np.floating] | None = None,
    kinds: Sequence[str] = (PLAIN, ROOTS),
) -> ColourFit | None:
    """Return the map from a camera's linear light to linear sRGB; None with too few patches.

    Parameters
    ----------
    camera : ndarray, shape (n, 3)
        Linear light of the patches, held against the board, about 1 for white.
    lab : ndarray, shape (n, 3)
        What they are known to be, D50.
    weights : ndarray, shape (n,), or None
        1 for a patch of the chart, more for one like wood and for a wood chip.
    mixes : ndarray, shape (n + 1, m, n), or None
        Shares of the patches in mixes of their light that are fitted besides, each at `MIX_WEIGHT`;
        for the fit to all patches first, then for each patch left out, where it is in no mix.
    kinds : sequence of str
        Which maps may be taken.
    """
    seen, known = np.asarray(camera, dtype=np.float64), np.asarray(lab, dtype=np.float64)
    weight = np.ones(len(seen)) if weights is None else np.asarray(weights, dtype=np.float64)
    shares = np.zeros((len(seen) + 1, 0, len(seen))) if mixes is None else np.asarray(mixes)
    fits = [
        _fit(seen, known, weight, shares, kind)
        for kind in kinds
        if len(seen) >= LEAST_PATCHES[kind]
    ]
    if not fits:
        return None
    plain, *others = fits
    for other in others:
        if other.colour_map.held_out_mean < ROOTS_BETTER * plain.colour_map.held_out_mean:
            return other
    return plain


def fit_mean(camera: NDArray[np.float64], lab: NDArray[np.float64], kind: str) -> float:
    """Return the mean CIEDE2000 of a fit to all patches: soon worked out, none is left out."""
    terms = terms_of(camera, kind)
    rows = _fit_rows(terms[None], lab[None], np.ones((1, len(lab))))
    return float(delta_e00(linear_to_lab(terms @ rows[0].T), lab).mean())


def _fit(
    seen: NDArray[np.float64],
    known: NDArray[np.float64],
    weight: NDArray[np.float64],
    shares: NDArray[np.float64],
    kind: str,
) -> ColourFit:
    """Fit with all patches, and with each left out, all at once."""
    terms = terms_of(seen, kind)
    folds = np.vstack([weight[None], weight * (1 - np.eye(len(seen)))])
    rows = _fit_rows(
        _joined(terms, terms_of(shares @ seen, kind)),
        _joined(known, linear_to_lab(shares @ lab_to_linear(known))),
        np.hstack([folds, np.full(shares.shape[:2], MIX_WEIGHT)]),
    )
    read = linear_to_lab(terms @ rows[0].T)
    off = delta_e00(read, known)
    left = np.einsum("kt,kot->ko", terms, rows[1:])
    held_out = delta_e00(linear_to_lab(left), known)
    red, green, blue = (tuple(float(v) for v in row) for row in rows[0])
    mean, largest = float(held_out.mean()), float(held_out.max())
    colour_map = ColourMap(kind, (red, green, blue), float(off.mean()), mean, largest)
    return ColourFit(colour_map, read, off, held_out)


def _joined(patches: NDArray[np.float64], mixes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the patches, the same for every fold, and behind them each fold's mixes."""
    every = np.broadcast_to(patches, (len(mixes), *patches.shape))
    return np.concatenate([every, mixes], axis=1)


def _fit_rows(
    terms: NDArray[np.float64], known: NDArray[np.float64], folds: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the rows of the map for each set of colours and weights, shape (folds, 3, terms).

    Linear least squares over light first, then Gauss-Newton on differences in L*, chroma and hue,
    chroma and hue taken as heavy as CIEDE2000 takes them (its weighting functions S_C and S_H).

    Parameters
    ----------
    terms : ndarray, shape (folds, n, terms)
    known : ndarray, shape (folds, n, 3)
    folds : ndarray, shape (folds, n)
        Weights.
    """
    target = lab_to_linear(known)
    even = folds / (target.mean(axis=-1) + 0.03) ** 2
    count = terms.shape[-1]
    weighed = terms.transpose(0, 2, 1) * even[:, None]
    normal = weighed @ terms
    scale = np.trace(normal, axis1=1, axis2=2)[:, None, None] / count
    normal = normal + HELD * scale * np.eye(count)
    sums = weighed @ target
    sums[:, :3] += HELD * scale * np.eye(3)
    rows = np.linalg.solve(normal, sums).transpose(0, 2, 1)
    metric = _metric(known)
    for _ in range(ROUNDS):
        lab, slopes = lab_and_slopes(terms @ rows.transpose(0, 2, 1))
        off = (metric @ (known - lab)[..., None])[..., 0]
        bent = metric @ slopes
        lever = (bent[..., None] * terms[..., None, None, :]).reshape(len(folds), -1, 3 * count)
        weighed = (lever * np.repeat(folds, 3, axis=1)[..., None]).transpose(0, 2, 1)
        normal = weighed @ lever
        scale = np.trace(normal, axis1=1, axis2=2)[:, None, None] / (3 * count)
        normal = normal + HELD * scale * np.eye(3 * count)
        step = np.linalg.solve(normal, weighed @ off.reshape(len(folds), -1, 1))
        rows = rows + step[..., 0].reshape(rows.shape)
    return rows


def _metric(known: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what turns a small difference in L*a*b* into one as seen, shape (..., 3, 3)."""
    lightness, a, b = np.moveaxis(known, -1, 0)
    chroma = np.hypot(a, b)
    along = np.stack([a, b], axis=-1) / np.maximum(chroma, 1e-9)[..., None]
    along[chroma < 1e-6] = (1.0, 0.0)
    metric = np.zeros((*known.shape, 3))
    metric[..., 0, 0] = 1 / (
        1 + 0.015 * (lightness - 50) ** 2 / np.sqrt(20 + (lightness - 50) ** 2)
    )
    metric[..., 1, 1:] = along / (1 + 0.045 * chroma)[..., None]
    metric[..., 2, 1] = -along[..., 1] / (1 + 0.015 * chroma)
    metric[..., 2, 2] = along[..., 0] / (1 + 0.015 * chroma)
    return metric
