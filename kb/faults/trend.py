"""Is a cause coming more often than before, given how many units came in at all?"""

from __future__ import annotations

from collections.abc import Mapping
from math import comb, erfc, sqrt

from kb.values import Trend

SIGNIFICANT = 0.05
FEWEST = 3
"""With fewer cases than this no order of years says anything."""
MOST_COUNTED = 60
"""Beyond this many cases the count of all arrangements gives way to its normal limit."""

_NOTHING_TO_SAY = Trend(direction="steady", p=1.0)


def trend(visits: Mapping[int, int], found: Mapping[int, int]) -> Trend:
    """Test whether the cases of a cause lie late or early among a family's visits.

    The visits of each year are taken as given, and so is the number of cases. If the cause had no
    trend, every way of dealing the cases out to the visits would be equally likely. The statistic
    is the sum of the years of the cases; its distribution is counted exactly. So a growing intake
    alone never looks like a trend.

    `p` is two-sided: twice the smaller tail, the observed value itself counted half (Lancaster's
    mid-p). At the limit of 0.05 a cause without a trend is therefore called "rising" in fewer than
    1 of 20 cases, whatever the counts (typically 1 of 40), and "falling" likewise.

    Args:
        visits: year -> finished visits of the family.
        found: year -> visits among those in which the cause was a root cause.

    Returns:
        The direction "rising" or "falling" where `p` is below 0.05, else "steady". With fewer than
        three cases, or all visits in one year, nothing can be said: "steady" with `p` 1.

    Raises:
        ValueError: if a year has more cases than visits.

    Sources: the exact conditional test for a trend in proportions: A. Agresti, "A survey of exact
    inference for contingency tables", Statistical Science 7 (1992), 131-153; the mid-p value:
    H. O. Lancaster, "Significance tests in discrete distributions", Journal of the American
    Statistical Association 56 (1961), 223-234.
    """
    for year, count in found.items():
        if not 0 <= count <= visits.get(year, 0):
            raise ValueError(f"{count} cases among {visits.get(year, 0)} visits in {year}")
    intake = {year: n for year, n in sorted(visits.items()) if n}
    cases = sum(found.values())
    if cases < FEWEST or len(intake) < 2:
        return _NOTHING_TO_SAY
    start = min(intake)
    by_offset = {year - start: n for year, n in intake.items()}
    observed = sum((year - start) * count for year, count in found.items())
    tails = _counted_tails if cases <= MOST_COUNTED else _normal_tails
    below, above = tails(by_offset, cases, observed)
    p = 2 * min(below, above)
    if p >= SIGNIFICANT:
        return Trend(direction="steady", p=p)
    return Trend(direction="rising" if above < below else "falling", p=p)


def _counted_tails(intake: Mapping[int, int], cases: int, observed: int) -> tuple[float, float]:
    """Count the arrangements below and above the observed sum, those equal to it by halves.

    For each number of cases dealt so far, `ways` holds how many arrangements give each sum. The
    counts of all sums are packed into one whole number, a fixed width of bits for each, so that
    adding a year is a few multiplications and shifts of whole numbers.
    """
    total = sum(intake.values())
    width = comb(total, min(cases, total // 2)).bit_length()
    ways = [1] + [0] * cases
    for offset, visits in intake.items():
        shift = width * offset
        chosen = [comb(visits, j) for j in range(min(visits, cases) + 1)]
        ways = [
            sum((chosen[j] * ways[m - j]) << (shift * j) for j in range(min(m, visits) + 1))
            for m in range(cases + 1)
        ]
    packed = ways[cases]
    everything = comb(total, cases)
    lower = packed & ((1 << (width * observed)) - 1)
    below = 0
    while lower:
        below += lower & ((1 << width) - 1)
        lower >>= width
    equal = (packed >> (width * observed)) & ((1 << width) - 1)
    under = (2 * below + equal) / (2 * everything)
    over = (2 * (everything - below) - equal) / (2 * everything)
    return under, over


def _normal_tails(intake: Mapping[int, int], cases: int, observed: int) -> tuple[float, float]:
    """The same tails from the mean and variance of a sum of draws without replacement."""
    total = sum(intake.values())
    mean = sum(offset * n for offset, n in intake.items()) / total
    variance = sum(n * (offset - mean) ** 2 for offset, n in intake.items()) / total
    spread = sqrt(cases * variance * (total - cases) / (total - 1))
    if spread == 0.0:
        return 0.5, 0.5
    z = (observed - cases * mean) / spread
    return erfc(-z / sqrt(2)) / 2, erfc(z / sqrt(2)) / 2
