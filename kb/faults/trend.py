"""Is a cause coming more often than before, given how many units came in at all?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import comb, erfc, exp, log, prod, sqrt
from statistics import NormalDist
from typing import NamedTuple

from kb.values import Interval
from kb.values_weak import Change, Trend

SIGNIFICANT = 0.05
FEWEST = 3
"""With fewer cases than this no order of years says anything."""
MOST_COUNTED = 60
"""Beyond this many cases the count of all arrangements gives way to its normal limit."""
LEVEL = 0.95
_SHARED = 8
"""So many numbers of cases are counted in one go."""

Years = Mapping[int, int]
_NOTHING_TO_SAY = Trend(direction="steady", p=1.0)


class History(NamedTuple):
    """One family: year -> finished visits, and year -> those in which the cause was found."""

    visits: Years
    found: Years


def trend(visits: Years, found: Years) -> Trend:
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
        The direction "rising" or "falling" where `p` is below 0.05, with the change; else
        "steady". With fewer than three cases, or all visits in one year, nothing can be said:
        "steady" with `p` 1.

    Raises:
        ValueError: if a year has more cases than visits.

    Sources: the exact conditional test for a trend in proportions: A. Agresti, "A survey of exact
    inference for contingency tables", Statistical Science 7 (1992), 131-153; the mid-p value:
    H. O. Lancaster, "Significance tests in discrete distributions", Journal of the American
    Statistical Association 56 (1961), 223-234.
    """
    return joint_trend([History(visits, found)])


def joint_trend(families: Sequence[History]) -> Trend:
    """The same of several families together, the visits and the cases of each taken as given.

    The cases of a family are dealt out to its own visits only: a family that comes in more than it
    used to brings its faults along, and that is no trend of theirs. With one family it is `trend`.
    """
    for visits, found in families:
        for year, count in found.items():
            if not 0 <= count <= visits.get(year, 0):
                raise ValueError(f"{count} cases among {visits.get(year, 0)} visits in {year}")
    with_cases = [(h, n) for h in families if (n := sum(h.found.values()))]
    if sum(n for _, n in with_cases) < FEWEST:
        return _NOTHING_TO_SAY
    dealt = []
    observed = 0
    for (visits, found), cases in with_cases:
        if sum(1 for n in visits.values() if n) > 1:
            start = min(year for year, n in visits.items() if n)
            intake = tuple((year - start, n) for year, n in sorted(visits.items()) if n)
            dealt.append((intake, cases))
            observed += sum((year - start) * n for year, n in found.items())
    if not dealt:
        return _NOTHING_TO_SAY
    tails = _counted_tails if sum(n for _, n in dealt) <= MOST_COUNTED else _normal_tails
    below, above = tails(dealt, observed)
    p = 2 * min(below, above)
    if p >= SIGNIFICANT:
        return Trend(direction="steady", p=p)
    return Trend("rising" if above < below else "falling", p, change(families))


def change(families: Iterable[History]) -> Change | None:
    """How much more often a cause came in the later half of the visits than in the earlier.

    The halves are parted at the turn of the year that comes nearest to halving the visits of all
    families together, whatever the cases. The ratio of the two shares is that of Mantel and
    Haenszel over the families, with the interval of Greenland and Robins; for one family it is the
    plain ratio with the interval of Katz and others. None with visits in fewer than two years.

    Sources: D. Katz et al., "Obtaining confidence intervals for the risk ratio in cohort studies",
    Biometrics 34 (1978), 469-474; S. Greenland and J. M. Robins, "Estimation of a common effect
    parameter from sparse follow-up data", Biometrics 41 (1985), 55-68.
    """
    families = list(families)
    since = _half_way(families)
    if since is None:
        return None
    tables = [
        _Halves(
            sum(n for year, n in h.found.items() if year < since),
            sum(n for year, n in h.visits.items() if year < since),
            sum(n for year, n in h.found.items() if year >= since),
            sum(n for year, n in h.visits.items() if year >= since),
        )
        for h in families
    ]
    before = (sum(t.before for t in tables), sum(t.visits_before for t in tables))
    after = (sum(t.after for t in tables), sum(t.visits_after for t in tables))
    times, interval = _ratio(tables)
    return Change(since, before, after, times, interval)


class _Halves(NamedTuple):
    before: int
    visits_before: int
    after: int
    visits_after: int


def _half_way(families: Iterable[History]) -> int | None:
    """The first year of the later half."""
    intake: dict[int, int] = {}
    for visits, _ in families:
        for year, n in visits.items():
            if n:
                intake[year] = intake.get(year, 0) + n
    half = sum(intake.values()) / 2
    before = 0
    best: tuple[float, int] | None = None
    for year, n in sorted(intake.items()):
        if before and (best is None or abs(before - half) < best[0]):
            best = (abs(before - half), year)
        before += n
    return best[1] if best else None


