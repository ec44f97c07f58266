"""Diagnosis: the question in the book's terms, the counts, the ranking, and what to try next."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from kb.diagnosis_words import (
    cautions_of,
    danger_of,
    with_cautions,
    worded_cause,
    worded_plan,
    worded_stop,
)
from kb.errors import QuestionError
from kb.faults.next_checks import next_checks
from kb.faults.ranking import rank
from kb.faults.reasons import time_needed
from kb.faults.stopping import sentences
from kb.faults.two_faults import share_of_visits, two_faults
from kb.indexing import Index
from kb.learning import experience_in, lineage
from kb.notes.vocabulary import ACCESS, NOT_SHOWING, Vocabulary
from kb.on_the_bench import bench_for
from kb.store.database import Connection
from kb.terms import require
from kb.text import Recogniser
from kb.values import Diagnosis, Evidence, UsualOrder

LONGEST_COMPLAINT = 2000


class Question(Struct, frozen=True):
    """A complaint and what is known so far.

    `checks` are (check, outcome) in their order; `modified` is what of the unit is not as it left
    the maker; `readings` are as typed, `first-filter=291 V @ 221 V, idle`. `plan` asks for a
    sequence of checks too.
    """

    text: str = ""
    family: str | None = None
    symptoms: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    checks: tuple[tuple[str, str], ...] = ()
    access: str = "outside"
    modified: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()
    plan: bool = False


def diagnose(
    index: Index, words: Vocabulary, recogniser: Recogniser, question: Question, mains: float
) -> Diagnosis:
    """Rank the causes and propose checks; `mains` is the book's nominal voltage in V.

    Raises QuestionError for terms that are not known and readings that are none.
    """
    _validate(question, words)
    named = recogniser(question.text)
    symptoms = tuple(dict.fromkeys((*question.symptoms, *named.keys)))
    absent = tuple(dict.fromkeys((*question.absent, *named.denied)))
    both = [s for s in question.absent if s in symptoms]
    if both:
        raise QuestionError(f"'{both[0]}' cannot be both there and absent")
    absent = tuple(s for s in absent if s not in symptoms)
    with index.store.reading() as connection:
        experience, tallies = experience_in(connection, words, named.rest)
        told = _readings(connection, words, question, mains)
        usual = _usual(connection, words, question, symptoms) if question.plan else None
    experience = replace(
        experience,
        counts=replace(experience.counts, checks={**experience.counts.checks, **told.counts}),
    )
    made = (*question.checks, *told.checks)
    evidence = Evidence(question.family, symptoms, absent, made, named.rest)
    ranking = rank(experience, evidence)
    bench = bench_for(
        tallies, words, question.family, symptoms, question.checks, question.access, usual
    )
    proposal = next_checks(experience, ranking, bench)
    plan = None
    if question.plan:
        from kb.faults.planning import plan as make_plan  # NumPy, only where it is asked for

        plan = worded_plan(make_plan(experience, ranking, bench), words)
    checks = tuple(with_cautions(c, words, question.family) for c in proposal.checks)
    stop = worded_stop(proposal.stop, words) if proposal.stop else None
    danger = danger_of(words, symptoms)
    return Diagnosis(
        causes=tuple(
            worded_cause(c, words, tallies, question.family, question.modified)
            for c in ranking.causes
        ),
        unseen=ranking.unseen,
        level=ranking.level,
        next_checks=checks,
        danger=danger,
        cautions=cautions_of(
            (*checks, *(plan.steps if plan else ())), words, question.family, danger
        ),
        recognised=named.keys,
        denied=named.denied,
        notes=(*told.notes, *ranking.notes, *proposal.notes),
        faults_known=round(sum(tallies.visits.values())),
        two_faults=two_faults(experience, evidence, share_of_visits(tallies.visits)),
        time=time_needed({c.cause: c.probability for c in ranking.causes}, tallies.durations),
        stop=stop,
        advice=sentences(stop, question.access) if stop else (),
        further=proposal.further,
        plan=plan,
        plan_advice=sentences(plan.stop, question.access, len(plan.steps)) if plan else (),
    )


class _Told(Struct, frozen=True):
    """What readings say: (check, outcome) pairs, the counts behind them, and sentences."""

    checks: tuple[tuple[str, str], ...] = ()
    counts: dict[str, dict[str, dict[str, float]]] = {}
    notes: tuple[str, ...] = ()


def _readings(connection: Connection, words: Vocabulary, question: Question, mains: float) -> _Told:
    """Readings of the unit as checks that came out low, usual or high."""
    if not question.readings:
        return _Told()
    if question.family is None:
        raise QuestionError(
            "a reading can only be held against others of its family", "name one with --family F"
        )
    from kb.measuring import measured, placed  # not every question holds one

    known = measured(connection, words, mains)
    checks: list[tuple[str, str]] = []
    notes: list[str] = []
    for text in question.readings:
        found = placed(known, question.family, text, mains)
        if found.judged is None:
            notes.append(f"The reading “{text}” was not counted: {found.why}.")
        else:
            checks.append((found.check, found.judged.outcome))
            notes.append(f"The reading “{text}” is {found.judged.outcome} for this family.")
    counts = {check: known.told[check] for check, _ in checks if check in known.told}
    return _Told(
        tuple(checks),
        {c: {o: dict(row) for o, row in rows.items()} for c, rows in counts.items()},
        tuple(notes),
    )


def _usual(
    connection: Connection, words: Vocabulary, question: Question, symptoms: tuple[str, ...]
) -> UsualOrder | None:
    """The order in which this shop usually makes its checks on such a fault."""
    from kb.faults.habit import usual_order
    from kb.store import reading

    records = [r for each in reading.fault_records(connection).values() for r in each]
    return usual_order(records, symptoms, question.family, lineage(words))


def _validate(question: Question, words: Vocabulary) -> None:
    if len(question.text) > LONGEST_COMPLAINT:
        raise QuestionError(
            f"the complaint has {len(question.text)} characters, more than {LONGEST_COMPLAINT}",
            "give the sentences that describe the fault",
        )
    if question.family is not None:
        require("family", question.family, words.families)
    for symptom in (*question.symptoms, *question.absent):
        require("symptom", symptom, words.symptoms)
    for check, outcome in question.checks:
        require("check", check, words.checks)
        possible = words.checks[check].outcomes
        if possible and outcome not in (*possible, NOT_SHOWING):
            can = ", ".join((*possible, NOT_SHOWING))
            raise QuestionError(
                f"the check '{check}' cannot come out as '{outcome}'", f"it can be: {can}"
            )
    if question.access not in ACCESS:
        raise QuestionError(f"unknown access '{question.access}'", f"it is {', '.join(ACCESS)}")
