import pytest

from ui.leaf_choice import LeafChoiceFaulty, choose_leaves

SIX = ["01", "02", "03", "04", "05", "06"]


def test_a_run_names_every_leaf_between_its_ends():
    assert choose_leaves("02-04", SIX) == ("02", "03", "04")


def test_single_leaves_and_runs_mix_and_keep_the_order_named():
    assert choose_leaves("05, 01-02", SIX) == ("05", "01", "02")


def test_a_run_may_count_backwards():
    assert choose_leaves("03-01", SIX) == ("03", "02", "01")


def test_no_words_mean_the_whole_bundle():
    assert choose_leaves(" ", SIX) == tuple(SIX)


def test_a_label_with_a_hyphen_is_a_label_before_it_is_a_run():
    assert choose_leaves("W-1", ["W-1", "W-2"]) == ("W-1",)
    assert choose_leaves("W-1-W-2", ["W-1", "W-2"]) == ("W-1", "W-2")


def test_an_unknown_leaf_is_named_with_the_leaves_there_are():
    with pytest.raises(LeafChoiceFaulty, match=r"no leaf '09'.*01, 02"):
        choose_leaves("01-02,09", SIX)


def test_a_leaf_cannot_be_in_a_match_twice():
    with pytest.raises(LeafChoiceFaulty, match="named twice"):
        choose_leaves("01-03,02", SIX)
