"""The figure under a wedge, found again on leaves that slipped."""

import secrets

import cv2
import numpy as np
import pytest

from vision.wedge import Wedge
from vision.wedge_follow import follow_wedge

WEDGE = Wedge(60.0, 330.0, turn_deg=35.0, radius_mm=140.0, pieces=10)
PX_PER_MM = 1.0


def wood(rng, *, drift: float = 0.25, leaves: int = 6) -> list[np.ndarray]:
    """Smooth noise, long along the grain with cross stripes, that changes from leaf to leaf."""
    shape = (900, 300)

    def field():
        long = cv2.GaussianBlur(rng.normal(size=shape), (0, 0), sigmaX=4, sigmaY=30)
        short = cv2.GaussianBlur(rng.normal(size=shape), (0, 0), sigmaX=10, sigmaY=3)
        return (long / long.std() + short / short.std()).astype(np.float32)

    found = [field()]
    for _ in range(leaves - 1):
        found.append(np.sqrt(1 - drift**2) * found[-1] + drift * field())
    return [0.4 + 0.03 * one for one in found]


def slipped(leaf: np.ndarray, along: float, across: float) -> np.ndarray:
    """Move a leaf down and to the right by millimetres, sampled between pixels."""
    move = np.array([[1, 0, across], [0, 1, along]], np.float64)
    return cv2.warpAffine(leaf, move, leaf.shape[::-1], borderValue=float("nan"))


@pytest.mark.parametrize("seed", [1, 2, secrets.randbelow(2**31)])
def test_a_slip_along_the_grain_is_followed_to_a_millimetre(seed):
    rng = np.random.default_rng(seed)
    slips = np.cumsum(
        np.vstack([[0, 0], np.stack([rng.uniform(-60, 60, 5), rng.uniform(-10, 10, 5)], 1)]), axis=0
    )
    slips = np.clip(slips, [-150, -40], [150, 40])
    leaves = [slipped(leaf, *slip) for leaf, slip in zip(wood(rng), slips, strict=True)]

    found = follow_wedge(leaves, WEDGE, px_per_mm=PX_PER_MM)

    assert all(one.is_sure for one in found)
    assert np.abs([one.along_mm for one in found] - slips[:, 0]).max() <= 1.5
    assert np.abs([one.across_mm for one in found] - slips[:, 1]).max() <= 1.5


def test_another_tree_is_not_followed():
    rng = np.random.default_rng(8)
    (own,), (other,) = wood(rng, leaves=1), wood(rng, leaves=1)

    found = follow_wedge([own, other], WEDGE, px_per_mm=PX_PER_MM)

    assert not found[1].is_sure
    assert (found[1].along_mm, found[1].across_mm) == (0.0, 0.0)


def test_plain_paper_has_nothing_to_follow():
    plain = np.full((900, 300), 0.5, np.float32)

    assert [one.is_sure for one in follow_wedge([plain, plain], WEDGE, px_per_mm=1.0)] == [
        True,
        False,
    ]


def test_a_leaf_beside_which_the_wedge_lies_is_told_unsure():
    rng = np.random.default_rng(9)
    leaf = wood(rng, leaves=1)[0]
    away = Wedge(-500.0, 330.0, turn_deg=180.0, radius_mm=100.0, pieces=10)

    assert not follow_wedge([leaf, leaf], away, px_per_mm=1.0)[1].is_sure


def test_no_leaf_and_one_leaf():
    leaf = np.full((50, 50), 0.5, np.float32)

    assert follow_wedge([], WEDGE, px_per_mm=1.0) == ()
    assert len(follow_wedge([leaf], WEDGE, px_per_mm=1.0)) == 1
