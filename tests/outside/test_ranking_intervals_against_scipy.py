"""The special functions of the intervals against SciPy, and the delta method against draws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import expit, logit, polygamma
from scipy.stats import beta, lognorm, norm

from kb.faults.experience import experience_of
from kb.faults.intervals import down, intervals, normal_quantile, trigamma, up
from kb.faults.likelihood import rate
from kb.faults.ranking import rank
from kb.faults.strengths import Strengths
from kb.values import Counts, Evidence


def test_trigamma_agrees_with_scipy() -> None:
    for x in np.geomspace(1e-6, 1e6, 400):
        assert trigamma(float(x)) == pytest.approx(float(polygamma(1, x)), rel=1e-12)


def test_trigamma_of_one_is_pi_squared_over_six() -> None:
    # Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 6.4.2.
    assert trigamma(1.0) == pytest.approx(np.pi**2 / 6, abs=1e-14)


@pytest.mark.parametrize("x", [0.0, -1.0])
def test_trigamma_refuses_what_it_is_not_made_for(x: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        trigamma(x)


@pytest.mark.parametrize("pair", [(0.3, 2.0), (1.0, 1.0), (4.5, 0.7), (30.0, 80.0)])
def test_the_variance_of_a_log_rate_agrees_with_scipy(pair: tuple[float, float]) -> None:
    law = beta(*pair)
    mean = law.expect(np.log)
    expected = law.expect(lambda x: (np.log(x) - mean) ** 2)
    assert down(pair) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("pair", [(0.3, 2.0), (1.0, 1.0), (4.5, 0.7), (30.0, 80.0)])
def test_upwards_it_is_the_log_normal_with_the_same_mean_and_variance(
    pair: tuple[float, float],
) -> None:
    mean, variance = beta.stats(*pair)
    law = lognorm(np.sqrt(up(pair)), scale=mean * np.exp(-up(pair) / 2))
    assert law.mean() == pytest.approx(float(mean), rel=1e-12)
    assert law.var() == pytest.approx(float(variance), rel=1e-12)


@pytest.mark.parametrize("level", [0.01, 0.5, 0.8, 0.95, 0.999999])
def test_the_normal_quantile_agrees_with_scipy(level: float) -> None:
    assert normal_quantile(level) == pytest.approx(norm.ppf((1 + level) / 2), rel=1e-9)


@pytest.mark.parametrize("level", [0.0, 1.0, -0.5])
def test_a_level_that_is_none_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="level"):
        normal_quantile(level)


def test_the_interval_of_a_ranking_follows_the_formula_worked_with_scipy() -> None:
    counts = Counts(
        faults={"drum": {"a": 5.0, "b": 2.0}},
        symptoms={"hum": {"a": 4.0}},
        checks={"tap": {"yes": {"a": 1.0}, "no": {"a": 1.0, "b": 2.0}}},
    )
    weights, spreads = {"symptom:hum": 0.7, "check:tap": 0.4}, {"symptom:hum": 0.3}
    strengths = Strengths(weights=weights, spreads=spreads, spread=0.25)
    book = experience_of(counts, {}, {}, strengths)
    ranking = rank(book, Evidence("drum", ("hum",), checks=(("tap", "no"),)), 0.9)
    prior = book.prior("drum")
    shares = np.array([prior.causes["a"], prior.causes["b"], prior.unseen])
    rates = (book.symptom_rates("hum"), book.check_rates("tap")["no"])
    pairs = [np.array([r.of("a"), r.of("b"), r.pooled]) for r in rates]
    low, high = polygamma(1, prior.size * shares), np.log1p(1 / (prior.size * shares))
    for with_it, against in (pair.T for pair in pairs):
        low = low + polygamma(1, with_it) - polygamma(1, with_it + against)
        law = beta(with_it, against)
        high = high + np.log1p(law.var() / law.mean() ** 2)
    found = {c.cause: c for c in ranking.causes}
    p = np.array([found["a"].probability, found["b"].probability, ranking.unseen])

    def log_odds(shift: np.ndarray) -> np.ndarray:
        """As in the ranking, with the weights of hum and tap moved."""
        given = [[rate(r.of("a")), rate(r.of("b")), r.of_unseen(strengths.weight)] for r in rates]
        share = shares * np.prod(np.array(given).T ** (np.array([0.7, 0.4]) + shift), axis=1)
        return logit(share / share.sum())

    assert log_odds(np.zeros(2)) == pytest.approx(logit(p), abs=1e-9)
    nudge = np.array([[1e-6, 0.0], [0.0, 1e-6]])
    slopes = [(log_odds(n) - log_odds(-n)) / 2e-6 for n in nudge]
    weighing = (0.3 * slopes[0]) ** 2 + (0.25 * slopes[1]) ** 2
    for i, cause in enumerate("ab"):
        rivals = np.delete(p / (1 - p[i]), i) ** 2 @ np.expm1(np.delete(high, i))
        r, z = np.log1p(rivals) + weighing[i], norm.ppf(0.95)
        expected = expit(
            logit(p[i]) + np.array([-z * np.sqrt(low[i] + r), z * np.sqrt(high[i] + r)])
        )
        assert found[cause].interval == pytest.approx(tuple(expected), abs=1e-7)


@pytest.mark.parametrize("counts", [[14.0, 9.0, 6.0, 4.0], [5.0, 2.0, 1.0, 0.3, 0.3]])
def test_the_intervals_of_the_three_largest_cover_a_dirichlet_about_as_often_as_they_say(
    counts: list[float],
) -> None:
    rng = np.random.default_rng(3)
    drawn = rng.dirichlet(counts, size=20_000)
    p = np.array(counts) / sum(counts)
    both_sides = [trigamma(c) for c in counts], [np.log1p(1 / c) for c in counts]
    found = intervals(list(p), list(np.log(p / (1 - p))), *both_sides, [0.0] * len(p), 0.8)
    for share, (low, high) in list(zip(drawn.T, found, strict=True))[:3]:
        assert np.mean((share > low) & (share < high)) == pytest.approx(0.8, abs=0.05)
