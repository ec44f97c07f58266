"""Observed-to-expected ratios that do not run away when the counts are small.

Every pair of a family and a cause has a true ratio: how many times as often as in comparable units
the cause is found here. Before its own count is looked at, a pair's ratio is one of two kinds: most
are "usual", near 1; a few are "apart". Each kind is a gamma distribution, and the five numbers that
describe the two are fitted to all pairs of the book together (DuMouchel 1999). The count of a pair
then moves its ratio away from what is usual only as far as the count is worth.

One thing differs from DuMouchel's tables of millions: what is expected here rests on a few dozen
comparable visits, and is itself uncertain. If it rests on `backing` cases, the count given the
ratio is negative binomial with that shape instead of Poisson, and becomes Poisson as `backing`
grows. Treating it as known gives false weak points in ordinary books: measured in
`tests/benchmarks/weak_points_simulation.py`.

NumPy loads with this module, so only what needs it should import it; SciPy, which takes longer to
load than all this takes, does not.

Sources: W. DuMouchel, "Bayesian data mining in large frequency tables, with an application to the
FDA spontaneous reporting system", The American Statistician 53 (1999), 177-190; the negative
binomial as a Poisson count with a gamma distributed mean: M. Greenwood and G. U. Yule, Journal of
the Royal Statistical Society 83 (1920), 255-279.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, lgamma, log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LOW = 0.05
"""The quantile given as the lower bound of a ratio."""

# Ratios are integrated over a grid that is even in their logarithm, in steps of 5 %.
_LOG_RATIO: Array = np.linspace(log(1e-3), log(1e3), 277)
_RATIO: Array = np.exp(_LOG_RATIO)

# Where the fit starts, and how far it may be drawn from there: log mean and log shape of the usual
# ratios, the same of those apart, log odds of being apart. A book of few pairs stays near these.
_CENTRE: Array = np.array([0.0, log(8.0), log(4.0), log(3.0), log(0.05 / 0.95)])
_REACH: Array = np.array([0.5, 1.0, 0.5, 0.5, 2.0])
_FARTHEST = 3.0
_STEP = 1e-4
_MOST_STEPS = 100
_FLAT = 1e-8
"""Less than this is gained where the fit ends, by its own reckoning."""
_SHORTEST = 1e-6
_ALIKE = 0.02
_AT_ONCE = 512


class Pair(NamedTuple):
    """A family and a cause: cases `seen`, cases `expected`, cases the expectation rests on."""

    seen: float
    expected: float
    backing: float


class Gamma(NamedTuple):
    """A gamma distribution of ratios; its mean is `shape / rate`."""

    shape: float
    rate: float


class Prior(NamedTuple):
    """How ratios are spread over the pairs of a book; `share_apart` of them are apart."""

    usual: Gamma
    apart: Gamma
    share_apart: float


class Ratio(NamedTuple):
    """What a pair's count says of its ratio: the geometric mean, and the 5 % quantile."""

    typical: float
    low: float


def fit(pairs: Sequence[Pair]) -> Prior:
    """Fit how ratios are spread, by maximum marginal likelihood over all pairs of the book.

    The likelihood is drawn gently to a fixed starting point, so that the fit exists for every book:
    usual ratios with mean 1 and shape 8, ratios apart with mean 4 and shape 3, 5 % of them apart.
    The pull is a normal density with standard deviation 0.5, 1, 0.5 and 0.5 for the logarithms of
    these means and shapes, and 2 for the log odds of the share. Without pairs the starting point
    is the answer. The order of the pairs does not matter.

    Args:
        pairs: each with `expected` and `backing` above 0.
    """
    if not pairs:
        return _prior(_CENTRE)
    # Pairs that agree to 2 % are counted together: a large book has few kinds of pair.
    rows = np.array([(p.seen, log(p.backing), log(p.expected / p.backing)) for p in pairs])
    rows[:, 1:] = _ALIKE * np.round(rows[:, 1:] / _ALIKE)
    kinds, number = np.unique(rows, axis=0, return_counts=True)
    likelihood = _likelihood(kinds[:, 0], np.exp(kinds[:, 1]), np.exp(kinds[:, 2]))
    return _prior(_lowest(likelihood, number.astype(np.float64)))


