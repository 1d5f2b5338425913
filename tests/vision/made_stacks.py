"""Stacks that no log gave: pictures that drift from slice to slice, made here and nowhere else."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from vision.laying import lay_pixels
from vision.leaf_descriptor import describe_leaf
from vision.leaf_image import LeafImage
from vision.shot import Laid
from vision.stack_order import StackLeaf

ROWS, COLUMNS = 600, 80


def drifting_pictures(count: int, *, seed: int, drift: float = 2.5) -> list[np.ndarray]:
    """Return linear light of so many slices of one block of smooth noise."""
    rng = np.random.default_rng(seed)
    block = np.zeros((count, ROWS, COLUMNS), np.float32)
    for size in ((drift, 30.0, 3.0), (2 * drift, 60.0, 8.0), (drift, 6.0, 2.0)):
        field = gaussian_filter(rng.standard_normal(block.shape).astype(np.float32), size)
        block += field / field.std()
    for cut in block:  # pores and the like, that belong to one cut alone
        cut += 0.7 * gaussian_filter(rng.standard_normal(cut.shape).astype(np.float32), (4, 1)) * 7
    hue = np.array([0.9, 1.0, 1.25], np.float32)
    light = 0.3 * np.exp(-0.08 * block[..., None] * hue) * np.array([1.2, 1.0, 0.7], np.float32)
    return list(light)


def as_leaf(name: str, light: np.ndarray, laid: Laid = Laid.AS_LIES, *, seed: int = 0) -> StackLeaf:
    """Return a leaf photographed so, with a little noise and another exposure."""
    rng = np.random.default_rng(seed)
    seen = lay_pixels(light, laid) * np.exp(rng.normal(0, 0.05))
    seen = np.ascontiguousarray(seen + rng.normal(0, 0.003, seen.shape), np.float32)
    return StackLeaf(name, describe_leaf(LeafImage(seen, np.ones(seen.shape[:2], bool), 0.4)))


def made_stack(count: int, *, seed: int) -> tuple[list[StackLeaf], list[Laid]]:
    """Return leaves named 0, 1, 2, ... in log order, some turned, and how each lies."""
    rng = np.random.default_rng([seed, 1])
    ways = (Laid.AS_LIES,) * 4 + (Laid.END_TURNED,)
    laid = [ways[int(rng.integers(len(ways)))] for _ in range(count)]
    pictures = drifting_pictures(count, seed=seed)
    leaves = [
        as_leaf(str(at), light, way, seed=at)
        for at, (light, way) in enumerate(zip(pictures, laid, strict=True))
    ]
    return leaves, laid
