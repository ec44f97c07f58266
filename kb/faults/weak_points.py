"""What keeps failing in a family, against comparable units, and whether it is getting worse.

A bench sees only what fails, never how many units are out there. So the question is not how often
a family fails, but whether a cause takes a larger part of its visits than it does of the visits of
comparable units.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from kb.faults.proportions import wilson
from kb.faults.shrinkage import Pair, Ratio, fit, ratios
from kb.faults.trend import trend
from kb.values import FamilyVisits, FamilyWeakPoints, WeakPoint, WeakPoints

MISHAPS = frozenset({"liquid", "transport", "earlier-repair", "mishandling", "misuse"})
"""What brings a fault on and says nothing of the unit's design or ageing."""

FEWEST_TO_FLAG = 2

# "Never seen in comparable units" must not read as "cannot happen", and few comparable units must
# not be taken at their word. So they count as a quarter more than they are, at the rate of the
# rest of the book, but no more than ten visits more; and as having had a twentieth of a case more.
EXTRA_PART = 0.25
EXTRA_VISITS = 10.0
EXTRA_CASES = 0.05


class _Group(NamedTuple):
    """Families that are comparable to each other: their visits, and cause -> own cases."""

    visits: int
    cases: Counter[str]


class _Standing(NamedTuple):
    """A pair's own cases beside those of comparable units; `pair` is None if there are none."""

    own: int
    comparable_count: int = 0
    comparable_cases: int = 0
    pair: Pair | None = None


def weak_points(
    visits: Sequence[FamilyVisits], labels: Mapping[str, str], only: str | None = None
) -> WeakPoints:
    """Compare each cause in each family with comparable units.

    Comparable are, for a cause whose item the family `has`, all other families that have it; for
    any other cause, all other families of the same kind. The family itself never counts among its
    comparables. Where there is no comparable visit the cause is listed and never flagged.

    A cause is flagged as a weak point if it has at least two cases that no mishap brought on, and
    its true ratio to comparable units is above 1 with 95 % probability (`ratio_low` above 1).

    Args:
        visits: every family of the book, each once; the fit always uses them all.
        labels: cause -> what to call it; a cause without a label goes by its key.
        only: answer for this family only.

    Returns:
        The families by key; in each, the flagged causes first, then by `ratio_low`, count and key.

    Raises:
        ValueError: if a family has more cases of a cause than visits in a year.

    Sources: the ratios see `kb.faults.shrinkage`, the shares `kb.faults.proportions`, the trend
    `kb.faults.trend`; all of it in plain words in `docs/methods-weak-points.md`.
    """
    families = sorted(visits, key=lambda f: f.family)
    standings = _standings(families)
    prior = fit([s.pair for of_family in standings for s in of_family.values() if s.pair])
    answers = []
    for family, of_family in zip(families, standings, strict=True):
        if only not in (None, family.family):
            continue
        found = sorted(cause for cause, years in family.found.items() if any(years.values()))
        pairs = {c: pair for c in found if (pair := of_family[c].pair) is not None}
        by_cause = dict(zip(pairs, ratios(prior, list(pairs.values())), strict=True))
        causes = [
            _weak_point(family, c, labels.get(c, c), of_family[c], by_cause.get(c)) for c in found
        ]
        causes.sort(key=lambda w: (not w.flag, -w.ratio_low, -w.count, w.cause))
        answers.append(FamilyWeakPoints(family.family, family.label, family.total, tuple(causes)))
    return WeakPoints(families=tuple(answers))


def _standings(families: Sequence[FamilyVisits]) -> list[dict[str, _Standing]]:
    """For each family, every cause that was found in it or in units comparable to it."""
    own = [_own_cases(family) for family in families]
    book = _together(families, own)
    kinds = {
        kind: _together(families, own, [f.kind == kind for f in families])
        for kind in {f.kind for f in families if f.kind is not None}
    }
    items = {
        item: _together(families, own, [item in f.has for f in families], item)
        for item in {item for f in families for item in f.has}
    }

    def comparables(family: FamilyVisits, cause: str) -> _Group | None:
        item = _item(cause)
        if item in family.has:
            return items[item]
        return None if family.kind is None else kinds[family.kind]

    def candidates(family: FamilyVisits) -> Iterator[str]:
        yield from family.found
        if family.kind is not None:
            yield from kinds[family.kind].cases
        for item in family.has:
            yield from items[item].cases

    standings = []
    for family, cases in zip(families, own, strict=True):
        visits = family.total
        standings.append(
            {
                cause: _standing(visits, cases[cause], comparables(family, cause), book, cause)
                for cause in set(candidates(family))
            }
        )
    return standings


def _standing(visits: int, own: int, group: _Group | None, book: _Group, cause: str) -> _Standing:
    """Set `own` cases in so many visits against the rest of a group, and of the book."""
    if group is None or group.visits == visits:
        return _Standing(own)
    others = group.cases[cause] - own
    other_visits = group.visits - visits
    if own + others == 0 or visits == 0:
        return _Standing(own, others, other_visits)
    elsewhere = (book.cases[cause] - own) / (book.visits - visits)
    extra = min(EXTRA_PART * other_visits, EXTRA_VISITS)
    backing = others + EXTRA_CASES + extra * elsewhere
    expected = visits * backing / (other_visits + extra)
    return _Standing(own, others, other_visits, Pair(own, expected, backing))


def _weak_point(
    family: FamilyVisits, cause: str, label: str, standing: _Standing, ratio: Ratio | None
) -> WeakPoint:
    by_year = family.found[cause]
    course = trend(family.visits, by_year)
    count = sum(by_year.values())
    pair = standing.pair
    low = ratio.low if ratio else 0.0
    return WeakPoint(
        cause=cause,
        label=label,
        count=count,
        own=standing.own,
        share=count / family.total,
        share_interval=wilson(count, family.total),
        expected=pair.expected if pair else float(standing.own),
        ratio=ratio.typical if ratio else 1.0,
        ratio_low=low,
        flag=standing.own >= FEWEST_TO_FLAG and low > 1.0,
        trend=course,
        comebacks=family.comebacks.get(cause, 0),
        comparable_count=standing.comparable_count,
        comparable_cases=standing.comparable_cases,
        brought_on=dict(sorted(family.brought_on.get(cause, {}).items())),
    )


def _own_cases(family: FamilyVisits) -> Counter[str]:
    """Count the cases of each cause without those that a mishap brought on."""
    cases: Counter[str] = Counter()
    for cause, by_year in family.found.items():
        brought_on = family.brought_on.get(cause, {})
        mishaps = sum(n for what, n in brought_on.items() if what in MISHAPS)
        cases[cause] = max(sum(by_year.values()) - mishaps, 0)
    return cases


def _together(
    families: Sequence[FamilyVisits],
    own: Sequence[Counter[str]],
    member: Sequence[bool] | None = None,
    item: str | None = None,
) -> _Group:
    """Add up the families that are members (all, if not said), and the causes of one item."""
    visits = 0
    cases: Counter[str] = Counter()
    for i, (family, counts) in enumerate(zip(families, own, strict=True)):
        if member is None or member[i]:
            visits += family.total
            for cause, count in counts.items():
                if item is None or _item(cause) == item:
                    cases[cause] += count
    return _Group(visits, cases)


def _item(cause: str) -> str:
    """Give what failed: the first half of a cause key `item/mechanism`."""
    return cause.partition("/")[0]
