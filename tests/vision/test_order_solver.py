import numpy as np
import pytest

from vision.order_solver import move_gains, reversal_gains, total


def drawn(count, *, reach, seed):
    rng = np.random.default_rng(seed)
    cost = rng.normal(size=(reach, count, count))
    return cost + cost.transpose(0, 2, 1), rng.permutation(count)


@pytest.mark.parametrize(("count", "reach"), [(3, 1), (9, 1), (9, 5), (12, 8), (5, 8)])
def test_gains_are_what_the_changes_add_to_the_cost(count, reach):
    cost, order = drawn(count, reach=reach, seed=count + reach)
    cost = cost[: count - 1]
    now = total(cost, order)

    turned, moved = reversal_gains(cost, order), move_gains(cost, order)

    for a in range(count):
        for b in range(count):
            if a < b:
                other = np.concatenate([order[:a], order[a : b + 1][::-1], order[b + 1 :]])
                assert turned[a, b] == pytest.approx(total(cost, other) - now)
            else:
                assert turned[a, b] == np.inf
            if a != b:
                other = np.insert(np.delete(order, a), b, order[a])
                assert moved[a, b] == pytest.approx(total(cost, other) - now)
