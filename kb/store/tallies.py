"""Tallies of the faults: what the ranking and the next checks read, kept ready.

A row is a kind, a key and amounts. Every amount is a sum of whole and half numbers, so that adding
a fault and taking it out again leaves exactly what was there before: the tallies of a book that
was kept up to date are those of one that was made from nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping

import msgspec
from sqlalchemy import Connection, delete, insert, select

from kb.store import schema as t
from kb.store.packed import unpack_records
from kb.values import Counts, FaultRecord, Tallies

_AT_ONCE = 500
_decode = msgspec.msgpack.Decoder(dict[str, float]).decode
_encode = msgspec.msgpack.Encoder(order="sorted").encode

Amounts = dict[str, float]
Rows = dict[tuple[str, str], Amounts]
"""(kind, key) -> what -> how much"""


def amounts_of(record: FaultRecord) -> Iterator[tuple[str, str, str]]:
    """(kind, key, what) of every amount that a fault adds its weight to."""
    cause = record.cause
    if cause:
        yield "fault", record.family, cause
        for symptom in record.symptoms:
            yield "symptom", symptom, cause
        for check, outcome in record.checks:
            yield "check", f"{check}={outcome}", cause
        for word in record.words:
            yield "word", word, cause
        for damaged in record.took_with_it:
            yield "damage", damaged, cause


def plain_amounts_of(record: FaultRecord) -> Iterator[tuple[str, str, str]]:
    """(kind, key, what) of every amount that a fault adds 1 to, whatever it weighs."""
    if record.cause:
        yield "case", record.cause, f"{record.received} {record.case}"
        if record.minutes is not None:
            left = max(record.minutes - sum(minutes for _, minutes in record.times), 0.0)
            yield "duration", record.cause, repr(record.minutes)
            yield "left", record.cause, repr(left)
        for change in record.modified:
            yield "modified", record.cause, change
        yield "visit", "faults", str(record.faults)
    for check, minutes in record.times:
        yield "minutes", check, repr(minutes)
    for check, _ in record.checks:
        yield "made", record.family, check
    if record.coming_and_going is not None:
        for symptom in record.symptoms:
            yield "coming", symptom, "some" if record.coming_and_going else "none"


def write_tallies(connection: Connection) -> None:
    """Fill the empty table from all cases."""
    rows: Rows = defaultdict(dict)
    query = select(t.note.c.records).join(t.case, t.case.c.note_id == t.note.c.id)
    for (packed,) in connection.execute(query):
        for record in unpack_records(packed):
            _add(rows, record, 1.0)
    _write(connection, rows)


def change_tallies(
    connection: Connection, gone: Iterable[FaultRecord], come: Iterable[FaultRecord]
) -> None:
    """Take out faults and add others; only the rows they have a part in are touched."""
    change: Rows = defaultdict(dict)
    for record in gone:
        _add(change, record, -1.0)
    for record in come:
        _add(change, record, 1.0)
    change = {row: kept for row, amounts in change.items() if (kept := _without_zeros(amounts))}
    by_kind: dict[str, list[str]] = defaultdict(list)
    for kind, key in change:
        by_kind[kind].append(key)
    c = t.tally.c
    rows: Rows = {}
    for kind, keys in by_kind.items():
        rows |= {
            (kind, key): amounts for key, amounts in _read(connection, kind, sorted(keys)).items()
        }
        for part in _chunks(sorted(keys)):
            connection.execute(delete(t.tally).where(c.kind == kind, c.key.in_(part)))
    for row, amounts in change.items():
        now = rows.setdefault(row, {})
        for what, amount in amounts.items():
            now[what] = now.get(what, 0.0) + amount
    _write(connection, rows)


def records_of_cases(connection: Connection, keys: Collection[str]) -> list[FaultRecord]:
    """The faults of the cases with these keys."""
    query = select(t.note.c.records).join(t.case, t.case.c.note_id == t.note.c.id)
    return [
        record
        for part in _chunks(sorted(keys))
        for (packed,) in connection.execute(query.where(t.case.c.number_key.in_(part)))
        for record in unpack_records(packed)
    ]


def read_tallies(connection: Connection, words: Collection[str] | None = None) -> Tallies:
    """What a question needs; of the word counts those of `words`, or all."""
    kinds: dict[str, dict[str, Amounts]] = defaultdict(dict)
    c = t.tally.c
    rows = connection.execute(
        select(c.kind, c.key, c.amounts).where(c.kind != "word").order_by(c.kind, c.key)
    )
    for kind, key, amounts in rows.cursor.fetchall():  # thousands of plain rows
        kinds[kind][key] = _decode(amounts)
    checks: dict[str, dict[str, Amounts]] = {}
    for key, amounts in kinds["check"].items():
        check, _, outcome = key.partition("=")
        checks.setdefault(check, {})[outcome] = amounts
    return Tallies(
        counts=Counts(
            faults=kinds["fault"],
            symptoms=kinds["symptom"],
            checks=checks,
            words=_read(connection, "word", None if words is None else sorted(words)),
            cases={
                cause: tuple(dict.fromkeys(dated.partition(" ")[2] for dated in reversed(dates)))
                for cause, dates in kinds["case"].items()
            },
        ),
        minutes=_numbers(kinds["minutes"]),
        made=kinds["made"],
        coming=kinds["coming"],
        durations=_numbers(kinds["duration"]),
        left=_numbers(kinds["left"]),
        damage=kinds["damage"],
        modified=kinds["modified"],
        visits=_numbers(kinds["visit"]).get("faults", {}),
    )


def _numbers(rows: Mapping[str, Amounts]) -> dict[str, dict[float, float]]:
    return {
        key: {float(what): amount for what, amount in amounts.items()}
        for key, amounts in rows.items()
    }


def _add(rows: Rows, record: FaultRecord, sign: float) -> None:
    weight = sign * record.weight
    for kind, key, what in amounts_of(record):
        row = rows[kind, key]
        row[what] = row.get(what, 0.0) + weight
    for kind, key, what in plain_amounts_of(record):
        row = rows[kind, key]
        row[what] = row.get(what, 0.0) + sign


def _without_zeros(amounts: Amounts) -> Amounts:
    return {what: amount for what, amount in amounts.items() if amount != 0.0}


def _read(
    connection: Connection, kind: str, keys: Collection[str] | None = None
) -> dict[str, Amounts]:
    c = t.tally.c
    query = select(c.key, c.amounts).where(c.kind == kind).order_by(c.key)
    queries = [query] if keys is None else [query.where(c.key.in_(p)) for p in _chunks(list(keys))]
    return {key: _decode(amounts) for q in queries for key, amounts in connection.execute(q)}


def _write(connection: Connection, rows: Rows) -> None:
    packed = [
        {"kind": kind, "key": key, "amounts": _encode(left)}
        for (kind, key), amounts in rows.items()
        if (left := _without_zeros(amounts))
    ]
    if packed:
        connection.execute(insert(t.tally), packed)


def _chunks(keys: list[str]) -> Iterator[list[str]]:
    for start in range(0, len(keys), _AT_ONCE):
        yield keys[start : start + _AT_ONCE]
