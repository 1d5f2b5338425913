from tests.ui.made_pairs import a_pair
from ui.words import lighter_leaf, lighter_words, shot_words, signed, step_words
from vision.shot import Laid, Lamp, Shot


def test_a_positive_step_means_the_right_leaf_is_lighter():
    assert lighter_leaf(a_pair(3.0, low=2.5, high=3.5)) == "02"


def test_a_negative_step_means_the_left_leaf_is_lighter():
    assert lighter_leaf(a_pair(-3.0, low=-3.5, high=-2.5)) == "01"


def test_no_leaf_is_called_lighter_where_the_interval_crosses_zero():
    pair = a_pair(0.2, low=-0.4, high=0.8)

    assert lighter_leaf(pair) is None
    assert lighter_words(pair) == "neither is clearly lighter"


def test_a_pair_without_evidence_says_not_measured_and_shows_no_number():
    pair = a_pair(None)

    assert lighter_words(pair) == "not measured"
    assert step_words(pair) == "–"


def test_a_step_carries_its_sign_and_its_interval():
    assert step_words(a_pair(-1.26, low=-1.8, high=-0.7)) == "−1.3 (−1.8 to −0.7)"


def test_a_step_that_rounds_to_nothing_has_no_sign():
    assert signed(-0.04) == "0.0"


def test_an_opened_pair_is_named_by_both_leaves():
    shot = Shot("p.jpg", "01+02", laid=Laid.OPENED_PAIR, lamp=Lamp.B)

    assert shot_words(shot) == "01 | 02, pair laid open, lamp B"