def _lowest(likelihood: Array, number: Array) -> Array:
    """The five numbers at which the drawn marginal likelihood is highest.

    Newton's method with the spread of the pairs' own slopes for curvature, which is never negative
    (E. K. Berndt, B. H. Hall, R. E. Hall and J. A. Hausman, Annals of Economic and Social
    Measurement 3 (1974), 653-665), kept within reach of the centre.
    """
    least, most = _CENTRE - _FARTHEST * _REACH, _CENTRE + _FARTHEST * _REACH
    axes = _STEP * np.eye(len(_CENTRE))

    def look(point: Array) -> tuple[float, Array, Array]:
        """The loss, its slope and its curvature: one pass over the pairs gives all three."""
        steps = np.array([point, *(point + axes), *(point - axes)])
        chances = likelihood @ np.array([_mass(_prior(p)) for p in steps]).T
        ahead, behind = np.split(chances[:, 1:], 2, axis=1)
        slopes = (ahead - behind) / (2 * _STEP * chances[:, :1])
        pull = float(np.sum(((point - _CENTRE) / _REACH) ** 2)) / 2
        return (
            pull - float(number @ np.log(chances[:, 0])),
            (point - _CENTRE) / _REACH**2 - number @ slopes,
            np.diag(1 / _REACH**2) + slopes.T @ (number[:, None] * slopes),
        )

    point = _CENTRE
    loss, slope, curvature = look(point)
    for _ in range(_MOST_STEPS):
        # Beyond a limit nothing is looked for.
        free = ~((point <= least) & (slope > 0) | (point >= most) & (slope < 0))
        step = np.zeros_like(point)
        step[free] = -np.linalg.solve(curvature[np.ix_(free, free)], slope[free])
        if -float(slope @ step) < _FLAT:
            break
        size = 1.0
        while size > _SHORTEST:
            new = np.clip(point + size * step, least, most)
            there = look(new)
            if there[0] < loss:
                break
            size /= 2
        else:
            break
        point, (loss, slope, curvature) = new, there
    return point


def ratios(prior: Prior, pairs: Sequence[Pair]) -> list[Ratio]:
    """Give the shrunk ratio of each pair, in their order.

    `typical` is the geometric mean of the posterior: exp of the mean logarithm, which one long tail
    cannot carry away. `low` is its 5 % quantile: the true ratio is below it with probability 0.05,
    if ratios are spread as `prior` says. Both lie between 0.001 and 1000.

    Args:
        prior: how ratios are spread, from `fit`.
        pairs: each with `expected` and `backing` above 0.
    """
    mass = _mass(prior)
    found = []
    for start in range(0, len(pairs), _AT_ONCE):  # so many rows stay in the processor's own memory
        seen, expected, backing = np.array(pairs[start : start + _AT_ONCE], dtype=np.float64).T
        posterior = _likelihood(seen, backing, expected / backing) * mass
        posterior /= posterior.sum(axis=1, keepdims=True)
        # Row by row: in a matrix product the last digit would depend on the other pairs.
        typical = np.exp((posterior * _LOG_RATIO).sum(axis=1))
        # The mass of a grid point lies half below and half above it.
        below = np.cumsum(posterior, axis=1) - posterior / 2
        low = [exp(float(np.interp(LOW, row, _LOG_RATIO))) for row in below]
        found += [Ratio(float(t), q) for t, q in zip(typical, low, strict=True)]
    return found


def _prior(point: Array) -> Prior:
    usual_mean, usual_shape, apart_mean, apart_shape = (float(v) for v in np.exp(point[:4]))
    return Prior(
        usual=Gamma(usual_shape, usual_shape / usual_mean),
        apart=Gamma(apart_shape, apart_shape / apart_mean),
        share_apart=1 / (1 + exp(-float(point[4]))),
    )


def _mass(prior: Prior) -> Array:
    """Give the probability of each grid point, summing to 1."""
    usual, apart = (
        np.exp(g.shape * (log(g.rate) + _LOG_RATIO) - g.rate * _RATIO - lgamma(g.shape))
        for g in (prior.usual, prior.apart)
    )
    mass = (1 - prior.share_apart) * usual + prior.share_apart * apart
    return np.asarray(mass / mass.sum(), dtype=np.float64)


def _likelihood(seen: Array, backing: Array, odds: Array) -> Array:
    """Give the likelihood of each grid ratio (columns) for each pair (rows), highest in a row 1.

    `odds` is expected / backing: at ratio 1 the odds that the next case is found here and not in
    comparable units.
    """
    here = odds[:, None] * _RATIO
    logs = seen[:, None] * np.log(here / (1 + here)) - backing[:, None] * np.log1p(here)
    return np.asarray(np.exp(logs - logs.max(axis=1, keepdims=True)), dtype=np.float64)
