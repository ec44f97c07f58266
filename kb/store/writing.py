"""Writing notes into the tables. The caller holds the one transaction and the lock."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import msgspec
from msgspec import Struct
from sqlalchemy import Connection, Table, delete, insert, select, update

from kb.notes.case import Case, Fault
from kb.notes.folder import FoundFile
from kb.notes.units import in_base, in_minutes
from kb.notes.vocabulary import Vocabulary
from kb.store import schema as t


class KnownNote(Struct, frozen=True):
    """What the index remembers of a note file."""

    id: int
    found: FoundFile
    read_at_ns: int
    digest: str
    case_key: str | None


class NewNote(Struct, frozen=True):
    """A note file that was read: `case` is None where it was refused."""

    found: FoundFile
    read_at_ns: int
    digest: str
    case: Case | None


def known_notes(connection: Connection) -> dict[str, KnownNote]:
    """Every note file of the last run, by its path."""
    n = t.note.c
    rows = connection.execute(
        select(
            n.id, n.path, n.size, n.mtime_ns, n.ctime_ns, n.inode, n.read_at_ns, n.digest,
            n.case_key,
        )
    )  # fmt: skip
    return {
        path: KnownNote(id_, FoundFile(path, *state), read_at, digest, key)
        for id_, path, *state, read_at, digest, key in rows
    }


def clear(connection: Connection) -> None:
    """Forget every note and every term."""
    connection.execute(delete(t.note))
    for table in t.TERMS:
        connection.execute(delete(table))


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
    _insert(connection, t.check, [{"key": c.key, "label": c.label} for c in words.checks.values()])


def write_notes(connection: Connection, notes: Iterable[NewNote]) -> None:
    """Insert note files, or replace those whose path is known; their cases are not written yet."""
    notes = list(notes)
    remove_notes(connection, [n.found.path for n in notes])
    _insert(
        connection,
        t.note,
        [
            {
                **msgspec.structs.asdict(n.found),
                "read_at_ns": n.read_at_ns,
                "digest": n.digest,
                "case_key": n.case.case.casefold() if n.case else None,
                "document": msgspec.json.encode(n.case) if n.case else None,
            }
            for n in notes
        ],
    )


def touch_notes(connection: Connection, states: Iterable[tuple[FoundFile, int]]) -> None:
    """Remember a new date or size of files whose content is what it was."""
    for found, read_at_ns in states:
        connection.execute(
            update(t.note)
            .where(t.note.c.path == found.path)
            .values(**msgspec.structs.asdict(found), read_at_ns=read_at_ns)
        )


def remove_notes(connection: Connection, paths: Sequence[str]) -> None:
    """Forget note files; their cases go with them."""
    for part in _chunks(paths):
        connection.execute(delete(t.note).where(t.note.c.path.in_(part)))


def numbers(connection: Connection) -> frozenset[str]:
    """Every case number as it stands now."""
    return frozenset(connection.scalars(select(t.case.c.number)))


class CaseChange(Struct, frozen=True):
    """Which cases came or changed, and which numbers went, since `before`."""

    added: tuple[Case, ...]
    removed: tuple[str, ...]


def settle_cases(connection: Connection, before: frozenset[str]) -> CaseChange:
    """Make the cases those of the readable notes.

    `before` are the numbers from before the notes were changed. Of several notes with the same
    number (letter case aside) the first by path has it.
    """
    rows = connection.execute(
        select(t.note.c.case_key, t.note.c.path, t.note.c.id)
        .where(t.note.c.case_key.is_not(None))
        .order_by(t.note.c.case_key, t.note.c.path)
    )
    wanted: dict[str, int] = {}
    for key, _, note_id in rows:
        wanted.setdefault(key, note_id)
    present = _pairs(connection.execute(select(t.case.c.number_key, t.case.c.note_id)))
    gone = [key for key, note_id in present.items() if wanted.get(key) != note_id]
    for part in _chunks(gone):
        connection.execute(delete(t.case).where(t.case.c.number_key.in_(part)))
    new = [note_id for key, note_id in wanted.items() if present.get(key) != note_id]
    added = [case for part in _chunks(new) for case in _write_cases(connection, part)]
    return CaseChange(tuple(added), tuple(sorted(before - numbers(connection))))


def _write_cases(connection: Connection, note_ids: Sequence[int]) -> list[Case]:
    decode = msgspec.json.Decoder(Case).decode
    documents = connection.execute(
        select(t.note.c.id, t.note.c.document)
        .where(t.note.c.id.in_(note_ids))
        .order_by(t.note.c.path)
    )
    cases = [(note_id, decode(document)) for note_id, document in documents]
    rows: dict[Table, list[dict[str, Any]]] = defaultdict(list)
    for note_id, case in cases:
        rows[t.case].append(_case_row(note_id, case))
    _insert(connection, t.case, rows.pop(t.case, []))
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
    rows[t.fault_check] += [
        {
            "fault_id": fault_id,
            "position": i,
            "check_key": c.check,
            "outcome": c.outcome,
            "minutes": c.minutes,
        }
        for i, c in enumerate(f.checks)
    ]
    rows[t.fault_damage] += [{"fault_id": fault_id, "cause": c} for c in f.took_with_it]
    rows[t.fault_fix] += [{"fault_id": fault_id, "fix": x} for x in dict.fromkeys(f.fix)]
    rows[t.fault_part] += [
        {"fault_id": fault_id, "position": i, "part": p.part, "batch": p.batch}
        for i, p in enumerate(f.parts)
    ]


def write_words(connection: Connection, stems: Mapping[str, Iterable[str]]) -> None:
    """Keep the stems of the owners' words; `stems` is case number -> stems, of new cases."""
    for part in _chunks(list(stems)):
        ids = connection.execute(
            select(t.fault.c.id, t.case.c.number)
            .join(t.case, t.fault.c.case_id == t.case.c.id)
            .where(t.case.c.number.in_(part))
        )
        rows = [
            {"fault_id": fault_id, "stem": stem}
            for fault_id, number in ids
            for stem in dict.fromkeys(stems[number])
        ]
        _insert(connection, t.fault_word, rows)


def _pairs(rows: Iterable[Any]) -> dict[Any, Any]:
    return {key: value for key, value in rows}  # noqa: C416 - a row is no tuple to dict()


def _insert(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    if rows:
        connection.execute(insert(table), list(rows))


def _chunks(items: Sequence[Any], size: int = 500) -> Iterable[Sequence[Any]]:
    for start in range(0, len(items), size):
        yield items[start : start + size]
