import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vision.errors import OrderNotPossible
from vision.order_limits import limits_of
from vision.order_solver import improve, move_gains, reversal_gains, total
from vision.stack_order import Known


@st.composite
def told_stacks(draw):
    """A true order, and things told of it that hold in it."""
    count = draw(st.integers(3, 12))
    true = draw(st.permutations(range(count)))
    names = [str(leaf) for leaf in range(count)]
    some = st.sets(st.integers(0, count - 1))
    numbers = {names[true[at]]: float(at // 2) for at in draw(some)}
    places = {names[true[at]]: at for at in draw(some)}
    cuts = sorted(draw(st.sets(st.integers(1, count - 1), max_size=3)))
    bundles = {names[true[at]]: str(np.searchsorted(cuts, at, "right")) for at in range(count)}
    if draw(st.booleans()):
        bundles = {}
    return names, Known(numbers, bundles, places), draw(st.integers(0, 2**32 - 1))


@settings(max_examples=60, deadline=None)
@given(told_stacks())
def test_no_search_ever_breaks_what_is_told(told):
    names, known, seed = told
    rng = np.random.default_rng(seed)
    cost = rng.normal(size=(3, len(names), len(names)))
    cost = cost + cost.transpose(0, 2, 1)
    limits = limits_of(names, known)

    start = limits.fitted(rng.permutation(len(names)))
    order = improve(cost, start, limits.allow)

    place = {names[leaf]: at for at, leaf in enumerate(order)}
    assert sorted(order) == list(range(len(names)))
    assert all(place[name] == at for name, at in known.places.items())
    numbered = sorted(known.numbers, key=lambda name: place[name])
    assert [known.numbers[n] for n in numbered] == sorted(known.numbers.values())
    for bundle in set(known.bundles.values()):
        held = sorted(place[name] for name, one in known.bundles.items() if one == bundle)
        assert held == list(range(held[0], held[0] + len(held)))


def test_equal_numbers_do_not_let_a_larger_one_in_between():
    names = [str(leaf) for leaf in range(7)]
    numbers = dict(zip(names, (0.0, 0.0, 1.0, 1.0, 2.0), strict=False))
    limits = limits_of(names, Known(numbers, dict.fromkeys(names, "A"), {}))

    for seed in range(200):
        order = limits.fitted(np.random.default_rng(seed).permutation(7))
        told = [numbers[names[leaf]] for leaf in order if names[leaf] in numbers]
        assert told == sorted(told)


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 9), st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_every_change_of_cost_is_foretold_exactly(count, reach, seed):
    rng = np.random.default_rng(seed)
    cost = rng.normal(size=(reach, count, count))
    cost = cost + cost.transpose(0, 2, 1)
    order = rng.permutation(count)
    now = total(cost, order)
    turned, moved = reversal_gains(cost, order), move_gains(cost, order)

    for start in range(count):
        for end in range(count):
            if start < end:
                tried = order.copy()
                tried[start : end + 1] = tried[start : end + 1][::-1]
                assert turned[start, end] == pytest.approx(total(cost, tried) - now, abs=1e-9)
            if start != end:
                tried = np.insert(np.delete(order, start), end, order[start])
                assert moved[start, end] == pytest.approx(total(cost, tried) - now, abs=1e-9)


def test_a_leaf_that_is_not_in_the_stack_is_named():
    with pytest.raises(OrderNotPossible, match="leaf 9"):
        limits_of(["1", "2"], Known(numbers={"9": 1.0}))


def test_two_leaves_cannot_have_one_place():
    with pytest.raises(OrderNotPossible, match="one place"):
        limits_of(["1", "2", "3"], Known(places={"1": 0, "2": 0}))
