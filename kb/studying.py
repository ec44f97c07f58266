"""Which past faults can be studied, and what the book held before each of them.

Everything here is read from the cases as they are published: whatever the page of a studied case
counts, the reader can read out of its data.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from math import log

from msgspec import Struct

from kb.faults.strengths import Strengths
from kb.learning import lineage, symptom_parents
from kb.notes.case import Case, Fault
from kb.notes.vocabulary import NOT_SHOWING, Vocabulary
from kb.site import Study, StudyCase
from kb.values import Evidence, FaultRecord

LEAST_CHECKS = 2
"""with fewer there is nothing to choose between"""
LEAST_PAST = 20
"""a book that holds fewer faults has little to say: judgement, no source"""
MOST = 240
"""how many faults are studied at most"""
OF_EACH_THEME = 40
"""how many of each collection come before all others, if there are so many"""
CONSIDERED = 150
"""of each collection so many of the newest are looked at, and of the whole book `MOST`"""
COMES_AND_GOES, SEVERAL, EARLIER_REPAIR, LIKELIEST_WRONG = THEMES = (
    "comes-and-goes",
    "several-faults",
    "earlier-repair",
    "likeliest-wrong",
)


class _Told(Struct, frozen=True):
    """A fault that could be studied; `gained` is by how much its log probability rose."""

    case: Case
    place: int
    record: FaultRecord
    known: int
    themes: tuple[str, ...]
    gained: float = 0.0

    @property
    def fault(self) -> Fault:
        return self.case.faults[self.place]


def study(
    published: Iterable[Case],
    records: Iterable[FaultRecord],
    words: Vocabulary,
    strengths: Strengths,
) -> Study:
    """The finished faults in the order they were finished, and those worth studying.

    `records` are those of the cases' faults, one after the other as the cases come.

    Worth studying are faults of known cause with symptoms noted at the counter, two checks or
    more, and twenty faults before them; where there are many, those of each theme whose checks
    told the book most, and the newest others. `strengths` are those fitted to the book. The order
    of the cases does not matter.
    """
    each = ((case, place) for case in published for place in range(len(case.faults)))
    rows = [
        (_done(record), case.case, place, case, record)
        for (case, place), record in zip(each, records, strict=True)
        if case.finished
    ]
    rows.sort(key=lambda row: row[:3])
    past = tuple(row[4] for row in rows)
    days = [row[0] for row in rows]
    of_known_cause = [row[0] for row in rows if row[4].cause]
    told = []
    for _, _, place, case, record in rows:
        enough = bisect_left(of_known_cause, record.received) >= LEAST_PAST
        if enough and _can_be_told(case.faults[place], record):
            known = bisect_left(days, record.received)
            told.append(_Told(case, place, record, known, _themes(case, case.faults[place])))
    told.sort(key=lambda t: (t.record.received, t.case.case, t.place), reverse=True)
    asked = _asked(_considered(told), past, words, strengths)
    return Study(
        past,
        tuple(StudyCase(t.case.case, t.place, t.known, t.themes) for t in _chosen(asked)),
    )


def _done(record: FaultRecord) -> str:
    # No unit is finished before it came in; one whose note says so must not answer itself.
    return max(record.finished, record.received)


def _can_be_told(fault: Fault, record: FaultRecord) -> bool:
    return (
        bool(record.cause and fault.symptom)
        and len(fault.checks) >= LEAST_CHECKS
        and all(made.check and made.outcome for made in fault.checks)
    )


def _themes(case: Case, fault: Fault) -> tuple[str, ...]:
    """The themes that the note itself tells."""
    shy = fault.reproduced in ("sometimes", "no") or fault.every is not None
    shy = shy or any(made.outcome == NOT_SHOWING for made in fault.checks)
    holds = {
        COMES_AND_GOES: shy,
        SEVERAL: len(case.faults) > 1,
        EARLIER_REPAIR: fault.brought_on_by == "earlier-repair",
    }
    return tuple(theme for theme, held in holds.items() if held)


def _considered(told: Sequence[_Told]) -> list[_Told]:
    """The newest of all and of each theme, in their order."""
    chosen = {id(t) for t in told[:MOST]}
    for theme in THEMES:
        chosen.update(id(t) for t in [t for t in told if theme in t.themes][:CONSIDERED])
    return [t for t in told if id(t) in chosen]


def _asked(
    told: Sequence[_Told], past: Sequence[FaultRecord], words: Vocabulary, strengths: Strengths
) -> list[_Told]:
    """Each with what the book of its day said at the counter and after the last check."""
    if not told:
        return []
    from kb.faults.replay.past import Past  # NumPy: not for a book without such faults

    held = Past((r.cause for r in past if r.cause), lineage(words), symptom_parents(words))
    held.strengths = strengths
    learnt, found = 0, []
    for one in reversed(told):  # oldest first
        for record in past[learnt : one.known]:
            if record.cause:
                held.add(record)
        learnt = one.known
        fault, cause = one.fault, held.at[one.record.cause]
        start = held.ask(Evidence(family=one.case.family, symptoms=fault.symptom))
        end = held.ask(
            Evidence(
                family=one.case.family,
                symptoms=(*fault.symptom, *fault.seen),
                absent=fault.absent,
                checks=tuple((made.check, made.outcome) for made in fault.checks),
            )
        )
        came = cause if held.knows(one.record.cause) else len(held.causes)
        wrong = int(start[:-1].argmax()) != came
        themes = (*one.themes, *((LIKELIEST_WRONG,) if wrong else ()))
        gained = log(end[came]) - log(start[came])
        found.append(_Told(one.case, one.place, one.record, one.known, themes, round(gained, 9)))
    return found[::-1]


def _chosen(told: Sequence[_Told]) -> list[_Told]:
    """At most `MOST`, in their order."""
    if len(told) <= MOST:
        return list(told)
    # Sorting keeps the newest first among equals.
    best = sorted(told, key=lambda t: -t.gained)
    chosen = {
        id(t) for theme in THEMES for t in [t for t in best if theme in t.themes][:OF_EACH_THEME]
    }
    # All by what their checks told would leave hardly a case whose likeliest cause was right, and
    # so give every end away.
    others = [id(t) for t in told if id(t) not in chosen]
    chosen.update(others[: MOST - len(chosen)])
    return [t for t in told if id(t) in chosen]
