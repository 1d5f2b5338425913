"""Loose leaves among stacks that no log gave (`made_stacks`)."""

import cv2
import numpy as np
import pytest

from tests.vision.made_stacks import ROWS, as_leaf, drifting_pictures
from vision.leaf_descriptor import describe_leaf
from vision.leaf_image import LeafImage
from vision.leaf_trace import LeafTrace, trace_leaf
from vision.loose_leaf import Stock, likely_bundles, place_leaf
from vision.record_check import check_record
from vision.shot import Laid
from vision.stack_order import StackLeaf
from vision.trace_search import search_traces

FLITCHES, LEAVES = 14, 7
TURNED = (Laid.AS_LIES, Laid.END_TURNED, Laid.FACE_OVER, Laid.END_OVER)


@pytest.fixture(scope="module")
def pictures():
    return [drifting_pictures(LEAVES, seed=100 + one) for one in range(FLITCHES + 1)]


def stock_of(records):
    return Stock(
        tuple(leaf for record in records for leaf in record),
        tuple(trace_leaf(leaf.front) for record in records for leaf in record),
        tuple(at for at, record in enumerate(records) for _ in record),
        tuple(at for at, record in enumerate(records) for _ in record),
    )


@pytest.fixture(scope="module")
def stock(pictures):
    """Flitches 0 to 13 without their leaf 3; flitch 14 is foreign."""
    records = [
        [as_leaf(str(at), light, seed=at) for at, light in enumerate(one) if at != 3]
        for one in pictures[:FLITCHES]
    ]
    return stock_of(records)


def placed(leaf, stock):
    candidates = likely_bundles(trace_leaf(leaf.front), stock)
    return place_leaf(leaf, candidates, [one.leaves for one in candidates])[0]


@pytest.mark.parametrize("laid", TURNED)
def test_a_withheld_leaf_is_placed_in_its_gap_however_it_lies(pictures, stock, laid):
    found = placed(as_leaf("loose", pictures[6][3], laid, seed=77), stock)

    assert found.is_in_catalogue
    assert found.bundle == 6
    assert {found.leaf, found.before, found.after} & {"2", "4"}
    assert found.laid is laid


def test_a_leaf_that_was_catalogued_is_found_to_be_itself(pictures, stock):
    found = placed(as_leaf("loose", pictures[2][4], seed=78), stock)

    assert (found.bundle, found.leaf) == (2, "4")


def test_a_leaf_shifted_on_the_board_and_trimmed_is_found(pictures, stock):
    light = cv2.GaussianBlur(pictures[5][5][20:-5], (0, 0), 1.0)

    found = placed(as_leaf("loose", light, seed=79), stock)

    assert found.is_in_catalogue
    assert found.bundle == 5
    assert "5" in {found.leaf, found.before, found.after}


def test_leaves_of_a_flitch_that_is_not_there_are_refused(pictures, stock):
    found = [placed(as_leaf("loose", light, seed=80), stock) for light in pictures[FLITCHES]]

    assert sum(one.is_in_catalogue for one in found) == 0, [one.chance for one in found]


def test_plain_paper_is_refused(stock):
    rng = np.random.default_rng(3)
    paper = (0.5 + rng.normal(0, 0.003, (ROWS, 80, 3))).astype(np.float32)
    plain = StackLeaf("plain", describe_leaf(LeafImage(paper, np.ones((ROWS, 80), bool), 0.4)))

    assert not placed(plain, stock).is_in_catalogue


@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_shortest_records_give_a_place_and_no_nonsense(pictures, count):
    record = [as_leaf(str(at), pictures[0][at], seed=at) for at in range(count)]

    own = placed(as_leaf("loose", pictures[0][0], seed=81), stock_of([record]))
    foreign = placed(as_leaf("loose", pictures[FLITCHES][0], seed=82), stock_of([record]))

    assert own.is_in_catalogue
    assert "0" in {own.leaf, own.before, own.after}
    assert 0 <= own.place_chance <= 1
    assert not foreign.is_in_catalogue


def test_an_empty_stock_gives_no_candidate(pictures):
    wanted = trace_leaf(as_leaf("loose", pictures[0][0]).front)

    assert likely_bundles(wanted, stock_of([])) == ()
    assert search_traces(wanted, []).shape == (0, 4)


def test_a_trace_comes_back_from_its_bytes_and_is_small(pictures):
    trace = trace_leaf(as_leaf("one", pictures[0][0]).front)

    again = LeafTrace.from_bytes(trace.to_bytes())

    assert np.array_equal(again.cells, trace.cells)
    assert (again.length, again.width, again.is_in_mm) == (ROWS / 0.4, 80 / 0.4, True)
    assert len(trace.to_bytes()) < 8000


def test_an_untouched_stack_holds_every_leaf_of_its_record(pictures):
    record = [as_leaf(str(at), light, seed=at) for at, light in enumerate(pictures[1])]
    again = [as_leaf(f"p{at}", light, seed=50 + at) for at, light in enumerate(pictures[1])]

    check = check_record(again, record)

    assert [one.leaf for one in check.photographed] == [str(at) for at in range(LEAVES)]
    assert (check.gone, check.moved, check.is_reversed) == ((), (), False)


def test_a_stack_read_from_its_other_end_is_reversed_and_not_moved(pictures):
    record = [as_leaf(str(at), light, seed=at) for at, light in enumerate(pictures[1])]
    again = [as_leaf(f"p{at}", pictures[1][at], seed=50 + at) for at in range(LEAVES)][::-1]

    check = check_record(again, record)

    assert check.came == tuple(str(at) for at in range(LEAVES))[::-1]
    assert check.is_reversed
    assert check.moved == ()


def test_gone_moved_turned_and_foreign_leaves_are_told_apart(pictures):
    record = [as_leaf(str(at), light, seed=at) for at, light in enumerate(pictures[1])]
    came = [as_leaf(f"p{at}", pictures[1][at], seed=50 + at) for at in (0, 5, 1, 3, 4, 6)]
    came[3] = as_leaf("p3", pictures[1][3], Laid.END_TURNED, seed=53)
    came.insert(2, as_leaf("stranger", pictures[FLITCHES][2], seed=60))

    check = check_record(came, record)

    assert [one.leaf for one in check.photographed] == ["0", "5", None, "1", "3", "4", "6"]
    assert check.gone == ("2",)
    assert check.moved == ("5",)
    assert [one.name for one in check.photographed if one.is_foreign] == ["stranger"]
    laid = {one.leaf: one.laid for one in check.photographed if one.leaf}
    assert laid["3"] is Laid.END_TURNED
    assert {laid[name] for name in laid if name != "3"} == {Laid.AS_LIES}


def test_photographs_of_another_flitch_are_all_foreign_and_every_leaf_gone(pictures):
    record = [as_leaf(str(at), light, seed=at) for at, light in enumerate(pictures[1])]
    came = [as_leaf(f"p{at}", light, seed=at) for at, light in enumerate(pictures[2][:4])]

    check = check_record(came, record)

    assert all(one.is_foreign for one in check.photographed)
    assert check.gone == check.record
    assert check.moved == ()
