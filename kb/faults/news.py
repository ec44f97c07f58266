"""What is new since a date: what became a weak point, and what began to come more often.

The book is reckoned twice, as it is and as it stood on that date: only the visits finished before
it, in the years up to it, take part in the second.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from kb.faults.weak_points import FEWEST_SHOWING, weak_points
from kb.values_weak import (
    FamilyGroup,
    FamilyVisits,
    FamilyWeakPoints,
    NewTrend,
    NewWeakPoint,
    WeakPoint,
    WeakPoints,
)

RISING = "rising"


def with_news(
    now: WeakPoints,
    since: dt.date,
    then: Sequence[FamilyVisits],
    groups: Sequence[FamilyGroup],
) -> WeakPoints:
    """An answer with what is new in it since a date.

    Args:
        now: the answer about the book as it is.
        since: the date.
        then: every family of the book, with the visits that were finished before the date.
        groups: the groups among which those of the answer are.
    """
    # Of then only what could have changed needs to be known.
    points = {
        (f.sort, f.family, c.cause)
        for f in (*now.families, *now.groups)
        for c in f.causes
        if c.flag or _rises(f, c)
    }
    families = {key for sort, key, _ in points if sort == "family"}
    sorts = {(sort, key) for sort, key, _ in points}
    asked = [group for group in groups if (group.sort, group.key) in sorts]
    before = weak_points(then, {}, families, asked, points)
    return replace(
        now, since=since, new=became_flagged(now, before), rising=became_rising(now, before)
    )


def became_flagged(now: WeakPoints, then: WeakPoints) -> tuple[NewWeakPoint, ...]:
    """The pairs that are flagged now and were not then, the most telling first."""
    found = [
        NewWeakPoint(
            sort=one.of.sort,
            family=one.of.family,
            family_label=one.of.label,
            cases=one.of.cases,
            point=one.point,
            then_count=one.was.count if one.was else 0,
            then_cases=one.then_cases,
            then_low=one.was.ratio_low if one.was else None,
        )
        for one in _pairs(now, then, lambda _, point: point.flag)
        if not (one.was and one.was.flag)
    ]
    found.sort(key=lambda n: (n.sort != "family", -n.point.ratio_low, n.family, n.point.cause))
    return tuple(found)


def became_rising(now: WeakPoints, then: WeakPoints) -> tuple[NewTrend, ...]:
    """The pairs whose trend is rising now and was not then, the least likely by chance first.

    Of a line, a maker or a kind only what at least two of its families had: what only one has is
    that family's trend.
    """
    found = [
        NewTrend(
            sort=one.of.sort,
            family=one.of.family,
            family_label=one.of.label,
            cases=one.of.cases,
            point=one.point,
            then_count=one.was.count if one.was else 0,
            then_cases=one.then_cases,
            then_trend=one.was.trend if one.was else None,
        )
        for one in _pairs(now, then, _rises)
        if not (one.was and one.was.trend.direction == RISING)
    ]
    found.sort(key=lambda n: (n.sort != "family", n.point.trend.p, n.family, n.point.cause))
    return tuple(found)


def _rises(of: FamilyWeakPoints, point: WeakPoint) -> bool:
    alone = of.sort != "family" and len(point.by_family) < FEWEST_SHOWING
    return point.trend.direction == RISING and not alone


class _Pair(NamedTuple):
    """A cause in a family or a group now, and how it stood then."""

    of: FamilyWeakPoints
    point: WeakPoint
    was: WeakPoint | None
    then_cases: int


def _pairs(
    now: WeakPoints, then: WeakPoints, wanted: Callable[[FamilyWeakPoints, WeakPoint], bool]
) -> Iterator[_Pair]:
    known = {(f.sort, f.family): f for f in (*then.families, *then.groups)}
    for family in (*now.families, *now.groups):
        was = known.get((family.sort, family.family))
        points = {p.cause: p for p in was.causes} if was else {}
        for point in family.causes:
            if wanted(family, point):
                yield _Pair(family, point, points.get(point.cause), was.cases if was else 0)
