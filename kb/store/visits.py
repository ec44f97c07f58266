"""Counts of visits per family, year and cause: what the weak points read.

Each takes `before`: then only visits finished before that date count, as the book stood then.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, and_, distinct, func, select

from kb.store import schema as t

Years = dict[int, int]


class Found(NamedTuple):
    """A visit in which a cause was found: the year it was received in, and of each of its faults of
    this cause what brought it on and where it was, as far as the note says.
    """

    year: int
    brought_on: list[str]
    places: list[str]


def visits_by_year(connection: Connection, before: dt.date | None = None) -> dict[str, Years]:
    """family -> year of receipt -> finished visits."""
    year = func.substr(t.case.c.received, 1, 4)
    found: dict[str, Years] = defaultdict(dict)
    for family, when, count in connection.execute(
        select(t.case.c.family, year, func.count())
        .where(_finished(before))
        .group_by(t.case.c.family, year)
    ):
        found[family][int(when)] = count
    return dict(found)


def causes_found(
    connection: Connection, before: dt.date | None = None
) -> dict[str, dict[str, list[Found]]]:
    """family -> cause -> the visits in which it was a root cause, as they were indexed."""
    year = func.substr(t.case.c.received, 1, 4)
    rows = connection.execute(
        select(
            t.case.c.family,
            t.fault.c.root_cause,
            t.case.c.id,
            year,
            t.fault.c.brought_on_by,
            t.fault.c["at"],
        )
        .join(t.case, t.fault.c.case_id == t.case.c.id)
        .where(t.fault.c.root_cause.is_not(None), _finished(before))
        .order_by(t.case.c.id, t.fault.c.position)
    )
    found: dict[str, dict[str, dict[int, Found]]] = defaultdict(lambda: defaultdict(dict))
    for family, cause, case_id, when, by, at in rows.all():
        of_cause = found[family][cause]
        visit = of_cause.get(case_id)
        if visit is None:
            visit = of_cause[case_id] = Found(int(when), [], [])
        if by is not None:
            visit.brought_on.append(by)
        if at is not None:
            visit.places.append(at)
    return {
        family: {cause: list(visits.values()) for cause, visits in causes.items()}
        for family, causes in found.items()
    }


def comebacks(connection: Connection, before: dt.date | None = None) -> dict[str, dict[str, int]]:
    """family -> cause -> visits whose repair came back, as later notes say in `comeback_of`."""
    later = t.case.alias("later")
    known = [] if before is None else [later.c.received < before.isoformat()]
    found: dict[str, dict[str, int]] = defaultdict(dict)
    for family, cause, count in connection.execute(
        select(t.case.c.family, t.fault.c.root_cause, func.count(distinct(t.case.c.id)))
        .join(t.case, t.fault.c.case_id == t.case.c.id)
        .join(later, and_(later.c.comeback_of == t.case.c.number_key))
        .where(t.fault.c.root_cause.is_not(None), *known)
        .group_by(t.case.c.family, t.fault.c.root_cause)
    ):
        found[family][cause] = count
    return dict(found)


def _finished(before: dt.date | None) -> ColumnElement[bool]:
    if before is None:
        return t.case.c.finished.is_not(None)
    return t.case.c.finished < before.isoformat()
