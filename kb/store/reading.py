"""Reading cases and their faults out of the tables."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from itertools import accumulate

from sqlalchemy import Connection, func, select

from kb.notes.case import Case
from kb.store import schema as t
from kb.store.packed import unpack_case, unpack_records
from kb.values import FaultRecord


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


def fault_records(connection: Connection) -> dict[str, tuple[FaultRecord, ...]]:
    """Case number -> its faults, in the order of their numbers; without a case, none."""
    query = select(t.case.c.number, t.note.c.records).join(t.note, t.case.c.note_id == t.note.c.id)
    return {
        number: unpack_records(packed)
        for number, packed in connection.execute(query.order_by(t.case.c.number))
    }


def first_finished(connection: Connection, faults: int) -> tuple[bytes, list[int]]:
    """The first notes, by date of finishing and number, that hold so many faults of known cause.

    Returns what stands for what the ranking is fitted to, and the numbers of the notes.
    """
    n, c = t.note.c, t.case.c
    query = (
        select(n.id, n.known, n.learnt)
        .join(t.case, c.note_id == n.id)
        .where(n.known > 0, c.finished.is_not(None))
        .order_by(c.finished, c.number)
    )
    rows = connection.execute(query.limit(faults)).cursor.fetchall()  # thousands of plain rows
    reached = list(accumulate(known for _, known, _ in rows))
    enough = bisect_left(reached, faults) + 1 if faults else 0
    return b"".join(row[2] for row in rows[:enough]), [row[0] for row in rows[:enough]]


def known_faults(connection: Connection) -> int:
    """How many finished faults of known cause there are."""
    query = select(func.sum(t.note.c.known)).join(t.case, t.case.c.note_id == t.note.c.id)
    return connection.scalar(query) or 0


def records_of_notes(connection: Connection, note_ids: Sequence[int]) -> list[FaultRecord]:
    """The faults of known cause of these notes."""
    n = t.note.c
    return [
        record
        for start in range(0, len(note_ids), 500)
        for (packed,) in connection.execute(
            select(n.records).where(n.id.in_(note_ids[start : start + 500])).order_by(n.id)
        )
        for record in unpack_records(packed)
        if record.cause
    ]


def refused_note(connection: Connection, file_name: str) -> str | None:
    """The path of a note of this file name that was left out because of a fault."""
    paths = connection.scalars(select(t.note.c.path).where(t.note.c.document.is_(None)))
    return next((path for path in paths if path.rpartition("/")[2] == file_name), None)
