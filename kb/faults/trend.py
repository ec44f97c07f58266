"""Is a cause coming more often than before, given how many units came in at all?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp, log, sqrt
from statistics import NormalDist
from typing import NamedTuple

from kb.faults.dealing import (
    Dealt,
    Tails,
    Visits,
    Years,
    counted_tails,
    exact_tails,
    normal_tails,
)
from kb.values import Interval
from kb.values_weak import FEWEST_FOR_TREND, Change, Trend

SIGNIFICANT = 0.05
MOST_COUNTED = 60
"""Beyond this many cases the count of all arrangements gives way to its normal limit."""
LEVEL = 0.95
_NEAR = 1e-9
"""Closer to the limit than this part of it, whole numbers say on which side a cause lies."""

_NOTHING_TO_SAY = Trend(direction="steady", p=1.0)


class History(NamedTuple):
    """One family: year -> finished visits, and year -> those in which the cause was found.

    Who asks about many causes of a family hands in the visits as `dealt_to` as well: what is
    counted of them is then counted once.
    """

    visits: Years
    found: Years
    dealt_to: Visits | None = None


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
    for intake, found, _ in families:
        for year, count in found.items():
            if not 0 <= count <= intake.get(year, 0):
                raise ValueError(f"{count} cases among {intake.get(year, 0)} visits in {year}")
    with_cases = [(h, n) for h in families if h.found and (n := sum(h.found.values()))]
    if sum(n for _, n in with_cases) < FEWEST_FOR_TREND:
        return _NOTHING_TO_SAY
    dealt = []
    observed = 0
    for history, cases in with_cases:
        visits = history.dealt_to or Visits(history.visits)
        if len(visits.intake) > 1:
            dealt.append((visits, cases))
            observed += sum((year - visits.start) * n for year, n in history.found.items())
    if not dealt:
        return _NOTHING_TO_SAY
    below, above = _tails(dealt, observed)
    p = min(1.0, 2 * min(below, above))
    if p >= SIGNIFICANT:
        return Trend(direction="steady", p=p)
    return Trend("rising" if above < below else "falling", p, change(families))


def _tails(dealt: Dealt, observed: int) -> Tails:
    """Both tails; exactly where it is rounding that would decide whether there is a trend."""
    if sum(cases for _, cases in dealt) > MOST_COUNTED:
        return normal_tails(dealt, observed)
    found = counted_tails(dealt, observed)
    if abs(2 * min(found) - SIGNIFICANT) > _NEAR * SIGNIFICANT:
        return found
    return exact_tails(dealt, observed)


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
    intake: dict[int, int] = {}
    for visits, _, _ in families:
        for year, n in visits.items():
            intake[year] = intake.get(year, 0) + n
    since = _half_way(intake)
    if since is None:
        return None
    # A family without a case adds nothing but its visits.
    tables = [
        _Halves(*_parted(h.found, since), *_parted(h.visits, since)) for h in families if h.found
    ]
    visits_before, visits_after = _parted(intake, since)
    times, interval = _ratio(tables)
    return Change(
        since,
        (sum(t.before for t in tables), visits_before),
        (sum(t.after for t in tables), visits_after),
        times,
        interval,
    )


def _parted(counts: Years, since: int) -> tuple[int, int]:
    """What was counted before a year, and from then on."""
    before = after = 0
    for year, n in counts.items():
        if year < since:
            before += n
        else:
            after += n
    return before, after


class _Halves(NamedTuple):
    before: int
    after: int
    visits_before: int
    visits_after: int


def _half_way(intake: Years) -> int | None:
    """The first year of the later half."""
    half = sum(intake.values()) / 2
    before = 0
    best: tuple[float, int] | None = None
    for year, n in sorted(intake.items()):
        if before and n and (best is None or abs(before - half) < best[0]):
            best = (abs(before - half), year)
        before += n
    return best[1] if best else None


def _ratio(tables: Iterable[_Halves]) -> tuple[float | None, Interval | None]:
    later = earlier = spread = 0.0
    for before, after, visits_before, visits_after in tables:
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
