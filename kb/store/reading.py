"""Reading cases and counts out of the tables. The counting is done by SQL."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, distinct, func, select

from kb.notes.case import Case
from kb.notes.vocabulary import NOT_SHOWING
from kb.store import schema as t
from kb.store.packed import unpack_case
from kb.values import Counts, FaultRecord

FEW_FAULTS = 2
Nested = dict[str, dict[str, float]]

_KNOWN = and_(t.fault.c.root_cause.is_not(None), t.case.c.finished.is_not(None))
_FAULTS = t.fault.join(t.case, t.fault.c.case_id == t.case.c.id)


def find_case(connection: Connection, number: str) -> Case | None:
    """The case of this number, letter case aside."""
    document = connection.scalar(
        select(t.note.c.document)
        .join(t.case, t.case.c.note_id == t.note.c.id)
        .where(t.case.c.number_key == number.casefold())
    )
    return unpack_case(document) if document is not None else None


def all_cases(connection: Connection, numbers: Iterable[str] | None = None) -> list[Case]:
    """All cases, or those of these numbers, in the order of their dates and numbers."""
    query = (
        select(t.note.c.document)
        .join(t.case, t.case.c.note_id == t.note.c.id)
        .order_by(t.case.c.received, t.case.c.number)
    )
    if numbers is None:
        return [unpack_case(document) for (document,) in connection.execute(query)]
    wanted = [n.casefold() for n in numbers]
    return [
        unpack_case(document)
        for start in range(0, len(wanted), 500)
        for (document,) in connection.execute(
            query.where(t.case.c.number_key.in_(wanted[start : start + 500]))
        )
    ]


def case_numbers(connection: Connection) -> list[str]:
    """Every case number, in order."""
    return list(connection.scalars(select(t.case.c.number).order_by(t.case.c.number)))


def refused_count(connection: Connection) -> int:
    """How many notes are left out because of an error or a number that another note has."""
    notes = connection.scalar(select(func.count()).select_from(t.note)) or 0
    cases = connection.scalar(select(func.count()).select_from(t.case)) or 0
    return notes - cases


def filtered_numbers(
    connection: Connection,
    families: Sequence[str] = (),
    symptoms: Sequence[str] = (),
    causes: Sequence[str] = (),
    since: dt.date | None = None,
) -> set[str]:
    """The numbers of the cases that meet every filter.

    `families` and `causes` name the accepted keys; of `symptoms` each stands for itself and what
    is a kind of it; a cause counts as root cause, as damage that followed or as put right on the
    way.
    """
    query = select(t.case.c.number)
    if families:
        query = query.where(t.case.c.family.in_(families))
    if since:
        query = query.where(t.case.c.received >= since.isoformat())
    if symptoms:
        query = query.where(
            t.case.c.id.in_(
                select(t.fault.c.case_id)
                .join(t.fault_symptom, t.fault_symptom.c.fault_id == t.fault.c.id)
                .join(t.symptom_ancestor, t.symptom_ancestor.c.symptom == t.fault_symptom.c.symptom)
                .where(
                    t.symptom_ancestor.c.ancestor.in_(symptoms), t.fault_symptom.c.how != "absent"
                )
            )
        )
    if causes:
        damage = select(t.fault.c.case_id).join(
            t.fault_damage, t.fault_damage.c.fault_id == t.fault.c.id
        )
        query = query.where(
            t.case.c.id.in_(select(t.fault.c.case_id).where(t.fault.c.root_cause.in_(causes)))
            | t.case.c.id.in_(damage.where(t.fault_damage.c.cause.in_(causes)))
            | t.case.c.id.in_(
                select(t.case_found_too.c.case_id).where(t.case_found_too.c.cause.in_(causes))
            )
        )
    return set(connection.scalars(query))


def counts(connection: Connection) -> Counts:
    """The counts that the ranking reads, over finished faults with a known root cause."""
    cause, family = t.fault.c.root_cause, t.case.c.family
    return Counts(
        faults=_nested(
            connection,
            select(family, cause, func.count())
            .select_from(_FAULTS)
            .where(_KNOWN)
            .group_by(family, cause),
        ),
        symptoms=_nested(connection, _symptom_counts()),
        checks=_check_counts(connection),
        words=_nested(
            connection,
            select(t.fault_word.c.stem, cause, func.count())
            .select_from(_FAULTS.join(t.fault_word, t.fault_word.c.fault_id == t.fault.c.id))
            .where(_KNOWN)
            .group_by(t.fault_word.c.stem, cause),
        ),
        cases=_cases_by_cause(connection),
    )


def _symptom_counts() -> Select[Any]:
    noted, above = t.fault_symptom.c, t.symptom_ancestor.c
    return (
        select(above.ancestor, t.fault.c.root_cause, func.count(distinct(t.fault.c.id)))
        .select_from(
            _FAULTS.join(t.fault_symptom, noted.fault_id == t.fault.c.id).join(
                t.symptom_ancestor, above.symptom == noted.symptom
            )
        )
        .where(_KNOWN, noted.how != "absent")
        .group_by(above.ancestor, t.fault.c.root_cause)
    )


def _last_checks() -> ColumnElement[bool]:
    """A condition on `fault_check` that keeps each check's last telling outcome in a fault."""
    later = t.fault_check.alias("later")
    exists = (
        select(later.c.position)
        .where(
            later.c.fault_id == t.fault_check.c.fault_id,
            later.c.check_key == t.fault_check.c.check_key,
            later.c.position > t.fault_check.c.position,
            later.c.outcome != NOT_SHOWING,
        )
        .exists()
    )
    return and_(t.fault_check.c.outcome != NOT_SHOWING, ~exists)


