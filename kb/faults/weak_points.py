"""What keeps failing in a family, against comparable units, and whether it is getting worse.

A bench sees only what fails, never how many units are out there. So the question is not how often
a family fails, but whether a cause takes a larger part of its visits than it does of the visits of
comparable units. The same is asked of lines, makers and kinds: several families taken together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

from kb.faults.comparable import Comparables, Standing
from kb.faults.places import agreed_place
from kb.faults.proportions import wilson
from kb.faults.shrinkage import Prior, Ratio, fit, ratios
from kb.faults.trend import History, joint_trend
from kb.values_weak import (
    FamilyGroup,
    FamilyVisits,
    FamilyWeakPoints,
    NewWeakPoint,
    WeakPoint,
    WeakPoints,
)

FEWEST_TO_FLAG = 2
FEWEST_VISITS = 5
"""With fewer finished visits a share can be nearly anything: 2 of 4 is 15 to 85 %. Judgement."""
FEWEST_SHOWING = 2
"""So many families of a group must show a cause before it is the group's."""
_NEVER: Mapping[int, int] = {}
ONE_CIRCUIT = ("family", "line")
"""Where a designator means the same place in every unit."""


def weak_points(
    visits: Sequence[FamilyVisits],
    labels: Mapping[str, str],
    only: Collection[str] | None = None,
    groups: Sequence[FamilyGroup] = (),
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

    Returns:
        The families by key, and the groups in their order; in each, the flagged causes first, then
        by `ratio_low`, count and key.

    Raises:
        ValueError: if a family has more cases of a cause than visits in a year.

    Sources: the ratios see `kb.faults.shrinkage`, the shares `kb.faults.proportions`, the trend
    `kb.faults.trend`; all of it in plain words in `docs/methods-weak-points.md`.
    """
    families = sorted(visits, key=lambda f: f.family)
    judge = _Judge(families, labels)
    return WeakPoints(
        families=tuple(
            judge.of("family", f.family, f.label, [i])
            for i, f in enumerate(families)
            if only is None or f.family in only
        ),
        groups=tuple(
            judge.of(
                g.sort,
                g.key,
                g.label,
                [i for i, f in enumerate(families) if f.family in g.families and f.total],
            )
            for g in groups
        ),
    )


def became_flagged(now: WeakPoints, then: WeakPoints) -> tuple[NewWeakPoint, ...]:
    """The pairs that are flagged now and were not then, the most telling first."""
    known = {(f.sort, f.family): f for f in (*then.families, *then.groups)}
    found = []
    for family in (*now.families, *now.groups):
        was = known.get((family.sort, family.family))
        points = {p.cause: p for p in was.causes} if was else {}
        for point in family.causes:
            old = points.get(point.cause)
            if point.flag and not (old and old.flag):
                found.append(
                    NewWeakPoint(
                        sort=family.sort,
                        family=family.family,
                        family_label=family.label,
                        cases=family.cases,
                        point=point,
                        then_count=old.count if old else 0,
                        then_cases=was.cases if was else 0,
                        then_low=old.ratio_low if old else None,
                    )
                )
    found.sort(key=lambda n: (n.sort != "family", -n.point.ratio_low, n.family, n.point.cause))
    return tuple(found)


class _Judge:
    """The families of a book, held against each other."""

    def __init__(self, families: Sequence[FamilyVisits], labels: Mapping[str, str]) -> None:
        self._families = families
        self._labels = labels
        self._comparables = Comparables(families)
        self._prior = self._fitted()

    def _fitted(self) -> Prior:
        """Fit how ratios are spread to every pair of a family and a cause."""
        standings = (
            self._comparables.standing((i,), cause)
            for i in range(len(self._families))
            for cause in self._comparables.causes(i)
        )
        return fit([s.pair for s in standings if s.pair])

    def of(self, sort: str, key: str, label: str, members: Sequence[int]) -> FamilyWeakPoints:
        """What keeps failing in these families together."""
        theirs = [self._families[i] for i in members]
        visits = _added(f.visits for f in theirs)
        cases = sum(visits.values())
        found = sorted({c for f in theirs for c, years in f.found.items() if any(years.values())})
        standings = [self._comparables.standing(members, c) for c in found]
        pairs = {c: s.pair for c, s in zip(found, standings, strict=True) if s.pair}
        by_cause = dict(zip(pairs, ratios(self._prior, list(pairs.values())), strict=True))
        causes = [
            self._point(sort, members, cases, c, s, by_cause.get(c))
            for c, s in zip(found, standings, strict=True)
        ]
        causes.sort(key=lambda w: (not w.flag, -w.ratio_low, -w.count, w.cause))
        return FamilyWeakPoints(
            family=key,
            label=label,
            cases=cases,
            causes=tuple(causes),
            sort=sort,
            members=() if sort == "family" else tuple(f.family for f in theirs),
            visits=visits,
            too_few=cases < FEWEST_VISITS,
        )

    def _point(
        self,
        sort: str,
        members: Sequence[int],
        cases: int,
        cause: str,
        standing: Standing,
        ratio: Ratio | None,
    ) -> WeakPoint:
        theirs = [self._families[i] for i in members]
        histories = [History(f.visits, f.found.get(cause, _NEVER)) for f in theirs]
        by_year = _added(h.found for h in histories)
        count = sum(by_year.values())
        low = ratio.low if ratio else 0.0
        brought_on: Counter[str] = Counter()
        for f in theirs:
            brought_on.update(f.brought_on.get(cause, {}))
        course = joint_trend(histories)
        grouped = sort != "family"
        showing = sum(1 for i in members if self._comparables.own(i, cause))
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
            trend=course,
            comebacks=sum(f.comebacks.get(cause, 0) for f in theirs),
            comparable_count=standing.comparable_count,
            comparable_cases=standing.comparable_cases,
            brought_on=dict(sorted(brought_on.items())),
            place=agreed_place([v for f in theirs for v in f.places.get(cause, ())])
            if sort in ONE_CIRCUIT
            else None,
            by_year=by_year,
            by_family={
                f.family: sum(h.found.values())
                for f, h in zip(theirs, histories, strict=True)
                if any(h.found.values())
            }
            if grouped
            else {},
        )


def _added(counts: Iterable[Mapping[int, int]]) -> dict[int, int]:
    """Years with anything in them, in their order."""
    total: dict[int, int] = {}
    for by_year in counts:
        for year, n in by_year.items():
            total[year] = total.get(year, 0) + n
    return {year: n for year, n in sorted(total.items()) if n}
