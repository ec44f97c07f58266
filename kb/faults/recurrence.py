"""How many repairs a unit has had, on average, so long after it was first seen."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from math import exp, sqrt
from statistics import NormalDist

from kb.values_history import RepairsByTime

YEAR = 365.25
"""days"""


def mean_cumulative(
    units: Sequence[tuple[float, Sequence[float]]], level: float = 0.95
) -> tuple[RepairsByTime, ...]:
    """The mean cumulative number of events per unit, at each time at which one happened.

    At each time the events are divided by the units followed so far (one that was followed
    exactly so long still counts), and the quotients are added up. Nothing is assumed of how a
    unit's repairs depend on each other: the variance is the robust one, which lets a unit that
    comes in often be different from the rest. The interval is normal for the logarithm of the
    mean, so it stays above 0.

    Args:
        units: for each unit how many days it was followed, and the days of its events.
        level: how sure the interval is, at each time by itself.

    Returns:
        One point for each time with an event, in order, in years; empty if there was none.

    Raises:
        ValueError: if an event lies outside the time in which its unit was followed.

    Sources: W. Nelson, Recurrent Events Data Analysis for Product Repairs (2003), chapters 3 and
    4; the variance, J. F. Lawless & C. Nadeau, Technometrics 37 (1995) 158-168, equation 2.5.
    """
    events: dict[float, Counter[int]] = defaultdict(Counter)
    leaving: dict[float, list[int]] = defaultdict(list)
    for i, (followed, at) in enumerate(units):
        leaving[followed].append(i)
        for day in at:
            if not 0 <= day <= followed:
                raise ValueError("an event lies outside the time of its unit")
            events[day][i] += 1

    # Each unit has a running total: 1/r for each of its events, less d/r² at each time while it is
    # followed. The variance is the sum of their squares. Only the sums are kept: `own` is a unit's
    # first part, `common` the second, which is the same for all that are still followed.
    own: dict[int, float] = defaultdict(float)
    at_risk, common, mean = len(units), 0.0, 0.0
    sum_own, sum_square, settled = 0.0, 0.0, 0.0
    z = NormalDist().inv_cdf(0.5 + level / 2)
    points = []
    for day in sorted({*events, *leaving}):
        if happened := events.get(day):
            count = happened.total()
            for i, number in happened.items():
                more = number / at_risk
                sum_own += more
                sum_square += more * (2 * own[i] + more)
                own[i] += more
            mean += count / at_risk
            common += count / at_risk**2
            squares = sum_square - 2 * common * sum_own + at_risk * common**2
            spread = exp(z * sqrt(max(squares + settled, 0.0)) / mean)
            interval = (mean / spread, mean * spread)
            points.append(RepairsByTime(day / YEAR, at_risk, mean, interval))
        for i in leaving.get(day, ()):
            settled += (own[i] - common) ** 2
            sum_own -= own[i]
            sum_square -= own[i] ** 2
            at_risk -= 1
    return tuple(points)
