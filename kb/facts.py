"""From a case to what the statistics keep of its faults."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

import msgspec

from kb.notes.case import Case, CheckMade, Fault
from kb.notes.vocabulary import NOT_SHOWING, Vocabulary
from kb.text.recognise import Recognised
from kb.values import ASSUMED_WEIGHT, FaultRecord


def records_of(case: Case, words: Vocabulary, named: Recognised) -> tuple[FaultRecord, ...]:
    """One record for each fault of the case; `named` is what its complaint was understood as."""
    return tuple(_record(case, fault, words, named) for fault in case.faults)


def digest_of(records: Iterable[FaultRecord]) -> bytes:
    """What tells these faults from others that would have the ranking fitted differently."""
    content = [
        (
            r.case,
            r.family,
            r.cause,
            sorted(r.symptoms),
            r.checks,
            sorted(r.words),
            sorted(r.absent),
            r.at_intake,
            r.weight,
            r.at_counter,
        )
        for r in records
        if r.cause
    ]
    return hashlib.blake2b(msgspec.msgpack.encode(content), digest_size=8).digest()


def _record(case: Case, fault: Fault, words: Vocabulary, named: Recognised) -> FaultRecord:
    noted = (*fault.symptom, *fault.seen)
    # The complaint of a visit with several faults tells of all of them, so it names none's.
    heard = named.keys if len(case.faults) == 1 else ()
    return FaultRecord(
        case=case.case,
        family=case.family,
        cause=fault.root_cause or "" if case.finished else "",
        symptoms=frozenset(a for s in noted for a in words.symptom_ancestors(s)),
        checks=_last_outcomes(fault.checks),
        words=frozenset(named.rest),
        absent=frozenset(fault.absent),
        weight=ASSUMED_WEIGHT if fault.confirmed_by == "assumed" else 1.0,
        at_counter=fault.symptom or heard,
        denied=named.denied,
        received=case.received.isoformat(),
        finished=case.finished.isoformat() if case.finished else "",
        minutes=fault.minutes,
        times=tuple((c.check, c.minutes) for c in fault.checks if c.minutes is not None),
        coming_and_going=_coming_and_going(fault),
        took_with_it=fault.took_with_it,
        modified=case.modified,
        faults=len(case.faults),
    )


def _last_outcomes(made: Sequence[CheckMade]) -> tuple[tuple[str, str], ...]:
    """(check, outcome) in their order; of a check made again its last telling outcome."""
    last = {c.check: i for i, c in enumerate(made) if c.outcome != NOT_SHOWING}
    return tuple((made[i].check, made[i].outcome) for i in sorted(last.values()))


def _coming_and_going(fault: Fault) -> bool | None:
    if fault.every is not None:
        return True
    return None if fault.reproduced is None else fault.reproduced != "yes"
