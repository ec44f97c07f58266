"""The tables of the bench page: what the ranking reads, counted over the published cases alone.

The page ranks in the browser. Whatever it could be asked for can be read out of its tables, so
they are counted from the cases as they are published and not taken from the index.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from kb.facts import records_of
from kb.faults import costs
from kb.faults.information import LEADING
from kb.faults.intervals import normal_quantile
from kb.faults.next_checks import LEAST_TOLD
from kb.faults.ranking import LEVEL
from kb.faults.strengths import Strengths
from kb.notes.case import Case
from kb.notes.vocabulary import NOT_SHOWING, Vocabulary
from kb.on_the_bench import FEW_FAULTS, MOSTLY, check_options
from kb.site import BenchTables
from kb.store.tallies import amounts_of, plain_amounts_of
from kb.text.recognise import Recognised
from kb.values import Counts, FaultRecord, Tallies

PROPOSED = 8
"""how many checks `next_checks` proposes besides those that must come first"""
_UNSAID = Recognised((), (), ())
Rows = dict[str, dict[str, dict[str, float]]]
"""kind -> key -> what -> how much"""


class Counted(Struct, frozen=True):
    """The faults of the published cases, and what the statistics read of them."""

    records: Sequence[FaultRecord]
    tallies: Tallies


def counted(published: Iterable[Case], words: Vocabulary) -> Counted:
    """Count these cases and no others."""
    records = [record for case in published for record in records_of(case, words, _UNSAID)]
    return Counted(records, tallies_of(records))


def bench_tables(published: Iterable[Case], words: Vocabulary, strengths: Strengths) -> BenchTables:
    """The tables of these cases; `strengths` are those fitted to the book."""
    return tables_of(counted(published, words), words, strengths)


def tables_of(found: Counted, words: Vocabulary, strengths: Strengths) -> BenchTables:
    """The same from cases that have been counted."""
    tallies = found.tallies
    counts = tallies.counts
    known = {
        *(f"{sort}:{symptom}" for symptom in counts.symptoms for sort in ("symptom", "absent")),
        *(f"check:{check}" for check in counts.checks),
    }
    return BenchTables(
        counts=counts,
        minutes={option.check: option.minutes for option in check_options(tallies, words, None)},
        made={family: tuple(checks) for family, checks in tallies.made.items()},
        coming={
            symptom: (row.get("some", 0.0), sum(row.values()))
            for symptom, row in tallies.coming.items()
        },
        levels={
            name: (level.theta, level.discount)
            for name, level in (
                ("book", strengths.book),
                ("kind", strengths.kind),
                ("line", strengths.line),
                ("family", strengths.family),
            )
        },
        weights={key: strengths.weight_of(key) for key in sorted(known)},
        spreads={key: strengths.spread_of(key) for key in sorted(known)},
        figures={
            "faults": sum(bool(record.cause) for record in found.records),
            "weight": strengths.weight,
            "symptom": strengths.symptom,
            "check": strengths.check,
            "level": LEVEL,
            "deviations": normal_quantile(LEVEL),
            "cover": costs.COVER_MINUTES,
            "wait": costs.WAIT_RATE,
            "least": costs.LEAST_MINUTES,
            "disturbs": costs.DISTURBS_FACTOR,
            "prove": costs.RUN_UNKNOWN,
            "told": LEAST_TOLD,
            "leading": LEADING,
            "proposed": PROPOSED,
            "few": FEW_FAULTS,
            "mostly": MOSTLY,
        },
    )


def tallies_of(records: Iterable[FaultRecord]) -> Tallies:
    """What the next checks read of these faults, as the index would keep it.

    A check that is hidden, or whose outcome is, was not made as far as anybody can see.
    """
    rows: Rows = {}
    for record in records:
        for kind, key, what in amounts_of(record):
            _add(rows, kind, key, what, record.weight)
        for kind, key, what in plain_amounts_of(record):
            _add(rows, kind, key, what, 1.0)
    checks: dict[str, dict[str, Mapping[str, float]]] = {}
    for key, row in sorted(rows.get("check", {}).items()):
        check, _, outcome = key.partition("=")
        if check and outcome and outcome != NOT_SHOWING:
            checks.setdefault(check, {})[outcome] = row
    return Tallies(
        counts=Counts(
            faults=_sorted(rows.get("fault", {})),
            symptoms=_sorted(rows.get("symptom", {})),
            checks={check: _sorted(outcomes) for check, outcomes in checks.items()},
            cases={
                cause: tuple(
                    dict.fromkeys(d.partition(" ")[2] for d in sorted(dated, reverse=True))
                )
                for cause, dated in sorted(rows.get("case", {}).items())
            },
        ),
        minutes={
            check: {float(what): n for what, n in row.items()}
            for check, row in rows.get("minutes", {}).items()
        },
        made=_sorted(rows.get("made", {})),
        coming=_sorted(rows.get("coming", {})),
    )


def _add(rows: Rows, kind: str, key: str, what: str, amount: float) -> None:
    row = rows.setdefault(kind, {}).setdefault(key, {})
    row[what] = row.get(what, 0.0) + amount


def _sorted(table: Mapping[str, Mapping[str, float]]) -> dict[str, dict[str, float]]:
    return {key: dict(sorted(row.items())) for key, row in sorted(table.items())}
