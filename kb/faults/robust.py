"""Median, spread and score of a few readings, and a slope that a wrong one does not turn.

Sources: the modified z-score, B. Iglewicz & D. C. Hoaglin, *How to Detect and Handle Outliers*
(1993), also NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17; the slope, H. Theil,
*Proc. Kon. Ned. Akad. Wetensch. A* 53 (1950) 386-392; its interval, P. K. Sen, *Journal of the
American Statistical Association* 63 (1968) 1379-1389.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from math import sqrt

FACTOR = 0.6745
"""The median absolute deviation of a normal distribution, in standard deviations."""

LIMIT = 3.5
"""The modified z-score above which the sources call a value a potential outlier."""

FEWEST = 5
"""With fewer readings their spread says nothing."""

# The limit is for values of a long list. A new healthy reading is held against the median and the
# spread of few others, and with eight of them one in twenty would lie beyond it. These limits let
# one in a hundred through, normally spread: quantiles of 1.8 million draws for each number (the
# test draws them again). From twenty on 3.5 does.
_LIMITS = (
    14.5, 8.1, 7.8, 6.0, 5.8, 5.0, 4.9, 4.5, 4.4, 4.1, 4.1, 3.9, 3.9, 3.7, 3.7,
)  # fmt: skip

_NORMAL_95 = 1.959963984540054
MOST_FOR_SLOPE = 200
"""More points than these are thinned out evenly: pairs grow with their square, and 200 readings
that lie within a hundredth of each other give the slope to a few hundredths."""


def median(values: Iterable[float]) -> float:
    """The middle value, or the mean of the two in the middle. Raises ValueError for none."""
    ordered = sorted(values)
    if not ordered:
        raise ValueError("the median of nothing")
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else ordered[middle - 1] / 2 + ordered[middle] / 2


def deviation(values: Sequence[float]) -> float:
    """The median absolute deviation from the median, as it is: not scaled to the normal."""
    centre = median(values)
    return median(abs(value - centre) for value in values)


def modified_z(value: float, centre: float, spread: float) -> float:
    """0.6745 (value - median) / MAD, signed. `spread` is the MAD, above 0."""
    return FACTOR * (value - centre) / spread


def limit(count: int) -> float:
    """The score beyond which a new reading is unusual, held against `count` healthy ones.

    Raises ValueError below `FEWEST`.
    """
    if count < FEWEST:
        raise ValueError(f"{count} readings are too few for a limit")
    place = count - FEWEST
    return _LIMITS[place] if place < len(_LIMITS) else LIMIT


def slope(x: Sequence[float], y: Sequence[float]) -> tuple[float, float, float] | None:
    """The median of the slopes between all pairs, with its 95 % interval.

    None if all x are alike. The interval goes by the normal limit of Kendall's S, ties allowed for.
    """
    step = -(-len(x) // MOST_FOR_SLOPE)
    points = sorted(zip(x, y, strict=True))[::step]
    slopes = sorted(
        (later_y - y) / (later_x - x)
        for i, (x, y) in enumerate(points)
        for later_x, later_y in points[i + 1 :]
        if later_x > x
    )
    if not slopes:
        return None
    pairs = len(slopes)
    reach = _NORMAL_95 * sqrt(_kendall_variance(points))
    below = max(round((pairs - reach) / 2) - 1, 0)
    above = min(round((pairs + reach) / 2), pairs - 1)
    return median(slopes), slopes[below], slopes[above]


def _kendall_variance(points: Sequence[tuple[float, float]]) -> float:
    """The variance of Kendall's S where nothing hangs together, ties allowed for as Sen does."""

    def term(n: int) -> int:
        return n * (n - 1) * (2 * n + 5)

    ties = sum(
        term(n) for axis in (0, 1) for n in Counter(point[axis] for point in points).values()
    )
    return max(term(len(points)) - ties, 0) / 18.0
