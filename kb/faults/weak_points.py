"""What keeps failing in a family, against comparable units, and whether it is getting worse.

A bench sees only what fails, never how many units are out there. So the question is not how often
a family fails, but whether a cause takes a larger part of its visits than it does of the visits of
comparable units. The same is asked of lines, makers and kinds: several families taken together.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

from kb.faults.comparable import Comparables, Standing
from kb.faults.dealing import Visits
from kb.faults.places import agreed_place
from kb.faults.proportions import wilson
from kb.faults.shrinkage import Prior, Ratio, fit, ratios
from kb.faults.trend import MOST_COUNTED, History, joint_trend
from kb.values_weak import (
    FamilyGroup,
    FamilyVisits,
    FamilyWeakPoints,
    Trend,
    WeakPoint,
    WeakPoints,
)

FEWEST_TO_FLAG = 2
FEWEST_VISITS = 5
"""With fewer finished visits a share can be nearly anything: 2 of 4 is 15 to 85 %. Judgement."""
FEWEST_SHOWING = 2
"""So many families of a group must show a cause before it is the group's."""
PointKey = tuple[str, str, str]
_NEVER: Mapping[int, int] = {}
ONE_CIRCUIT = ("family", "line")
"""Where a designator means the same place in every unit."""


def weak_points(
    visits: Sequence[FamilyVisits],
    labels: Mapping[str, str],
    only: Collection[str] | None = None,
    groups: Sequence[FamilyGroup] = (),
    points: Collection[PointKey] | None = None,
) -> WeakPoints:
    """Compare each cause in each family, and in each group of families, with comparable units.

    Comparable are, for a cause whose item the family `has`, all other families that have it; for
    any other cause, all other families of the same kind. The family itself never counts among its
    comparables, nor does any family of a group among those of the group. Where there is no
    comparable visit the cause is listed and never flagged.

    A cause is flagged as a weak point if it has at least two cases that no mishap brought on, and
    its true ratio to comparable units is above 1 with 95 % probability (`ratio_low` above 1); in a
    group at least two of its families must also have such a case.

    Args:
        visits: every family of the book, each once; the fit always uses them all.
        labels: cause -> what to call it; a cause without a label goes by its key.
        only: answer for these families only; for all if None.
        groups: what else to answer for; families that were never here don't matter.
        points: of each the causes to answer for, as (sort, key, cause); all if None.

    Returns:
        The families by key, and the groups in their order; in each, the flagged causes first, then
        by `ratio_low`, count and key.

    Raises:
        ValueError: if a family has more cases of a cause than visits in a year.

    Sources: the ratios see `kb.faults.shrinkage`, the shares `kb.faults.proportions`, the trend
    `kb.faults.trend`; all of it in plain words in `docs/methods-weak-points.md`.
    """
    families = sorted(visits, key=lambda f: f.family)
    asked = [
        _Asked("family", f.family, f.label, (i,))
        for i, f in enumerate(families)
        if only is None or f.family in only
    ]
    alone = len(asked)
    for g in groups:
        here = (i for i, f in enumerate(families) if f.family in g.families and f.total)
        asked.append(_Asked(g.sort, g.key, g.label, tuple(here)))
    found = _Judge(families, labels).answers(asked, points)
    return WeakPoints(families=tuple(found[:alone]), groups=tuple(found[alone:]))


class _Asked(NamedTuple):
    """A family, or several together, by their places in the list."""

    sort: str
    key: str
    label: str
    members: tuple[int, ...]


class _Course(NamedTuple):
    """A cause in some families: its years, the cases in each family, and where that leads."""

    by_year: dict[int, int]
    by_family: dict[str, int]
    trend: Trend


class _Known(NamedTuple):
    """All that was reckoned of a cause in a family or a group."""

    cause: str
    standing: Standing
    course: _Course
    ratio: Ratio | None


