"""Writing notes into the tables. The caller holds the one transaction and the lock."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import cache
from typing import Any

import msgspec
from sqlalchemy import Connection, Dialect, Table, delete, insert, select

from kb.notes.case import Case, Fault
from kb.notes.units import in_base, in_minutes
from kb.notes.vocabulary import Vocabulary
from kb.store import schema as t
from kb.store.note_files import KnownNote, NewNote
from kb.store.packed import unpack_case

_NOTES = "notes"


_decode_known = msgspec.msgpack.Decoder(list[KnownNote]).decode


def known_notes(connection: Connection) -> dict[str, KnownNote]:
    """Every note file of the last run, by its path."""
    query = select(t.remembered.c.data).where(t.remembered.c.key == _NOTES)
    packed = connection.scalar(query)
    return {note.found.path: note for note in _decode_known(packed)} if packed else {}


def remember_notes(connection: Connection, notes: Iterable[KnownNote]) -> None:
    """Keep what is known of every note file in place of what was kept before."""
    packed = msgspec.msgpack.encode(sorted(notes, key=lambda note: note.found.path))
    connection.execute(delete(t.remembered).where(t.remembered.c.key == _NOTES))
    connection.execute(insert(t.remembered).values(key=_NOTES, data=packed))


def write_vocabulary(connection: Connection, words: Vocabulary) -> None:
    """Fill the tables of terms, which must be empty."""
    _insert(
        connection,
        t.family,
        [
            {
                "key": f.key,
                "label": f.label,
                "parent": f.parent,
                "maker": words.maker_of(f.key),
                "kind": words.kind_of(f.key),
            }
            for f in words.families.values()
        ],
    )
    _insert(
        connection, t.symptom, [{"key": s.key, "label": s.label} for s in words.symptoms.values()]
    )
    _insert(
        connection,
        t.symptom_ancestor,
        [{"symptom": s, "ancestor": a} for s in words.symptoms for a in words.symptom_ancestors(s)],
    )
    _insert(
        connection,
        t.cause,
        [{"key": c.key, "label": c.label, "item": c.item} for c in words.causes.values()],
    )


def write_notes(connection: Connection, notes: Iterable[NewNote]) -> None:
    """Insert note files whose paths are not known; their cases are not written yet."""
    _insert(
        connection,
        t.note,
        [
            {
                "path": n.found.path,
                "case_key": n.key,
                "number": n.number,
                "document": n.document,
                "visit": n.visit,
                "records": n.records,
                "known": n.known,
                "learnt": n.learnt,
            }
            for n in notes
        ],
    )


def remove_notes(connection: Connection, paths: Sequence[str]) -> None:
    """Forget note files; their cases go with them."""
    for part in _chunks(paths):
        connection.execute(delete(t.note).where(t.note.c.path.in_(part)))


def numbers_of(connection: Connection, keys: Collection[str]) -> dict[str, str]:
    """The numbers of the cases with these keys: key -> number."""
    c = t.case.c
    return {
        key: number
        for part in _chunks(sorted(keys))
        for key, number in connection.execute(
            select(c.number_key, c.number).where(c.number_key.in_(part))
        )
    }


def settle_cases(connection: Connection, keys: Collection[str] | None = None) -> list[int]:
    """Make the cases those of the readable notes; returns the notes whose cases are now to write.

    Looks at the cases with these keys only, or at all. Of several notes with the same number
    (letter case aside) the first by path has it.
    """
    notes = select(t.note.c.case_key, t.note.c.id).where(t.note.c.case_key.is_not(None))
    notes = notes.order_by(t.note.c.case_key, t.note.c.path)
    cases = select(t.case.c.number_key, t.case.c.note_id)
    wanted: dict[str, int] = {}
    present: dict[str, int] = {}
    if keys is None:
        for key, note_id in connection.execute(notes):
            wanted.setdefault(key, note_id)
        present.update(_pairs(connection.execute(cases)))
    else:
        for part in _chunks(sorted(keys)):
            for key, note_id in connection.execute(notes.where(t.note.c.case_key.in_(part))):
                wanted.setdefault(key, note_id)
            present.update(_pairs(connection.execute(cases.where(t.case.c.number_key.in_(part)))))
    gone = [key for key, note_id in present.items() if wanted.get(key) != note_id]
    for part in _chunks(gone):
        connection.execute(delete(t.case).where(t.case.c.number_key.in_(part)))
    return [note_id for key, note_id in wanted.items() if present.get(key) != note_id]


def write_cases(connection: Connection, note_ids: Sequence[int]) -> Iterator[Case]:
    """Write the cases of these notes and yield each; nothing is written that is not taken."""
    for part in _chunks(note_ids):
        yield from _write_cases(connection, part)


def _write_cases(connection: Connection, note_ids: Sequence[int]) -> list[Case]:
    n = t.note.c
    documents = connection.execute(
        select(n.id, n.document).where(n.id.in_(note_ids)).order_by(n.path)
    )
    cases = [(note_id, unpack_case(packed)) for note_id, packed in documents]
    rows: dict[Table, list[dict[str, Any]]] = defaultdict(list)
    rows[t.case] = [_case_row(note_id, case) for note_id, case in cases]
    _insert(connection, t.case, rows.pop(t.case))
    ids = _pairs(
        connection.execute(
            select(t.case.c.note_id, t.case.c.id).where(t.case.c.note_id.in_(note_ids))
        )
    )
    for note_id, case in cases:
        case_id = ids[note_id]
        for position, fault in enumerate(case.faults):
            # A fault's own number follows from its case's, so that no second look-up is needed.
            _fault_rows(rows, case_id, case_id * 100 + position, position, fault)
        _visit_rows(rows, case_id, case)
    for table in (t.fault, *(x for x in rows if x is not t.fault)):
        _insert(connection, table, rows.get(table, []))
    return [case for _, case in cases]


def _case_row(note_id: int, case: Case) -> dict[str, Any]:
    return {
        "number": case.case,
        "number_key": case.case.casefold(),
        "note_id": note_id,
        "family": case.family,
        "received": case.received.isoformat(),
        "finished": case.finished.isoformat() if case.finished else None,
        "closed_as": case.closed_as,
        "unit": case.unit,
        "comeback_of": case.comeback_of.casefold() if case.comeback_of else None,
    }


def _visit_rows(rows: dict[Table, list[dict[str, Any]]], case_id: int, case: Case) -> None:
    rows[t.case_found_too] += [{"case_id": case_id, "cause": c} for c in case.found_too]
    rows[t.case_modified] += [
        {"case_id": case_id, "change": c} for c in dict.fromkeys(case.modified)
    ]
    rows[t.reading] += [
        {
            "case_id": case_id,
            "position": i,
            "at": r.at,
            "value": r.value.value,
            "unit": r.value.unit,
            "taken": r.when,
            "state": r.state,
            "mains": in_base(r.mains)[0] if r.mains else None,
        }
        for i, r in enumerate(case.readings)
    ]
    rows[t.offer] += [
        {
            "case_id": case_id,
            "position": i,
            "work": o.do,
            "price": o.price,
            "owner": o.owner,
            "urgency": o.urgency,
        }
        for i, o in enumerate(case.offered)
    ]


def _fault_rows(
    rows: dict[Table, list[dict[str, Any]]], case_id: int, fault_id: int, position: int, f: Fault
) -> None:
    rows[t.fault].append(
        {
            "id": fault_id,
            "case_id": case_id,
            "position": position,
            "root_cause": f.root_cause,
            "at": f.at,
            "confirmed_by": f.confirmed_by,
            "brought_on_by": f.brought_on_by,
            "reproduced": f.reproduced,
            "onset_minutes": in_minutes(f.onset) if f.onset else None,
            "every_minutes": in_minutes(f.every) if f.every else None,
            "minutes": f.minutes,
        }
    )
    for how, keys in (("counter", f.symptom), ("seen", f.seen), ("absent", f.absent)):
        rows[t.fault_symptom] += [{"fault_id": fault_id, "symptom": s, "how": how} for s in keys]
    rows[t.fault_damage] += [{"fault_id": fault_id, "cause": c} for c in f.took_with_it]
    rows[t.fault_fix] += [{"fault_id": fault_id, "fix": x} for x in dict.fromkeys(f.fix)]
    rows[t.fault_part] += [
        {"fault_id": fault_id, "position": i, "part": p.part, "batch": p.batch}
        for i, p in enumerate(f.parts)
    ]


def _pairs(rows: Iterable[Any]) -> dict[Any, Any]:
    return {key: value for key, value in rows}  # noqa: C416 - a row is no tuple to dict()


def _insert(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert rows that all have the same keys, past SQLAlchemy's look at each value."""
    if rows:
        statement, names = _statement(table, tuple(rows[0]), connection.dialect)
        connection.exec_driver_sql(statement, [tuple([row[n] for n in names]) for row in rows])


@cache
def _statement(table: Table, keys: tuple[str, ...], dialect: Dialect) -> tuple[str, list[str]]:
    """The statement, and the order in which it takes the values."""
    compiled = insert(table).compile(dialect=dialect, column_keys=keys)
    return str(compiled), list(compiled.positiontup or ())


def _chunks(items: Sequence[Any], size: int = 500) -> Iterable[Sequence[Any]]:
    for start in range(0, len(items), size):
        yield items[start : start + size]
