"""Hue of each leaf of a flitch, freed of each photograph's own cast.

Neighbouring leaves are nearly of one hue, while a photograph's cast, held against a dark board,
leaves a percent or two in it. How far photographs of one leaf differ tells how large that is, how
far the leaves differ beyond it tells what is theirs; each hue is then drawn toward the flitch's as
far as that says. Two leaves in one photograph share its cast, so their difference stands. So with
the change of hue along a leaf: what photographs of one leaf do not agree on is not the wood's.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision.colour_space import LUMINANCE
from vision.laying import reverses_rows
from vision.leaf_light import LeafLight
from vision.readings import SLICES

Doubles = NDArray[np.float64]
Counts = NDArray[np.intp]

LEAST_LEAF_SD = 0.003
"""Of the log ratio of two colours, from leaf to leaf: nothing is wholly alike."""
USUAL_CAST_SD = 0.01
"""The same from photograph to photograph, where no leaf was photographed twice."""
OWN_SD = 0.002
"""The same that is left of a leaf in one photograph: noise, shade."""
WAY_SD = 0.01
"""The same that a lamp moved, or the leaf turned to its other face, truly changes in all leaves."""
USUAL_COUNTS = 4.0
"""The usual scatter of casts counts like so many photographs."""


def settle_hues(leaves: Sequence[Sequence[LeafLight]]) -> list[Doubles]:
    """Return for each leaf by what to multiply red, green and blue of its photographs' mean.

    Parameters
    ----------
    leaves : sequence of sequences of LeafLight
        The photographs of each leaf; a leaf without any gets ones.

    Returns
    -------
    list of ndarray, shape (SLICES, 3)
        In the rows of the leaf as it lies.
    """
    along = _settle_along(leaves)
    return [_times(whole + part) for whole, part in zip(_settle_whole(leaves), along, strict=True)]


def level_hues(views: Mapping[str, Sequence[LeafLight]]) -> dict[str, list[LeafLight]]:
    """Return the photographs of each leaf, their casts taken out of the hue; lightness is kept.

    What all leaves show under one lamp, laid one way, stays; what a leaf shows beyond it stays as
    far as its photographs agree. Photographs with two leaves in view are left as they are: both
    share one cast, so that what they differ by is the wood's.
    """
    in_file = Counter(view.shot.file for seen in views.values() for view in seen)
    alone = [
        (leaf, view)
        for leaf, seen in views.items()
        for view in seen
        if in_file[view.shot.file] == 1
    ]
    if len({leaf for leaf, _ in alone}) < 2:
        return {leaf: list(seen) for leaf, seen in views.items()}
    hues = np.array([_hues(view) for _, view in alone])
    leaves = _numbered([leaf for leaf, _ in alone])
    ways = _numbered([(view.shot.lamp, view.shot.laid) for _, view in alone])
    whole = hues.mean(axis=1, keepdims=True)
    settled = _level_whole(whole, leaves, ways) + _level_along(hues - whole, leaves, ways)
    levelled = {
        view.shot: _with_hues(view, hue) for (_, view), hue in zip(alone, settled, strict=True)
    }
    return {leaf: [levelled.get(view.shot, view) for view in seen] for leaf, seen in views.items()}


def _level_whole(hues: Doubles, leaves: Counts, ways: Counts) -> Doubles:
    """Return the hues (photographs, 1, 2) of whole leaves without their casts."""
    by_way, per_way = _means(hues, ways)
    by_leaf, per_leaf = _means(hues - by_way[ways], leaves)
    left = hues - by_way[ways] - by_leaf[leaves]
    free = max(len(hues) - len(by_way) - len(by_leaf) + 1, 0)
    cast = USUAL_COUNTS * USUAL_CAST_SD**2 + float(np.square(left).sum() / 2)
    cast /= USUAL_COUNTS + free
    middle = by_way.mean(axis=0)
    of_way = WAY_SD**2 / (WAY_SD**2 + cast / per_way)
    by_way = middle + of_way[:, None, None] * (by_way - middle)
    between = float(np.square(by_leaf).mean()) - cast * float((1 / per_leaf).mean())
    of_leaf = (own := max(between, LEAST_LEAF_SD**2)) / (own + cast / per_leaf)
    return np.asarray(by_way[ways] + of_leaf[leaves][:, None, None] * by_leaf[leaves])


def _level_along(hues: Doubles, leaves: Counts, ways: Counts) -> Doubles:
    """Return the hues (photographs, SLICES, 2) along the leaves as far as photographs agree."""
    by_way, _ = _means(hues, ways)
    by_leaf, per_leaf = _means(hues - by_way[ways], leaves)
    left = hues - by_way[ways] - by_leaf[leaves]
    free = len(hues) - len(by_way) - len(by_leaf) + 1
    if free < 1:
        return hues
    apart = float(np.square(left).sum() / free / left[0].size * (1 / per_leaf).mean())
    found = float(np.square(by_leaf).mean())
    kept = max(found - apart, 0.0) / max(found, 1e-12)
    return np.asarray(by_way[ways] + kept * by_leaf[leaves])


def _numbered(names: Sequence[object]) -> Counts:
    """Return a number for each name, the same for the same name, from 0."""
    known = {name: index for index, name in enumerate(dict.fromkeys(names))}
    return np.array([known[name] for name in names])


def _means(values: Doubles, groups: Counts) -> tuple[Doubles, Doubles]:
    """Return the mean of each group, and how many are in it."""
    counts = np.bincount(groups).astype(np.float64)
    means = np.zeros((len(counts), *values.shape[1:]))
    np.add.at(means, groups, values)
    return means / counts[:, None, None], counts


def _with_hues(view: LeafLight, hues: Doubles) -> LeafLight:
    """Return a photograph with the hues set, in the rows of the leaf as it lies."""
    light = np.asarray(view.profile.slices)
    if reverses_rows(view.shot.laid):
        hues = hues[::-1]
    coloured = np.exp(np.insert(hues, 1, 0.0, axis=1))
    coloured *= ((light @ LUMINANCE) / (coloured @ LUMINANCE))[:, None]
    slices = tuple((float(r), float(g), float(b)) for r, g, b in coloured)
    return replace(view, profile=replace(view.profile, slices=slices))


def _settle_whole(leaves: Sequence[Sequence[LeafLight]]) -> list[Doubles]:
    """Return what to add to the logs of red and blue over green of each whole leaf, shape (2,)."""
    hues = [np.array([_hue(view) for view in views]).reshape(-1, 2) for views in leaves]
    files = list(dict.fromkeys(view.shot.file for views in leaves for view in views))
    means = [hue.mean(axis=0) if len(hue) else None for hue in hues]
    known = [mean for mean in means if mean is not None]
    if len(known) < 2:
        return [np.zeros(2) for _ in leaves]
    middle = np.mean(known, axis=0)
    cast_sd, leaf_sd = _scatter(hues, np.array(known))
    rows, values = [], []
    size = len(leaves) + len(files)
    for index, (views, hue) in enumerate(zip(leaves, hues, strict=True)):
        for view, seen in zip(views, hue, strict=True):
            row = np.zeros(size)
            row[[index, len(leaves) + files.index(view.shot.file)]] = 1 / OWN_SD
            rows.append(row)
            values.append((seen - middle) / OWN_SD)
    held = np.concatenate([np.full(len(leaves), 1 / leaf_sd), np.full(len(files), 1 / cast_sd)])
    seen_by = np.array(rows)
    settled = np.linalg.solve(seen_by.T @ seen_by + np.diag(held**2), seen_by.T @ np.array(values))
    return [
        np.zeros(2) if mean is None else settled[index] + middle - mean
        for index, mean in enumerate(means)
    ]


def _settle_along(leaves: Sequence[Sequence[LeafLight]]) -> list[Doubles]:
    """Return the same of each slice over its whole leaf, shape (SLICES, 2).

    What all leaves share under one lamp, laid one way, is left alone: it makes no step between
    them. What is a leaf's own counts as far as its photographs agree on it.
    """
    ways: dict[tuple[object, object], list[Doubles]] = {}
    for views in leaves:
        for view in views:
            ways.setdefault((view.shot.lamp, view.shot.laid), []).append(_hue_along(view))
    shared = {way: np.mean(hues, axis=0) for way, hues in ways.items()}
    own = [
        np.array([_hue_along(view) - shared[view.shot.lamp, view.shot.laid] for view in views])
        for views in leaves
    ]
    again = [hue for hue in own if len(hue) > 1]
    if len(again) < 2:
        return [np.zeros((SLICES, 2)) for _ in leaves]
    apart = float(np.mean([hue.var(axis=0, ddof=1).mean() / len(hue) for hue in again]))
    found = float(np.mean([np.square(hue.mean(axis=0)).mean() for hue in again]))
    kept = max(found - apart, 0.0) / max(found, 1e-12)
    return [(kept - 1) * hue.mean(axis=0) if len(hue) else np.zeros((SLICES, 2)) for hue in own]


def _hue(view: LeafLight) -> Doubles:
    """Return the logs of red and of blue over green, of the whole leaf."""
    red, green, blue = np.log(np.asarray(view.profile.slices).mean(axis=0))
    return np.array([red - green, blue - green])


def _hue_along(view: LeafLight) -> Doubles:
    """Return the same of each slice over the whole leaf, in the rows of the leaf as it lies."""
    hue = _hues(view)
    return np.asarray(hue - hue.mean(axis=0))


def _hues(view: LeafLight) -> Doubles:
    """Return the same of each slice, in the rows of the leaf as it lies, shape (SLICES, 2)."""
    red, green, blue = np.log(np.asarray(view.profile.slices)).T
    hue: Doubles = np.stack([red - green, blue - green], axis=1)
    return hue[::-1] if reverses_rows(view.shot.laid) else hue


def _scatter(hues: Sequence[Doubles], means: Doubles) -> tuple[float, float]:
    """Return standard deviations of casts, and of the leaves beyond them."""
    again = [hue for hue in hues if len(hue) > 1]
    count = float(np.mean([len(hue) for hue in hues if len(hue)]))
    cast = USUAL_CAST_SD
    if again:
        cast = max(float(np.sqrt(np.mean([hue.var(axis=0, ddof=1) for hue in again]))), OWN_SD)
    between = float(means.var(axis=0, ddof=1).mean()) - cast**2 / count
    return cast, max(float(np.sqrt(max(between, 0.0))), LEAST_LEAF_SD)


def _times(hue: Doubles) -> Doubles:
    return np.stack([np.exp(hue[:, 0]), np.ones(len(hue)), np.exp(hue[:, 1])], axis=1)