class _Judge:
    """The families of a book, held against each other."""

    def __init__(self, families: Sequence[FamilyVisits], labels: Mapping[str, str]) -> None:
        self._families = families
        self._labels = labels
        self._comparables = Comparables(families)
        self._dealt_to = [Visits(f.visits, _most_cases(f)) for f in families]

    def answers(
        self, asked: Sequence[_Asked], points: Collection[PointKey] | None
    ) -> list[FamilyWeakPoints]:
        """What keeps failing in each. A maker of one line only is reckoned with that line."""
        causes = {
            a: [c for c in self._causes(a.members) if points is None or (*a[:2], c) in points]
            for a in asked
        }
        standings: dict[tuple[int, ...], dict[str, Standing]] = {}
        for a, theirs in causes.items():
            of_each = standings.setdefault(a.members, {})
            for cause in theirs:
                if cause not in of_each:
                    of_each[cause] = self._comparables.standing(a.members, cause)
        pairs = {
            (members, cause): standing.pair
            for members, of_each in standings.items()
            for cause, standing in of_each.items()
            if standing.pair
        }
        known = ratios(self._fitted(), list(pairs.values()))
        by_pair = dict(zip(pairs, known, strict=True))
        courses = {
            members: {cause: self._course(members, cause) for cause in of_each}
            for members, of_each in standings.items()
        }
        return [
            self._answer(
                a,
                [
                    _Known(
                        cause,
                        standings[a.members][cause],
                        courses[a.members][cause],
                        by_pair.get((a.members, cause)),
                    )
                    for cause in causes[a]
                ],
            )
            for a in asked
        ]

    def _fitted(self) -> Prior:
        """Fit how ratios are spread to every pair of a family and a cause."""
        standings = (
            self._comparables.standing((i,), cause)
            for i in range(len(self._families))
            for cause in self._comparables.causes(i)
        )
        return fit([s.pair for s in standings if s.pair])

    def _causes(self, members: Sequence[int]) -> list[str]:
        found = (self._families[i].found for i in members)
        return sorted({c for causes in found for c, years in causes.items() if any(years.values())})

    def _course(self, members: Sequence[int], cause: str) -> _Course:
        theirs = [(self._families[i], self._dealt_to[i]) for i in members]
        with_cause = [f for f, _ in theirs if cause in f.found]
        counts = {f.family: sum(f.found[cause].values()) for f in with_cause}
        return _Course(
            _added(f.found[cause] for f in with_cause),
            {family: count for family, count in counts.items() if count},
            joint_trend([History(f.visits, f.found.get(cause, _NEVER), v) for f, v in theirs]),
        )

    def _answer(self, asked: _Asked, known: Iterable[_Known]) -> FamilyWeakPoints:
        theirs = [self._families[i] for i in asked.members]
        visits = _added(f.visits for f in theirs)
        cases = sum(visits.values())
        causes = [self._point(asked, cases, one) for one in known]
        causes.sort(key=lambda w: (not w.flag, -w.ratio_low, -w.count, w.cause))
        return FamilyWeakPoints(
            family=asked.key,
            label=asked.label,
            cases=cases,
            causes=tuple(causes),
            sort=asked.sort,
            members=() if asked.sort == "family" else tuple(f.family for f in theirs),
            visits=visits,
            too_few=cases < FEWEST_VISITS,
        )

    def _point(self, asked: _Asked, cases: int, known: _Known) -> WeakPoint:
        cause, standing, course, ratio = known
        members = asked.members
        theirs = [self._families[i] for i in members]
        count = sum(course.by_year.values())
        low = ratio.low if ratio else 0.0
        grouped = asked.sort != "family"
        showing = self._comparables.showing(members, cause)
        return WeakPoint(
            cause=cause,
            label=self._labels.get(cause, cause),
            count=count,
            own=standing.own,
            share=count / cases,
            share_interval=wilson(count, cases),
            expected=standing.pair.expected if standing.pair else float(standing.own),
            ratio=ratio.typical if ratio else 1.0,
            ratio_low=low,
            flag=standing.own >= FEWEST_TO_FLAG
            and low > 1.0
            and (not grouped or showing >= FEWEST_SHOWING),
            trend=course.trend,
            comebacks=sum(f.comebacks.get(cause, 0) for f in theirs),
            comparable_count=standing.comparable_count,
            comparable_cases=standing.comparable_cases,
            brought_on=_summed(f.brought_on.get(cause, {}) for f in theirs),
            place=agreed_place([v for f in theirs for v in f.places.get(cause, ())])
            if asked.sort in ONE_CIRCUIT
            else None,
            by_year=course.by_year,
            by_family=course.by_family if grouped else {},
        )


def _most_cases(family: FamilyVisits) -> int:
    """Of the cause that was found most often, as far as a trend counts them."""
    counts = [sum(years.values()) for years in family.found.values()]
    return max((n for n in counts if n <= MOST_COUNTED), default=1)


def _summed(counts: Iterable[Mapping[str, int]]) -> dict[str, int]:
    """By name."""
    total: dict[str, int] = {}
    for each in counts:
        for what, n in each.items():
            total[what] = total.get(what, 0) + n
    return dict(sorted(total.items()))


def _added(counts: Iterable[Mapping[int, int]]) -> dict[int, int]:
    """Years with anything in them, in their order."""
    total: dict[int, int] = {}
    for by_year in counts:
        for year, n in by_year.items():
            total[year] = total.get(year, 0) + n
    return {year: n for year, n in sorted(total.items()) if n}
