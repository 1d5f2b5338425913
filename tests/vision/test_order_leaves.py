import numpy as np
import pytest

from tests.vision.made_stacks import ROWS, as_leaf, drifting_pictures, made_stack
from vision.errors import OrderNotPossible
from vision.laying import compose
from vision.leaf_descriptor import describe_leaf
from vision.leaf_image import LeafImage
from vision.order_leaves import order_in_steps, order_leaves
from vision.order_words import order_words
from vision.shot import Laid
from vision.stack_order import Known, StackLeaf, StackOrder, Step


@pytest.fixture(scope="module")
def stack():
    return made_stack(14, seed=5)


def shuffled(leaves, *, seed=2):
    return [leaves[at] for at in np.random.default_rng(seed).permutation(len(leaves))]


def names(order):
    return [leaf.name for leaf in order.leaves]


def either_way(found):
    return found if int(found[0]) < int(found[-1]) else found[::-1]


def test_a_shuffled_stack_comes_back_in_order_with_every_laying(stack):
    leaves, laid = stack

    order = order_leaves(shuffled(leaves))

    assert either_way(names(order)) == [str(at) for at in range(14)]
    first = laid[int(order.leaves[0].name)]
    assert {leaf.name: leaf.laid for leaf in order.leaves} == {
        str(at): compose(way, first) for at, way in enumerate(laid)
    }


def test_the_steps_tell_how_far_the_work_has_come_and_end_in_the_order(stack):
    *steps, last = order_in_steps(stack[0])

    assert isinstance(last, StackOrder)
    assert all(isinstance(step, Step) for step in steps)
    assert [step.done for step in steps] == sorted(step.done for step in steps)
    assert steps[-1].done < steps[-1].of


def test_the_same_stack_gives_the_same_order(stack):
    assert order_leaves(stack[0]) == order_leaves(stack[0])


def test_a_leaf_trimmed_at_one_end_and_lying_lower_keeps_its_place():
    pictures = drifting_pictures(12, seed=9)
    pictures[4] = pictures[4][ROWS // 25 :]
    pictures[8] = pictures[8][: -ROWS // 20]
    leaves = [as_leaf(str(at), light, seed=at) for at, light in enumerate(pictures)]

    order = order_leaves(shuffled(leaves))

    assert either_way(names(order)) == [str(at) for at in range(12)]


def test_the_light_of_the_lamp_does_not_order_leaves():
    rng = np.random.default_rng(4)
    y = np.linspace(-1, 1, ROWS)[:, None, None]
    pictures = [
        light * np.exp(rng.normal(0, 0.3) * y).astype(np.float32)
        for light in drifting_pictures(12, seed=3)
    ]
    leaves = [as_leaf(str(at), light, seed=at) for at, light in enumerate(pictures)]

    order = order_leaves(shuffled(leaves))

    assert either_way(names(order)) == [str(at) for at in range(12)]


def test_a_leaf_photographed_twice_is_told_as_one():
    pictures = drifting_pictures(14, seed=6)
    leaves = [as_leaf(str(at), light, seed=at) for at, light in enumerate(pictures)]
    again = as_leaf("again", pictures[5], seed=99)

    order = order_leaves(shuffled([*leaves, again]))

    assert [{twins.first, twins.second} for twins in order.twins] == [{"5", "again"}]
    assert "Leaves 5 and again" in " ".join(order_words(names(order), order)) or (
        "Leaves again and 5" in " ".join(order_words(names(order), order))
    )


def test_missing_leaves_stand_out_from_the_other_joints():
    leaves = [leaf for at, leaf in enumerate(made_stack(24, seed=8)[0]) if at not in (11, 12)]

    order = order_leaves(shuffled(leaves))

    widest = max(order.gaps, key=lambda gap: gap.likelihood)
    assert {widest.after, widest.before} == {"10", "13"}


def test_both_faces_of_a_leaf_are_used():
    pictures = drifting_pictures(13, seed=11)
    leaves = []
    for at in range(1, 13):
        front, back = (as_leaf(str(at), pictures[face], seed=at).front for face in (at, at - 1))
        leaves.append(StackLeaf(str(at), front, back))

    order = order_leaves(shuffled(leaves))

    assert either_way(names(order)) == [str(at) for at in range(1, 13)]


def paper(at):
    light = 0.8 + 0.01 * np.random.default_rng(at).normal(size=(ROWS, 80, 3))
    wood = LeafImage(light.astype(np.float32), np.ones((ROWS, 80), bool), 0.5)
    return StackLeaf(str(at), describe_leaf(wood))


def test_plain_paper_is_never_called_sure_of():
    order = order_leaves([paper(at) for at in range(16)])

    assert max(leaf.confidence for leaf in order.leaves) < 0.5
    assert "first guess" in order_words([str(at) for at in range(16)], order)[0]


def test_a_handful_of_leaves_is_put_in_order_but_never_called_sure_of():
    order = order_leaves(shuffled(made_stack(7, seed=12)[0]))

    assert either_way(names(order)) == [str(at) for at in range(7)]
    assert max(leaf.confidence for leaf in order.leaves) < 0.98


def test_leaves_all_alike_give_some_order_and_no_certainty():
    one = paper(1).front

    order = order_leaves([StackLeaf(str(at), one) for at in range(8)])

    assert sorted(names(order)) == [str(at) for at in range(8)]
    assert max(leaf.confidence for leaf in order.leaves) < 0.5


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_leaves_stay_as_they_came(count):
    order = order_leaves([paper(at) for at in range(count)])

    assert names(order) == [str(at) for at in range(count)]
    assert all(leaf.confidence <= 0.5 for leaf in order.leaves)


def test_numbers_places_and_layings_that_are_known_are_kept(stack):
    leaves = stack[0]
    known = Known(
        numbers={"2": 40, "9": 3, "5": 7},
        places={"0": 6},
        laid={"3": Laid.AS_LIES},
    )

    order = order_leaves(shuffled(leaves), known)

    at = {leaf.name: leaf.position for leaf in order.leaves}
    assert at["0"] == 6
    assert at["9"] < at["5"] < at["2"] or at["9"] > at["5"] > at["2"]


def test_what_contradicts_itself_is_refused_in_a_sentence(stack):
    known = Known(numbers={"0": 1, "1": 2, "2": 3}, places={"0": 5, "1": 9, "2": 7})

    with pytest.raises(OrderNotPossible, match="contradict"):
        order_leaves(stack[0], known)


def test_two_leaves_of_one_name_are_refused():
    with pytest.raises(OrderNotPossible, match="Two leaves are called 1"):
        order_leaves([paper(1), paper(1), paper(2)])
