"""Intervals for the probabilities of causes, in closed form.

Every factor of the posterior is a Gamma (prior) or Beta (evidence) variable. Where counts are few
its log is lopsided: far down it may be almost anything, upwards it can't be much. So each side has
a variance of its own: downwards that of the log itself, upwards that of a log-normal variable with
the same mean and variance. A page can repeat it: it takes sums, logs and exponentials only.

The weights of the evidence do not enter these variances: a weight makes a finding count for less,
it does not make its rate any better known. That weights are themselves uncertain is added apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import erf, exp, expm1, log1p, pi, sqrt

from kb.faults.likelihood import Pair
from kb.values import Interval

_MOST = 300.0
"""beyond this the exponential would leave the range of numbers"""


@lru_cache(maxsize=1 << 14)
def trigamma(x: float) -> float:
    """The second derivative of log Gamma for x > 0, to a relative error below 1e-13.

    Recurrence 6.4.6 up to x >= 10, then the asymptotic series 6.4.12 of Abramowitz & Stegun,
    Handbook of Mathematical Functions (1964). Raises ValueError for x <= 0.
    """
    if x <= 0:
        raise ValueError("trigamma is only needed for positive numbers")
    total = 0.0
    while x < 10.0:
        total += 1.0 / (x * x)
        x += 1.0
    y = 1.0 / (x * x)
    series = y * (
        1 / 6 - y * (1 / 30 - y * (1 / 42 - y * (1 / 30 - y * (5 / 66 - y * 691 / 2730))))
    )
    return total + (1.0 + 0.5 / x + series) / x


def down(pair: Pair) -> float:
    """The variance of the log of a rate with these Beta counts."""
    return trigamma(pair[0]) - trigamma(pair[0] + pair[1])


def up(pair: Pair) -> float:
    """The log variance of the log-normal with the mean and variance of such a rate."""
    return log1p(pair[1] / (pair[0] * (pair[0] + pair[1] + 1.0)))


def normal_quantile(level: float) -> float:
    """How many standard deviations either side hold `level` of a normal distribution.

    Newton's method on erf, which rises to the root from below. Raises ValueError unless
    0 < level < 1.
    """
    if not 0 < level < 1:
        raise ValueError(f"a level lies between 0 and 1: {level}")
    z, step = 0.0, 1.0
    while step > 1e-14:
        step = (level - erf(z / sqrt(2))) * sqrt(pi / 2) * exp(z * z / 2)
        z += step
    return z


def intervals(
    probabilities: Sequence[float],
    log_odds: Sequence[float],
    downwards: Sequence[float],
    upwards: Sequence[float],
    weighing: Sequence[float],
    level: float,
) -> list[Interval]:
    """The interval of each probability at this level; it always holds the probability.

    All sequences run over the same hypotheses, the unseen included. `downwards` and `upwards` are
    the variances of the log of the unnormalised posterior on either side, `weighing` that of the
    log odds because the weights are not known exactly. The rivals of a cause count by the spread
    of their sum, in which those that may fall to nothing matter little:

        logit p_c - z sqrt(down_c + r + s) to logit p_c + z sqrt(up_c + r + s),
        r = log(1 + sum over rivals k of (p_k / (1 - p_c))^2 (exp(up_k) - 1)), s = weighing_c
    """
    z = normal_quantile(level)
    parts = [p * p * expm1(min(v, _MOST)) for p, v in zip(probabilities, upwards, strict=True)]
    whole = sum(parts)
    largest = max(range(len(parts)), key=parts.__getitem__)
    found: list[Interval] = []
    for i, odds in enumerate(log_odds):
        # Taking the largest part from the whole would lose the small ones to rounding.
        rivals = sum(parts[:i]) + sum(parts[i + 1 :]) if i == largest else whole - parts[i]
        rest = _inverse_logit(-odds)
        spread = sqrt(rivals) / rest if rest else 0.0
        r = log1p(spread * spread) + weighing[i]
        low, high = z * sqrt(downwards[i] + r), z * sqrt(upwards[i] + r)
        found.append((_inverse_logit(odds - low), _inverse_logit(odds + high)))
    return found


def rival_means(probabilities: Sequence[float], values: Sequence[float]) -> list[float]:
    """For each hypothesis the mean of a value over all others, by their probability.

    A hypothesis without a rival gets its own value.
    """
    products = [p * x for p, x in zip(probabilities, values, strict=True)]
    first = max(range(len(products)), key=probabilities.__getitem__)
    whole = sum(products)
    means = [
        (whole - product) / (1.0 - p) if p < 1.0 else 0.0
        for product, p in zip(products, probabilities, strict=True)
    ]
    # Taking the leader from the whole would lose its rivals to rounding.
    rest = sum(probabilities[:first]) + sum(probabilities[first + 1 :])
    rivals = sum(products[:first]) + sum(products[first + 1 :])
    means[first] = rivals / rest if rest else values[first]
    return means


def _inverse_logit(x: float) -> float:
    if x >= 0:
        return 1.0 / (1.0 + exp(-x))
    e = exp(x) if x > -745.0 else 0.0
    return e / (1.0 + e)
