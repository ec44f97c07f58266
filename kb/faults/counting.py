"""From finished faults to the counts that the ranking reads."""

from __future__ import annotations

from collections.abc import Iterable

from kb.values import Counts, FaultRecord


def counts_of(records: Iterable[FaultRecord]) -> Counts:
    """Count these faults, each with its weight. Under each cause the last case comes first."""
    faults: dict[str, dict[str, float]] = {}
    symptoms: dict[str, dict[str, float]] = {}
    checks: dict[str, dict[str, dict[str, float]]] = {}
    words: dict[str, dict[str, float]] = {}
    cases: dict[str, dict[str, None]] = {}
    for record in records:
        rows = [faults.setdefault(record.family, {})]
        rows += [symptoms.setdefault(s, {}) for s in record.symptoms]
        rows += [checks.setdefault(c, {}).setdefault(o, {}) for c, o in set(record.checks)]
        rows += [words.setdefault(w, {}) for w in record.words]
        for row in rows:
            row[record.cause] = row.get(record.cause, 0.0) + record.weight
        cases.setdefault(record.cause, {})[record.case] = None
    return Counts(
        faults=faults,
        symptoms=symptoms,
        checks=checks,
        words=words,
        cases={cause: tuple(reversed(numbers)) for cause, numbers in cases.items()},
    )