def _ratio(tables: Iterable[_Halves]) -> tuple[float | None, Interval | None]:
    later = earlier = spread = 0.0
    for before, visits_before, after, visits_after in tables:
        visits = visits_before + visits_after
        if not visits:
            continue
        later += after * visits_before / visits
        earlier += before * visits_after / visits
        spread += (before + after) * visits_before * visits_after / visits**2
        spread -= before * after / visits
    if not later or not earlier:
        return None, None
    middle = log(later / earlier)
    # Where every visit had the cause nothing is left to vary; rounding must not make it negative.
    half = NormalDist().inv_cdf(0.5 + LEVEL / 2) * sqrt(max(spread, 0.0) / (later * earlier))
    return later / earlier, (exp(middle - half), exp(middle + half))


Intake = tuple[tuple[int, int], ...]
"""Years since a family's first visits, and its visits in them."""
Dealt = Sequence[tuple[Intake, int]]
"""Of each family its intake, and how many cases are dealt out to it."""


def _counted_tails(families: Dealt, observed: int) -> tuple[float, float]:
    """Count the arrangements below and above the observed sum, those equal to it by halves.

    The ways to reach each sum are packed into one whole number, a fixed width of bits for each, so
    that taking families together is one multiplication.
    """
    ways = [_arrangements(intake, cases) for intake, cases in families]
    everything = prod(map(sum, ways))
    together = ways[0]
    if len(ways) > 1:
        width = _whole_bytes(everything)
        together = _unpacked(prod(_packed(each, width) for each in ways), width)
    below = sum(together[:observed])
    equal = together[observed] if observed < len(together) else 0
    under = (2 * below + equal) / (2 * everything)
    over = (2 * (everything - below) - equal) / (2 * everything)
    return under, over


def _arrangements(intake: Intake, cases: int) -> list[int]:
    """The ways to deal the cases out to the visits, by the sum of their years."""
    ways, width = _packed_arrangements(intake, -(-cases // _SHARED) * _SHARED)
    return _unpacked(ways[cases], width)


@lru_cache(maxsize=4096)
def _packed_arrangements(intake: Intake, most: int) -> tuple[list[int], int]:
    """The same for every number of cases up to `most`, packed, and the width of a count.

    For each number of cases dealt so far, `ways` holds how many arrangements give each sum, packed,
    so that adding a year is a few multiplications and shifts of whole numbers. Kept, because the
    causes of a family share its intake, and it is asked about alone and in its line, its maker and
    its kind.
    """
    total = sum(n for _, n in intake)
    width = _whole_bytes(comb(total, min(most, total // 2)))
    ways = [1]
    for offset, visits in intake:
        shift = width * offset
        chosen = [comb(visits, j) for j in range(min(visits, most) + 1)]
        longer = [0] * min(len(ways) + len(chosen) - 1, most + 1)
        for m, before in enumerate(ways):
            for j, ways_here in enumerate(chosen[: len(longer) - m]):
                longer[m + j] += (before * ways_here) << (shift * j)
        ways = longer
    return ways + [0] * (most + 1 - len(ways)), width


def _whole_bytes(most: int) -> int:
    """Bits that hold a count up to `most`, in whole bytes."""
    return -(-most.bit_length() // 8) * 8


def _packed(counts: Sequence[int], width: int) -> int:
    size = width // 8
    return int.from_bytes(b"".join(n.to_bytes(size, "little") for n in counts), "little")


def _unpacked(packed: int, width: int) -> list[int]:
    size = width // 8
    counts = packed.to_bytes(-(-packed.bit_length() // width) * size, "little")
    return [int.from_bytes(counts[at : at + size], "little") for at in range(0, len(counts), size)]


def _normal_tails(families: Dealt, observed: int) -> tuple[float, float]:
    """The same tails from the mean and variance of a sum of draws without replacement."""
    middle = spread = 0.0
    for intake, cases in families:
        total = sum(n for _, n in intake)
        mean = sum(offset * n for offset, n in intake) / total
        variance = sum(n * (offset - mean) ** 2 for offset, n in intake) / total
        middle += cases * mean
        spread += cases * variance * (total - cases) / (total - 1)
    if spread == 0.0:
        return 0.5, 0.5
    z = (observed - middle) / sqrt(spread)
    return erfc(-z / sqrt(2)) / 2, erfc(z / sqrt(2)) / 2
