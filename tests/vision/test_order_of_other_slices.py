"""Slices that are not wood and that nobody here drew: a head, by magnetic resonance."""

import gzip
import importlib.util
import os
from pathlib import Path

import numpy as np
import pytest

from vision.laying import lay_pixels
from vision.leaf_descriptor import describe_leaf
from vision.leaf_image import LeafImage
from vision.order_leaves import order_leaves
from vision.shot import Laid
from vision.stack_order import StackLeaf

VOLUME = "datasets/data/mni_icbm152_t1_tal_nlin_sym_09a_converted.nii.gz"


def head() -> np.ndarray:
    """Return the volume that comes with nilearn (NIfTI-1, unsigned bytes)."""
    package = importlib.util.find_spec("nilearn")
    if package is None or package.origin is None:
        if not os.environ.get("CI"):
            pytest.skip("needs nilearn")
        raise AssertionError("nilearn is missing")
    data = gzip.decompress((Path(package.origin).parent / VOLUME).read_bytes())
    shape = [int(side) for side in np.frombuffer(data[42:48], "<i2")]
    start = int(np.frombuffer(data[108:112], "<f4")[0])
    voxels = np.frombuffer(data[start:], np.uint8)[: int(np.prod(shape))]
    return voxels.reshape(shape, order="F").astype(np.float32) / 255


@pytest.mark.reference
@pytest.mark.parametrize("seed", [1, 2])
def test_slices_of_a_head_shuffled_and_turned_come_back_in_exact_order(seed):
    volume, rng = head(), np.random.default_rng(seed)
    leaves = []
    for number in range(40, 130):
        grey = 0.05 + 0.8 * volume[:, :, number].T
        laid = Laid.END_TURNED if rng.random() < 0.3 else Laid.AS_LIES
        light = np.ascontiguousarray(lay_pixels(np.repeat(grey[..., None], 3, axis=2), laid))
        picture = LeafImage(light, np.ones(grey.shape, bool), 1.0)
        leaves.append(StackLeaf(str(number), describe_leaf(picture)))

    order = order_leaves([leaves[at] for at in rng.permutation(len(leaves))])

    found = [int(leaf.name) for leaf in order.leaves]
    assert found in (list(range(40, 130)), list(range(129, 39, -1)))
