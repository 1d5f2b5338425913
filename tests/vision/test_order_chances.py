import numpy as np
import pytest
from scipy.stats import norm

from vision.order_chances import REACH, distance_costs

LEAVES = 60
LEVELS = np.array([0.9, 0.75, 0.62, 0.5, 0.4, 0.32, 0.25, 0.2])
FAR, SPREAD = 0.1, 0.08


def drawn_likeness(*, seed, levels=LEVELS):
    """Return likenesses of leaves that lie in order, drawn by known levels and spread."""
    rng = np.random.default_rng(seed)
    apart = np.abs(np.subtract.outer(np.arange(LEAVES), np.arange(LEAVES)))
    usual = np.append(np.append(1.0, levels), FAR)[np.minimum(apart, REACH + 1)]
    noise = np.triu(rng.normal(0, SPREAD, apart.shape), 1)
    return usual + noise + noise.T, apart


def of_one_kind():
    return np.zeros((LEAVES, LEAVES), bool)


@pytest.mark.parametrize("seed", [1, 2])
def test_costs_are_the_log_odds_of_the_law_that_drew_the_likenesses(seed):
    alike, apart = drawn_likeness(seed=seed)

    costs = distance_costs(alike, of_one_kind(), np.arange(LEAVES))

    inside = (apart > 0) & (np.abs(alike - 0.5) < 0.3)
    for step, level in enumerate(LEVELS):
        odds = norm.logpdf(alike, level, SPREAD) - norm.logpdf(alike, FAR, SPREAD)
        slope, _ = np.polyfit(odds[inside], -costs[step][inside], 1)
        assert slope == pytest.approx(1, abs=0.35)
        assert np.corrcoef(odds[inside], -costs[step][inside])[0, 1] > 0.9


def test_each_distance_is_the_likeliest_where_it_is_true():
    alike, apart = drawn_likeness(seed=3)

    costs = distance_costs(alike, of_one_kind(), np.arange(LEAVES))

    for step in range(REACH):
        assert costs[:, apart == step + 1].mean(axis=1).argmin() == step


def test_a_leaf_less_like_all_others_is_no_farther_from_its_neighbours():
    alike, apart = drawn_likeness(seed=4)
    order = np.arange(LEAVES)
    short = alike.copy()
    short[20] -= 0.15
    short[:, 20] -= 0.15

    before = distance_costs(alike, of_one_kind(), order)[0]
    after = distance_costs(short, of_one_kind(), order)[0]

    beside = apart[20] == 1
    moved = float((after[20] - before[20])[beside].mean())
    slope = (LEVELS[0] - FAR) / SPREAD**2
    assert abs(moved) < 0.3 * 0.15 * slope


def test_likenesses_that_tell_nothing_cost_next_to_nothing():
    alike, apart = drawn_likeness(seed=5, levels=np.full(REACH, FAR))

    nothing = distance_costs(alike, of_one_kind(), np.arange(LEAVES))
    something = distance_costs(drawn_likeness(seed=5)[0], of_one_kind(), np.arange(LEAVES))

    assert np.abs(nothing[:, apart > 0]).mean() < 0.05 * np.abs(something[:, apart > 0]).mean()


def test_opposed_pairs_are_held_against_a_pace_of_their_own():
    alike, apart = drawn_likeness(seed=6)
    turned = np.random.default_rng(6).random(LEAVES) < 0.4
    opposed = turned[:, None] != turned[None, :]
    alike = np.where(opposed, alike - 0.5, alike)

    costs = distance_costs(alike, opposed, np.arange(LEAVES))

    for kind in (opposed, ~opposed):
        near, far = costs[0][kind & (apart == 1)], costs[0][kind & (apart > REACH)]
        assert near.max() < far.min()
