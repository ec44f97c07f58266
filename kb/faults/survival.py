"""How long repairs hold, where some are too young to have shown it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from math import exp, log, sqrt
from statistics import NormalDist

from kb.values import Interval
from kb.values_history import HoldStep


def product_limit(lasted: Iterable[tuple[int, bool]], level: float = 0.95) -> tuple[HoldStep, ...]:
    """The share that still holds after each time at which something failed.

    Whoever was followed exactly as long as another failed still counts as at risk then. The
    interval is Greenwood's, on the scale log(-log), so it stays between 0 and 1; once nothing is
    left it is (0, 0).

    Args:
        lasted: (days, failed) of each; not failed means it was followed that long and held.
        level: how sure the interval is.

    Returns:
        One step for each day with a failure, in order; empty if nothing failed.

    Raises:
        ValueError: if a number of days is negative.

    Sources: E. L. Kaplan & P. Meier, Journal of the American Statistical Association 53 (1958)
    457-481; the interval, J. D. Kalbfleisch & R. L. Prentice, The Statistical Analysis of Failure
    Time Data, 2nd edition (2002), section 1.4.
    """
    failed: Counter[int] = Counter()
    leaving: Counter[int] = Counter()
    for days, has_failed in lasted:
        if days < 0:
            raise ValueError("nothing fails before it was done")
        leaving[days] += 1
        failed[days] += has_failed
    at_risk = leaving.total()
    z = NormalDist().inv_cdf(0.5 + level / 2)
    share, greenwood, steps = 1.0, 0.0, []
    for days in sorted(leaving):
        if failures := failed[days]:
            share *= 1 - failures / at_risk
            if at_risk > failures:
                greenwood += failures / (at_risk * (at_risk - failures))
            steps.append(HoldStep(days, at_risk, share, _interval(share, greenwood, z)))
        at_risk -= leaving[days]
    return tuple(steps)


def _interval(share: float, greenwood: float, z: float) -> Interval:
    if share <= 0.0:
        return (0.0, 0.0)
    spread = exp(z * sqrt(greenwood) / -log(share))
    return (share**spread, share ** (1 / spread))
