"""Shares with an honest interval, and quantiles, for the small counts of one bench."""

from __future__ import annotations

from collections.abc import Mapping
from math import sqrt
from statistics import NormalDist

from kb.values import Interval


def wilson(count: int, total: int, level: float = 0.95) -> Interval:
    """Give the score interval for the true share behind `count` of `total`.

    Unlike the textbook "share plus or minus", it stays between 0 and 1 and keeps its promise at
    small counts. With nothing observed (`total` 0) the share can be anything: (0, 1).

    Args:
        count: how often it happened, 0 to `total`.
        total: how often it could have happened.
        level: how sure the interval is, between 0 and 1, both excluded.

    Raises:
        ValueError: if `count` is not between 0 and `total`, or `level` is no such share.

    Source: E. B. Wilson, "Probable inference, the law of succession, and statistical inference",
    Journal of the American Statistical Association 22 (1927), 209-212.
    """
    if not 0 <= count <= total:
        raise ValueError(f"{count} of {total} is no share")
    if not 0.0 < level < 1.0:
        raise ValueError(f"an interval cannot be {level} sure")
    if total == 0:
        return (0.0, 1.0)
    share = count / total
    z = NormalDist().inv_cdf(0.5 + level / 2)
    spread = z * z / total
    middle = (share + spread / 2) / (1 + spread)
    half = sqrt(spread * share * (1 - share) + spread * spread / 4) / (1 + spread)
    # At the two ends the formula gives exactly 0 or 1; rounding alone would miss them.
    low = 0.0 if count == 0 else middle - half
    high = 1.0 if count == total else middle + half
    return (low, high)


def quantile(tally: Mapping[float, float], share: float) -> float:
    """The value under which this share of a tally (value -> how often) lies.

    The mean of two values where it falls between them, so that a half gives the usual median.
    Raises ValueError for an empty tally.
    """
    if not tally:
        raise ValueError("nothing was tallied")
    values = sorted(tally)
    goal = share * sum(tally.values())
    reached = 0.0
    for value, following in zip(values, [*values[1:], values[-1]], strict=True):
        reached += tally[value]
        if reached > goal * (1 + 1e-12):
            return value
        if reached >= goal * (1 - 1e-12):
            return (value + following) / 2
    return values[-1]
