"""The prior against published formulas, SciPy and an independent simulation.

Two-parameter partitions: Pitman, Exchangeable and partially exchangeable random partitions,
Probab. Theory Relat. Fields 102 (1995) 145-158; at d = 0 Ewens' sampling formula (1972).
Stick-breaking: Sethuraman 1994; Ishwaran & James 2001.
Good-Turing: the fish of Jurafsky & Martin, Speech and Language Processing (chapter on n-grams):
10 carp, 3 perch, 2 whitefish, 1 trout, 1 salmon, 1 eel; P(unseen) = 3/18.
"""

from __future__ import annotations

from math import log

import numpy as np
import pytest
from scipy.special import gammaln
from scipy.stats import dirichlet_multinomial

from kb.faults.prior import Prior, good_turing_unseen, grow, prior
from kb.faults.strengths import BackOff, Strengths

EVERYTHING_NEW = BackOff(theta=1e15, discount=0.0)
"""A book above the family that lends no known cause: one level alone is left."""


def one_level(counts: dict[str, float], theta: float, discount: float) -> Prior:
    strengths = Strengths(family=BackOff(theta, discount), book=EVERYTHING_NEW)
    return prior(grow({"drum": counts}, {}), "drum", {}, strengths)


def log_rising(x: float, step: float, count: int) -> float:
    """log of x (x + step) (x + 2 step) ..., `count` factors."""
    return sum(log(x + step * i) for i in range(count))


@pytest.mark.parametrize(("theta", "discount"), [(3.0, 0.0), (0.7, 0.0), (2.0, 0.4), (5.0, 0.75)])
def test_a_sequence_of_faults_has_the_published_probability_of_its_partition(
    theta: float, discount: float
) -> None:
    sequence = "a b a a c b a d a e c a".split()
    found, counts = 0.0, {}
    for cause in sequence:
        now = one_level(counts, theta, discount)
        found += log(now.causes[cause] if cause in counts else now.unseen)
        counts[cause] = counts.get(cause, 0.0) + 1.0
    sizes = list(counts.values())
    expected = (
        log_rising(theta + discount, discount, len(sizes) - 1)
        - log_rising(theta + 1.0, 1.0, len(sequence) - 1)
        + sum(gammaln(n - discount) - gammaln(1.0 - discount) for n in sizes)
    )
    assert found == pytest.approx(expected, abs=1e-9)


def test_without_a_discount_it_is_ewens_sampling_formula() -> None:
    theta, sizes = 2.5, [4, 2, 1]
    counts: dict[str, float] = {}
    found = 0.0
    for cause, size in zip("abc", sizes, strict=True):
        for _ in range(size):
            now = one_level(counts, theta, 0.0)
            found += log(now.causes.get(cause, now.unseen) if cause in counts else now.unseen)
            counts[cause] = counts.get(cause, 0.0) + 1.0
    ewens = len(sizes) * log(theta) + sum(gammaln(n) for n in sizes)
    ewens -= gammaln(theta + sum(sizes)) - gammaln(theta)
    assert found == pytest.approx(ewens, abs=1e-9)


def test_without_a_discount_a_family_is_dirichlet_multinomial_around_the_book() -> None:
    faults = {
        "drum": {"a": 5.0, "b": 1.0},
        "harp": {"a": 2.0, "c": 4.0},
        "horn": {"b": 1.0, "d": 1.0},
    }
    theta = 3.5
    strengths = Strengths(family=BackOff(theta, 0.0), book=BackOff(2.0, 0.3))
    tree = grow(faults, {})
    book, family = (prior(tree, which, {}, strengths) for which in (None, "drum"))
    names = sorted(book.causes)
    alpha = theta * np.array([*(book.causes[n] for n in names), book.unseen])
    seen = np.array([*(faults["drum"].get(n, 0.0) for n in names), 0.0])
    found = [*(family.causes[n] for n in names), family.unseen]
    for which, p in enumerate(found):
        one_more = np.eye(len(names) + 1, dtype=int)[which]
        assert p == pytest.approx(dirichlet_multinomial(alpha + seen, 1).pmf(one_more), abs=1e-12)


@pytest.mark.parametrize(("theta", "discount"), [(4.0, 0.0), (2.0, 0.5)])
def test_the_unseen_matches_books_drawn_by_breaking_sticks(theta: float, discount: float) -> None:
    rng = np.random.default_rng(7)
    true, predicted = [], []
    for _ in range(1500):
        k = np.arange(1, 401)
        parts = rng.beta(1.0 - discount, theta + discount * k)
        sticks = parts * np.concatenate([[1.0], np.cumprod(1.0 - parts)[:-1]])
        drawn = np.searchsorted(np.cumsum(sticks), rng.random(15))
        causes, counts = np.unique(drawn, return_counts=True)
        true.append(1.0 - sticks[causes[causes < len(sticks)]].sum())
        named = {str(c): float(n) for c, n in zip(causes, counts, strict=True)}
        predicted.append(one_level(named, theta, discount).unseen)
    gap = np.array(predicted) - np.array(true)
    assert abs(gap.mean()) < 4 * gap.std() / np.sqrt(len(gap))


@pytest.mark.parametrize(("theta", "discount"), [(1.0, 0.0), (3.0, 0.3), (0.5, 0.7)])
def test_new_causes_come_as_often_as_in_a_simulated_chinese_restaurant(
    theta: float, discount: float
) -> None:
    """Guests sit down one by one (Pitman 2006, Combinatorial Stochastic Processes, 3.2).

    The number of tables among n guests against its expectation under our predictions: each new
    table adds 1, and what was predicted for it before is taken off, which leaves 0 on average.
    """
    rng = np.random.default_rng(11)
    gaps = []
    for _ in range(400):
        tables: list[int] = []
        gap = 0.0
        for guest in range(40):
            named = {str(t): float(n) for t, n in enumerate(tables)}
            gap -= one_level(named, theta, discount).unseen
            at = rng.random() * (guest + theta)
            for t, sitting in enumerate(tables):
                at -= sitting - discount
                if at < 0:
                    tables[t] += 1
                    break
            else:
                tables.append(1)
                gap += 1.0
        gaps.append(gap)
    assert abs(np.mean(gaps)) < 4 * np.std(gaps) / np.sqrt(len(gaps))


def test_good_turing_gives_the_published_chance_of_a_new_fish() -> None:
    assert good_turing_unseen([10, 3, 2, 1, 1, 1]) == pytest.approx(3 / 18, abs=1e-15)
