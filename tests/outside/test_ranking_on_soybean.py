"""The ranking on open data, beside other methods on the same plants.

Data: soybean diseases, Michalski & Chilausky 1980, see the head of `data/soybean.txt`. Other
methods: scikit-learn. Ten repeats of ten-fold are in `tests/benchmarks/ranking_outside.py`; this
is one fold in five, one time.
"""

from __future__ import annotations

from collections import Counter
from math import log

import numpy as np
import pytest
from sklearn.ensemble import RandomForestClassifier
from sklearn.linear_model import LogisticRegression
from sklearn.naive_bayes import CategoricalNB
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import OneHotEncoder
from soybean import folds, soybean

from kb.faults.counting import counts_of
from kb.faults.experience import experience_of
from kb.faults.fitting import fit
from kb.faults.ranking import rank

PLANTS = soybean()


def test_the_data_are_those_that_the_source_describes() -> None:
    assert PLANTS.values.shape == (683, 35)
    assert (PLANTS.values < 0).sum() == 2337
    assert len(PLANTS.diseases) == 19
    assert min(Counter(PLANTS.disease.tolist()).values()) == 8
    assert len(PLANTS.without_duplicates().disease) == 683 - 52


@pytest.fixture(scope="module")
def split() -> tuple[np.ndarray, np.ndarray]:
    fold = folds(PLANTS.disease, 10, seed=1)
    return np.flatnonzero(fold > 1), np.flatnonzero(fold <= 1)


@pytest.fixture(scope="module")
def ours(split) -> tuple[list[float], list[int]]:
    """The log loss of each plant asked, and the place at which its disease stands."""
    train, test = split
    records = PLANTS.records(train)
    book = experience_of(counts_of(records), {}, {}, fit(records, {}, {}))
    loss, place = [], []
    for plant in test:
        answer = rank(book, PLANTS.evidence(plant))
        order = [c.cause for c in answer.causes]
        at = order.index(PLANTS.diseases[PLANTS.disease[plant]])
        loss.append(-log(answer.causes[at].probability))
        place.append(at)
    return loss, place


def test_it_names_the_disease_first_mostly_and_among_three_nearly_always(ours) -> None:
    loss, place = ours
    assert np.mean(np.array(place) == 0) >= 0.90
    assert np.mean(np.array(place) < 3) >= 0.98
    assert np.mean(loss) <= 0.19


@pytest.mark.parametrize(
    "peer",
    [
        CategoricalNB(min_categories=[len(names) + 1 for names in PLANTS.names]),
        make_pipeline(OneHotEncoder(handle_unknown="ignore"), LogisticRegression(max_iter=2000)),
        RandomForestClassifier(random_state=1),
    ],
    ids=["naive Bayes", "logistic regression", "random forest"],
)
def test_its_probabilities_are_better_than_those_of_other_methods_as_they_come(
    peer, split, ours
) -> None:
    train, test = split
    codes = PLANTS.coded()
    peer.fit(codes[train], PLANTS.disease[train])
    p = peer.predict_proba(codes[test])[np.arange(len(test)), PLANTS.disease[test]]
    assert np.mean(ours[0]) < np.mean(-np.log(np.maximum(p, 1e-15)))
