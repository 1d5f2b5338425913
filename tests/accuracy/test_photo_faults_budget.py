"""Faults of photographs, on more than two hundred fresh ones: told where they are, else quiet."""

import secrets

import pytest

from tests.accuracy.damaged_photos import FAULTS
from tests.accuracy.photo_faults import (
    LEAST_AUC,
    LEAST_TOLD,
    MOST_FALSE,
    auc,
    false_alarms,
    good_ones,
    look_at_all,
    scores_of,
    told_in_words,
    told_share,
)


@pytest.fixture(scope="module")
def looked():
    found = look_at_all(56, first_seed=secrets.randbelow(2**30))
    assert len(found) >= 200
    return found


@pytest.mark.parametrize("fault", sorted(FAULTS))
def test_a_faulty_photograph_scores_above_a_good_one_nineteen_times_in_twenty(looked, fault):
    good, bad = scores_of(looked, fault)

    assert len(good) >= 100
    assert len(bad) >= 24
    assert auc(good, bad) >= LEAST_AUC >= 0.95, told_in_words(looked)


def test_hardly_any_good_photograph_is_called_faulty(looked):
    good = good_ones(looked)

    titles = {title for _, title, _ in false_alarms(looked)}
    assert len(titles) <= MOST_FALSE * len(good), false_alarms(looked)


def test_hardly_any_good_photograph_is_refused(looked):
    good = good_ones(looked)

    refused = [one.title for one in good if one.refused]
    assert len(refused) <= MOST_FALSE * len(good), refused


def test_most_faults_are_told(looked):
    assert told_share(looked) >= LEAST_TOLD
