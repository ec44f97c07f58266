"""Shrinkage on the failures of ten pumps, beside fits and posteriors made by other means.

Data: D. P. Gaver and I. G. O'Muircheartaigh, "Robust empirical Bayes analyses of event rates",
Technometrics 29 (1987), 1-15: failures and hours (thousands) of ten pumps of one power plant. The
hours are known for certain, which is the case of unlimited backing: Poisson counts.
"""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import digamma
from scipy.stats import gamma, nbinom, norm
from statsmodels.discrete.discrete_model import NegativeBinomial

from kb.faults.shrinkage import Gamma, Pair, Prior, fit, ratios

FAILURES = np.array([5, 1, 5, 14, 3, 19, 1, 1, 4, 22])
HOURS = np.array([94.3, 15.7, 62.9, 126.0, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])
EXPECTED = HOURS * FAILURES.sum() / HOURS.sum()
CERTAIN = 1e9
PUMPS = [Pair(float(n), float(e), CERTAIN) for n, e in zip(FAILURES, EXPECTED, strict=True)]


def one_gamma() -> Gamma:
    """Let statsmodels fit one gamma: a negative binomial with the exposure and no covariate."""
    ones = np.ones((len(FAILURES), 1))
    model = NegativeBinomial(FAILURES, ones, exposure=EXPECTED)
    result = model.fit(disp=False, maxiter=500, method="nm")
    log_mean, dispersion = result.params
    return Gamma(1 / dispersion, 1 / dispersion / np.exp(log_mean))


def test_with_one_gamma_fitted_by_statsmodels_the_ratios_are_those_of_the_conjugate_posterior() -> (
    None
):
    prior = one_gamma()
    shape, rate = prior.shape + FAILURES, prior.rate + EXPECTED
    answer = ratios(Prior(prior, prior, 0.5), PUMPS)
    # Geometric mean of a gamma: exp(digamma(shape)) / rate (DuMouchel 1999, equation 11).
    assert [r.typical for r in answer] == pytest.approx(np.exp(digamma(shape)) / rate, rel=2e-3)
    assert [r.low for r in answer] == pytest.approx(
        gamma.ppf(0.05, shape, scale=1 / rate), rel=0.01
    )


def objective(point: NDArray[np.float64]) -> float:
    """Write the drawn marginal likelihood anew, from SciPy's negative binomial and normal."""
    log_mean, log_shape, apart_log_mean, apart_log_shape, log_odds = point
    share = 1 / (1 + np.exp(-log_odds))
    total = np.zeros(len(FAILURES))
    for part, log_m, log_s in (
        (1 - share, log_mean, log_shape),
        (share, apart_log_mean, apart_log_shape),
    ):
        shape = np.exp(log_s)
        rate = shape / np.exp(log_m)
        total += part * nbinom.pmf(FAILURES, shape, rate / (rate + EXPECTED))
    pull = norm.logpdf(
        point,
        [0.0, np.log(8.0), np.log(4.0), np.log(3.0), np.log(0.05 / 0.95)],
        [0.5, 1.0, 0.5, 0.5, 2.0],
    )
    return -float(np.log(total).sum() + pull.sum())


def test_the_fit_of_two_gammas_agrees_with_an_independent_maximisation() -> None:
    starts = [
        [0.0, 2.0, 1.4, 1.1, -3.0],
        [-0.5, 0.5, 1.8, 0.5, 0.0],
        [0.5, 0.0, 1.0, 1.0, -1.0],
    ]
    options = {"maxiter": 20_000, "maxfev": 20_000, "xatol": 1e-7, "fatol": 1e-10}
    best = min(
        (minimize(objective, s, method="Nelder-Mead", options=options) for s in starts),
        key=lambda r: r.fun,
    )
    prior = fit(PUMPS)
    ours = [
        np.log(prior.usual.shape / prior.usual.rate),
        np.log(prior.usual.shape),
        np.log(prior.apart.shape / prior.apart.rate),
        np.log(prior.apart.shape),
        np.log(prior.share_apart / (1 - prior.share_apart)),
    ]
    assert ours == pytest.approx(best.x, abs=0.03)
    assert objective(np.array(ours)) == pytest.approx(best.fun, abs=1e-3)
