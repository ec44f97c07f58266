"""The posterior of the ratios beside SciPy's adaptive integration of the same model.

Source of the model: W. DuMouchel, The American Statistician 53 (1999), 177-190, with a gamma
distributed expectation; written anew here from the densities' textbook formulas, which the last
test and `scipy.stats` hold to their meaning.
"""

from math import exp, lgamma, log

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.stats import gamma, nbinom, poisson

from kb.faults.shrinkage import Gamma, Pair, Prior, ratios

PRIOR = Prior(usual=Gamma(9.0, 10.0), apart=Gamma(2.5, 0.8), share_apart=0.06)
# Where the integrand turns: told to the integrator so that it misses nothing.
KNOTS = list(np.log([0.1, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0]))


def gamma_density(at: float, g: Gamma) -> float:
    return exp(g.shape * log(g.rate) + (g.shape - 1) * log(at) - g.rate * at - lgamma(g.shape))


def prior_density(ratio: float) -> float:
    usual, apart = gamma_density(ratio, PRIOR.usual), gamma_density(ratio, PRIOR.apart)
    return (1 - PRIOR.share_apart) * usual + PRIOR.share_apart * apart


def count_probability(seen: float, mean: float, backing: float) -> float:
    """Negative binomial probability, from its mean and shape."""
    return exp(
        lgamma(seen + backing)
        - lgamma(seen + 1)
        - lgamma(backing)
        + seen * log(mean / (mean + backing))
        + backing * log(backing / (mean + backing))
    )


def by_integration(pair: Pair) -> tuple[float, float]:
    """Geometric mean and 5 % quantile of the ratio, integrated over its logarithm."""

    def density(at: float) -> float:
        ratio = exp(at)
        return (
            prior_density(ratio)
            * ratio
            * count_probability(pair.seen, ratio * pair.expected, pair.backing)
        )

    def up_to(end: float) -> float:
        inside = [k for k in KNOTS if k < end]
        return quad(density, log(1e-3), end, points=inside, limit=400)[0]

    top = log(1e3)
    whole = up_to(top)
    mean_log = quad(lambda x: x * density(x), log(1e-3), top, points=KNOTS, limit=400)[0] / whole
    return exp(mean_log), exp(
        brentq(lambda x: up_to(x) / whole - 0.05, log(0.01), log(100), xtol=1e-4)
    )


@pytest.mark.parametrize(
    "pair",
    [
        Pair(4, 0.3, 1.2),
        Pair(3, 1.6, 6.1),
        Pair(1, 0.02, 0.08),
        Pair(0, 2.5, 9.0),
        Pair(15, 5.0, 15.0),
        Pair(40, 12.0, 80.0),
    ],
)
def test_ratio_and_lower_bound_agree_with_numerical_integration(pair: Pair) -> None:
    typical, low = by_integration(pair)
    (ours,) = ratios(PRIOR, [pair])
    assert ours.typical == pytest.approx(typical, rel=1e-3)
    assert ours.low == pytest.approx(low, rel=0.01)


@pytest.mark.parametrize(("seen", "expected", "backing"), [(0, 0.5, 2.3), (3, 0.5, 2.3), (7, 4, 9)])
def test_a_count_against_an_uncertain_expectation_is_negative_binomial(
    seen: int, expected: float, backing: float
) -> None:
    """A Poisson count whose mean is gamma distributed, integrated: Greenwood and Yule 1920."""
    integrated = quad(
        lambda mean: poisson.pmf(seen, mean) * gamma.pdf(mean, backing, scale=expected / backing),
        0,
        60,
        limit=200,
    )[0]
    theirs = float(nbinom.pmf(seen, backing, backing / (backing + expected)))
    assert theirs == pytest.approx(integrated)
    assert count_probability(seen, expected, backing) == pytest.approx(theirs)
