"""How old units are when a cause is found, and how often one unit has to be repaired."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from math import comb
from statistics import median
from typing import NamedTuple

from kb.faults.places import same_place
from kb.faults.recurrence import YEAR, mean_cumulative
from kb.values import Interval
from kb.values_history import AgeAtFailure, FamilyAges, FaultFound, RepairsByTime, Visit

RENEWING = frozenset({"replace", "overhaul"})
"""Fixes after which the part is new, so that its age counts from there."""


class _Age(NamedTuple):
    years: float
    renewed: bool


def ages(
    visits: Sequence[Visit], label: str, as_of: dt.date | None, labels: Mapping[str, str]
) -> FamilyAges:
    """Ages at failure, and how repairs follow each other, in one family.

    A cause counts once a visit. Its age is counted from the year or day the unit was built (a year
    alone means its middle), or, if an earlier visit of the unit put a new part in for something
    that failed in the same item, from then. Where both notes say where in the unit it was, they
    must mean the same place.

    Args:
        visits: all visits of one family, in the order of receipt; at least one.
        label: what to call the family.
        as_of: the latest date in the book: to which day units were followed.
        labels: cause -> what to call it.
    """
    found: dict[str, list[_Age | None]] = defaultdict(list)
    earlier: dict[tuple[str, str], list[Visit]] = defaultdict(list)
    for visit in visits:
        before = earlier[visit.key] if visit.key else []
        if visit.finished is not None:
            for fault in _once_each(visit):
                found[fault.root_cause or ""].append(_age(visit, fault, before))
        before.append(visit)
    causes = [_at_failure(c, labels.get(c, c), each) for c, each in found.items()]
    units, again, repairs = _repairs(earlier, as_of)
    return FamilyAges(
        family=visits[0].family,
        label=label,
        visits=len(visits),
        built_unknown=sum(v.built is None for v in visits),
        causes=tuple(sorted(causes, key=lambda c: (-c.known, -c.count, c.cause))),
        units=units,
        seen_again=again,
        without_number=sum(v.key is None for v in visits),
        repairs=repairs,
    )


def median_interval(values: Sequence[float], level: float = 0.95) -> Interval | None:
    """The narrowest pair of order statistics that holds the median with at least this certainty.

    With n values in order, the d-th from below and the d-th from above hold it unless fewer than d
    of n fall on one side, each with probability one half. None if even the outermost are not
    enough: below six values at 95 %.

    Source: H. A. David & H. N. Nagaraja, Order Statistics, 3rd edition (2003), section 7.1.
    """
    n, tail, depth = len(values), 0.0, 0
    while depth < n:
        tail += comb(n, depth) / 2**n
        if 2 * tail > 1 - level:
            break
        depth += 1
    ordered = sorted(values)
    return (ordered[depth - 1], ordered[n - depth]) if depth else None


def _once_each(visit: Visit) -> list[FaultFound]:
    return list({f.root_cause: f for f in reversed(visit.faults) if f.root_cause}.values())


def _age(visit: Visit, fault: FaultFound, before: Sequence[Visit]) -> _Age | None:
    for past in reversed(before):
        if past.out is not None and any(_renewed(past, old, fault) for old in past.faults):
            return _Age(max((visit.received - past.out).days, 0) / YEAR, renewed=True)
    built = _built(visit.built)
    if built is None:
        return None
    return _Age(max((visit.received - built).days, 0) / YEAR, renewed=False)


def _renewed(past: Visit, old: FaultFound, fault: FaultFound) -> bool:
    """Whether the earlier visit put a new part in for what has failed now."""
    return (
        past.repaired
        and old.root_cause is not None
        and _item(old.root_cause) == _item(fault.root_cause or "")
        and bool(RENEWING.intersection(old.fix))
        and (not old.at or not fault.at or same_place(old.at, fault.at))
    )


def _item(cause: str) -> str:
    return cause.partition("/")[0]


def _built(built: str | None) -> dt.date | None:
    if built is None:
        return None
    return dt.date(int(built), 7, 1) if len(built) == 4 else dt.date.fromisoformat(built)


def _at_failure(cause: str, label: str, each: Sequence[_Age | None]) -> AgeAtFailure:
    known = [age for age in each if age is not None]
    years = [age.years for age in known]
    return AgeAtFailure(
        cause=cause,
        label=label,
        count=len(each),
        known=len(known),
        renewed=sum(age.renewed for age in known),
        median=median(years) if years else None,
        interval=median_interval(years),
        youngest=min(years, default=None),
        oldest=max(years, default=None),
    )


def _repairs(
    by_unit: Mapping[tuple[str, str], Sequence[Visit]], as_of: dt.date | None
) -> tuple[int, int, tuple[RepairsByTime, ...]]:
    """How many units there are, how many were seen again, and their repairs after the first.

    A unit is followed from its first receipt to `as_of`, or until it closed as beyond repair.
    """
    followed = []
    for visits in by_unit.values():
        first = visits[0].received
        scrapped = next((v for v in visits if v.closed_as == "beyond-repair"), None)
        end = (scrapped and scrapped.finished) or as_of or first
        repairs = [
            float((v.received - first).days)
            for v in visits[1:]
            if v.repaired and v.received <= end and any(f.root_cause for f in v.faults)
        ]
        followed.append((float((end - first).days), repairs))
    again = sum(len(visits) > 1 for visits in by_unit.values())
    return len(followed), again, mean_cumulative(followed)
