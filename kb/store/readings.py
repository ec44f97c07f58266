"""Readings, and the causes found in the visits that they were taken in."""

from __future__ import annotations

from collections import defaultdict

from sqlalchemy import Connection, select

from kb.store import schema as t
from kb.values import ASSUMED_WEIGHT
from kb.values_readings import Taken

_ENDED_BADLY = frozenset({"declined", "beyond-repair", "referred"})


def taken(connection: Connection) -> list[Taken]:
    """Every reading of which is noted whether it is as found or as left, by case and position."""
    modified: dict[int, list[str]] = defaultdict(list)
    change = t.case_modified.c
    for case_id, what in connection.execute(
        select(change.case_id, change.change).order_by(change.case_id, change.change)
    ):
        modified[case_id].append(what)
    c, r = t.case.c, t.reading.c
    rows = connection.execute(
        select(
            c.id, c.number, c.family, c.unit, c.received, c.finished, c.closed_as, r.at, r.value,
            r.unit, r.taken, r.state, r.mains,
        )
        .join(t.case, r.case_id == c.id)
        .where(r.taken.is_not(None))
        .order_by(c.number, r.position)
    )  # fmt: skip
    return [
        Taken(
            case=row[1],
            family=row[2],
            serial=row[3],
            received=row[4],
            finished=row[5] is not None,
            well=row[6] not in _ENDED_BADLY,
            modified=tuple(modified.get(row[0], ())),
            at=row[7],
            value=row[8],
            unit=row[9],
            when=row[10],
            state=row[11],
            mains=row[12],
        )
        for row in rows.cursor.fetchall()  # tens of thousands of plain rows
    ]


def unsaid(connection: Connection, family: str) -> int:
    """How many readings of a family don't say whether they are as found or as left."""
    return len(
        connection.execute(
            select(t.reading.c.case_id)
            .join(t.case, t.reading.c.case_id == t.case.c.id)
            .where(t.case.c.family == family, t.reading.c.taken.is_(None))
        ).all()
    )


def causes(connection: Connection) -> dict[str, dict[str, float]]:
    """case -> root cause -> how much of a fault it is, of every visit that has readings.

    The faults of a visit share its readings, so each counts in part; a cause that was only
    assumed counts `ASSUMED_WEIGHT` of that.
    """
    c, f = t.case.c, t.fault.c
    found: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for number, cause, confirmed in connection.execute(
        select(c.number, f.root_cause, f.confirmed_by)
        .join(t.case, f.case_id == c.id)
        .where(f.root_cause.is_not(None), c.id.in_(select(t.reading.c.case_id)))
        .order_by(c.number, f.position)
    ):
        found[number].append((cause, ASSUMED_WEIGHT if confirmed == "assumed" else 1.0))
    parts: dict[str, dict[str, float]] = {}
    for number, faults in found.items():
        row = parts.setdefault(number, {})
        for cause, weight in faults:
            row[cause] = row.get(cause, 0.0) + weight / len(faults)
    return parts
