"""Counts of visits per family, year and cause: what the weak points read.

Each takes `before`: then only visits finished before that date count, as the book stood then.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from sqlalchemy import ColumnElement, Connection, and_, distinct, func, select

from kb.store import schema as t

Years = dict[int, int]


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


def causes_by_year(
    connection: Connection, before: dt.date | None = None
) -> dict[str, dict[str, Years]]:
    """family -> cause -> year -> visits in which it was a root cause."""
    year = func.substr(t.case.c.received, 1, 4)
    found: dict[str, dict[str, Years]] = defaultdict(lambda: defaultdict(dict))
    for family, cause, when, count in connection.execute(
        select(t.case.c.family, t.fault.c.root_cause, year, func.count(distinct(t.case.c.id)))
        .join(t.case, t.fault.c.case_id == t.case.c.id)
        .where(t.fault.c.root_cause.is_not(None), _finished(before))
        .group_by(t.case.c.family, t.fault.c.root_cause, year)
    ):
        found[family][cause][int(when)] = count
    return {family: dict(causes) for family, causes in found.items()}


def brought_on(
    connection: Connection, before: dt.date | None = None
) -> dict[str, dict[str, list[list[str]]]]:
    """family -> cause -> for each visit what its faults of this cause were brought on by."""
    return _by_visit(connection, t.fault.c.brought_on_by, before)


def places(
    connection: Connection, before: dt.date | None = None
) -> dict[str, dict[str, list[list[str]]]]:
    """family -> cause -> for each visit that names one, where its faults of this cause were."""
    return _by_visit(connection, t.fault.c["at"], before)


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


def _by_visit(
    connection: Connection, column: ColumnElement[str], before: dt.date | None
) -> dict[str, dict[str, list[list[str]]]]:
    """family -> cause -> for each visit what stands in this column of its faults of this cause."""
    rows = connection.execute(
        select(t.case.c.family, t.fault.c.root_cause, t.case.c.id, column)
        .distinct()
        .join(t.case, t.fault.c.case_id == t.case.c.id)
        .where(t.fault.c.root_cause.is_not(None), column.is_not(None), _finished(before))
        .order_by(t.case.c.id, column)
    )
    found: dict[str, dict[str, dict[int, list[str]]]] = defaultdict(lambda: defaultdict(dict))
    for family, cause, case_id, said in rows:
        found[family][cause].setdefault(case_id, []).append(said)
    return {
        family: {cause: list(visits.values()) for cause, visits in causes.items()}
        for family, causes in found.items()
    }