def _check_counts(connection: Connection) -> dict[str, Nested]:
    made = t.fault_check.c
    last = _last_checks()
    query = (
        select(made.check_key, made.outcome, t.fault.c.root_cause, func.count())
        .select_from(_FAULTS.join(t.fault_check, made.fault_id == t.fault.c.id))
        .where(_KNOWN, last)
        .group_by(made.check_key, made.outcome, t.fault.c.root_cause)
    )
    found: dict[str, Nested] = {}
    for check, outcome, cause, count in connection.execute(query):
        found.setdefault(check, {}).setdefault(outcome, {})[cause] = count
    return found


def _nested(connection: Connection, query: Select[Any]) -> Nested:
    found: Nested = {}
    for outer, inner, count in connection.execute(query):
        found.setdefault(outer, {})[inner] = count
    return found


def _cases_by_cause(connection: Connection) -> dict[str, tuple[str, ...]]:
    rows = connection.execute(
        select(t.fault.c.root_cause, t.case.c.number)
        .select_from(_FAULTS)
        .where(_KNOWN)
        .order_by(t.case.c.received.desc(), t.case.c.number.desc())
    )
    found: dict[str, dict[str, None]] = defaultdict(dict)
    for cause, number in rows:
        found[cause][number] = None
    return {cause: tuple(numbers) for cause, numbers in found.items()}


def fault_records(connection: Connection) -> dict[str, tuple[FaultRecord, ...]]:
    """Each finished fault with a known cause as the counts hold it: case number -> faults."""
    symptoms = _by_fault(
        connection,
        select(t.fault_symptom.c.fault_id, t.symptom_ancestor.c.ancestor)
        .join(t.symptom_ancestor, t.symptom_ancestor.c.symptom == t.fault_symptom.c.symptom)
        .where(t.fault_symptom.c.how != "absent"),
    )
    words = _by_fault(connection, select(t.fault_word.c.fault_id, t.fault_word.c.stem))
    last = _last_checks()
    checks: dict[int, list[tuple[str, str]]] = defaultdict(list)
    made = t.fault_check.c
    for fault_id, check, outcome in connection.execute(
        select(made.fault_id, made.check_key, made.outcome)
        .where(last)
        .order_by(made.fault_id, made.position)
    ):
        checks[fault_id].append((check, outcome))
    found: dict[str, list[FaultRecord]] = defaultdict(list)
    for fault_id, number, family, cause in connection.execute(
        select(t.fault.c.id, t.case.c.number, t.case.c.family, t.fault.c.root_cause)
        .select_from(_FAULTS)
        .where(_KNOWN)
        .order_by(t.fault.c.case_id, t.fault.c.position)
    ):
        found[number].append(
            FaultRecord(
                case=number,
                family=family,
                cause=cause,
                symptoms=frozenset(symptoms.get(fault_id, ())),
                checks=tuple(checks.get(fault_id, ())),
                words=frozenset(words.get(fault_id, ())),
            )
        )
    return {number: tuple(records) for number, records in found.items()}


def _by_fault(connection: Connection, query: Select[Any]) -> Mapping[int, Sequence[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    for fault_id, value in connection.execute(query):
        found[fault_id].append(value)
    return found


def check_minutes(connection: Connection) -> dict[str, list[float]]:
    """The hands-on minutes that each check took, over all cases where they were noted."""
    found: dict[str, list[float]] = defaultdict(list)
    made = t.fault_check.c
    for check, minutes in connection.execute(
        select(made.check_key, made.minutes)
        .where(made.minutes.is_not(None))
        .order_by(made.check_key, made.minutes)
    ):
        found[check].append(minutes)
    return dict(found)


def checks_by_family(connection: Connection) -> dict[str, set[str]]:
    """family -> the checks that were ever made on one."""
    found: dict[str, set[str]] = defaultdict(set)
    for family, check in connection.execute(
        select(t.case.c.family, t.fault_check.c.check_key)
        .select_from(_FAULTS.join(t.fault_check, t.fault_check.c.fault_id == t.fault.c.id))
        .distinct()
    ):
        found[family].add(check)
    return dict(found)


def intermittent_share(connection: Connection, symptoms: Sequence[str]) -> float | None:
    """The share of past faults with any of these symptoms that came and went; None if too few."""
    noted = select(t.fault_symptom.c.fault_id).where(
        t.fault_symptom.c.symptom.in_(symptoms), t.fault_symptom.c.how != "absent"
    )
    coming_and_going = (t.fault.c.reproduced.in_(("sometimes", "no"))) | (
        t.fault.c.every_minutes.is_not(None)
    )
    total, some = connection.execute(
        select(func.count(), func.count().filter(coming_and_going)).where(
            t.fault.c.id.in_(noted), t.fault.c.reproduced.is_not(None)
        )
    ).one()
    return some / total if total >= FEW_FAULTS else None


def refused_note(connection: Connection, file_name: str) -> str | None:
    """The path of a note of this file name that was left out because of a fault."""
    paths = connection.scalars(select(t.note.c.path).where(t.note.c.document.is_(None)))
    return next((path for path in paths if path.rpartition("/")[2] == file_name), None)
