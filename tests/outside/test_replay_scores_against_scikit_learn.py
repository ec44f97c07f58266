"""The scores of a replay against scikit-learn's, and its intervals against statsmodels'.

Reference: `log_loss`, `brier_score_loss`, `top_k_accuracy_score`, `label_ranking_average_precision_score`
(with one true label: the mean of 1/place) and `calibration_curve` of scikit-learn; cluster-robust
standard errors of a mean, statsmodels (`cov_type="cluster"`).
"""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from sklearn import metrics

from kb.faults.replay.score import EDGES, Calibration, Forecasts, differences

CAUSES, QUESTIONS = 6, 400


@pytest.fixture(scope="module")
def asked() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Forecasts (causes and the unseen), what came true, and what each question counts."""
    rng = np.random.default_rng(1)
    p = rng.dirichlet(np.full(CAUSES + 1, 0.5), QUESTIONS)
    came = np.array([rng.choice(CAUSES + 1, p=row) for row in p])
    return p, came, rng.choice([1.0, 0.5, 1 / 3], QUESTIONS)


def scored(p: np.ndarray, came: np.ndarray, share: np.ndarray) -> Forecasts:
    forecasts = Forecasts()
    for row, which, vote in zip(p, came, share, strict=True):
        forecasts.add(row, int(which), float(vote))
    return forecasts


def test_log_loss_and_brier_are_those_of_scikit_learn(asked) -> None:
    p, came, share = asked
    found = scored(*asked).figures()
    labels = range(CAUSES + 1)
    assert found.log_loss == pytest.approx(
        metrics.log_loss(came, p, labels=labels, sample_weight=share)
    )
    # Over all hypotheses Brier's score is the sum over them of the one that scikit-learn has always had.
    each = [metrics.brier_score_loss(came == k, p[:, k], sample_weight=share) for k in labels]
    assert found.brier == pytest.approx(sum(each))


def test_places_are_those_of_scikit_learn_where_the_cause_was_known(asked) -> None:
    p, came, share = asked
    known = came < CAUSES
    found = scored(p[known], came[known], share[known]).figures()
    scores, labels = p[known][:, :-1], range(CAUSES)
    for k, ours in ((1, found.top1), (3, found.top3)):
        assert ours == pytest.approx(
            metrics.top_k_accuracy_score(
                came[known], scores, k=k, labels=labels, sample_weight=share[known]
            )
        )
    truth = np.eye(CAUSES)[came[known]]
    assert found.mean_reciprocal_rank == pytest.approx(
        metrics.label_ranking_average_precision_score(truth, scores, sample_weight=share[known])
    )


def test_the_calibration_bins_are_those_of_a_histogram(asked) -> None:
    p, came, _ = asked
    table = Calibration()
    for row, which in zip(p, came, strict=True):
        table.add(row, np.ones(CAUSES, dtype=bool), int(which))
    said = p[:, :-1].ravel()
    true = (came[:, None] == np.arange(CAUSES)).ravel().astype(float)
    count = stats.binned_statistic(said, said, "count", EDGES).statistic
    mean = stats.binned_statistic(said, said, "mean", EDGES).statistic
    share = stats.binned_statistic(said, true, "mean", EDGES).statistic
    bins = table.bins()
    assert [b.count for b in bins] == count.astype(int).tolist()
    assert [b.predicted for b in bins] == pytest.approx(mean.tolist())
    assert [b.observed for b in bins] == pytest.approx(share.tolist())


def test_the_interval_of_a_difference_is_that_of_clustered_errors(asked) -> None:
    p, came, share = asked
    other = np.random.default_rng(2).dirichlet(np.ones(CAUSES + 1), QUESTIONS)
    visits = [f"v{i // 3}" for i in range(QUESTIONS)]
    ours, theirs = scored(p, came, share), scored(other, came, share)
    found = differences(ours, theirs, visits)
    values = np.array(ours.loss) - np.array(theirs.loss)
    groups = np.arange(QUESTIONS) // 3
    fitted = sm.WLS(values, np.ones(QUESTIONS), weights=share).fit(
        cov_type="cluster", cov_kwds={"groups": groups, "use_correction": False}
    )
    number = groups[-1] + 1
    reach = stats.t.ppf(0.975, number - 1) * fitted.bse[0] * np.sqrt(number / (number - 1))
    assert found.log_loss == pytest.approx(fitted.params[0])
    assert found.log_loss_interval == pytest.approx(
        (fitted.params[0] - reach, fitted.params[0] + reach)
    )
