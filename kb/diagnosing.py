"""Diagnosis: the question in the book's terms, the counts, the ranking, and what to try next."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from kb import cautions
from kb.errors import QuestionError
from kb.faults.next_checks import Bench, next_checks
from kb.faults.proportions import quantile
from kb.faults.ranking import rank
from kb.faults.reasons import behind_it, changed_there, time_needed
from kb.faults.two_faults import share_of_visits, two_faults
from kb.indexing import Index
from kb.learning import experience_in
from kb.notes.vocabulary import ACCESS, NOT_SHOWING, Vocabulary
from kb.terms import require
from kb.text import Recogniser
from kb.values import CheckOption, Diagnosis, Evidence, LikelyCause, NextCheck, Tallies

FEW_MINUTES = 3
"""With fewer noted times than this a check takes what the vocabulary says."""
USUAL_MINUTES = 10.0
"""A check of which nobody ever noted a time."""
FEW_FAULTS = 2
"""With fewer past faults than this nothing is said about whether such a fault comes and goes."""
MOSTLY = 0.5
LONGEST_COMPLAINT = 2000


class Question(Struct, frozen=True):
    """A complaint and what is known so far.

    `checks` are (check, outcome) in their order; `modified` is what of the unit is not as it left
    the maker.
    """

    text: str = ""
    family: str | None = None
    symptoms: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    checks: tuple[tuple[str, str], ...] = ()
    access: str = "outside"
    modified: tuple[str, ...] = ()


def diagnose(
    index: Index, words: Vocabulary, recogniser: Recogniser, question: Question
) -> Diagnosis:
    """Rank the causes and propose checks. Raises QuestionError for terms that are not known."""
    _validate(question, words)
    named = recogniser(question.text)
    symptoms = tuple(dict.fromkeys((*question.symptoms, *named.keys)))
    absent = tuple(dict.fromkeys((*question.absent, *named.denied)))
    both = [s for s in question.absent if s in symptoms]
    if both:
        raise QuestionError(f"'{both[0]}' cannot be both there and absent")
    absent = tuple(s for s in absent if s not in symptoms)
    evidence = Evidence(question.family, symptoms, absent, question.checks, named.rest)
    with index.store.reading() as connection:
        experience, tallies = experience_in(connection, words, named.rest)
        ranking = rank(experience, evidence)
        first = _first_checks(symptoms, words)
        proposal = next_checks(
            experience,
            ranking,
            Bench(
                options=check_options(tallies, words, question.family, first),
                made=question.checks,
                first=first,
                allowed=question.access,
                intermittent=_is_intermittent(tallies, question, symptoms),
            ),
        )
    checks = tuple(_with_cautions(c, words, question.family) for c in proposal.checks)
    causes = tuple(_worded(c, words, question, tallies) for c in ranking.causes)
    two = two_faults(experience, evidence, share_of_visits(tallies.visits))
    return Diagnosis(
        causes=causes,
        unseen=ranking.unseen,
        level=ranking.level,
        next_checks=checks,
        danger=(danger := _danger(words, symptoms)),
        cautions=_cautions(checks, words, question.family, danger),
        recognised=named.keys,
        denied=named.denied,
        notes=(*ranking.notes, *proposal.notes),
        faults_known=round(sum(tallies.visits.values())),
        two_faults=two,
        time=time_needed({c.cause: c.probability for c in ranking.causes}, tallies.durations),
    )


def _worded(
    cause: LikelyCause, words: Vocabulary, question: Question, tallies: Tallies
) -> LikelyCause:
    """A cause with what the vocabulary says of it, and what should be thought of with it."""
    term = words.causes[cause.cause]
    behind = behind_it(cause.cause, tallies.damage)
    names = (term.label, *term.also)
    here = changed_there(cause.cause, names, question.modified)
    past = tallies.modified.get(cause.cause, {})
    there = changed_there(cause.cause, names, tuple(past))
    remarks = []
    if here:
        remarks.append(
            f"This unit is modified there ({', '.join(here)}): past cases of others may not hold."
        )
    if there:
        remarks.append(
            f"Of its past cases some were in units modified there ({', '.join(there)}, "
            f"{round(sum(past[m] for m in there))} of {len(cause.cases)})."
        )
    return replace(
        cause,
        label=term.label,
        confirm=term.confirm,
        cover=words.cover_of(cause.cause, question.family),
        behind=tuple(replace(b, label=words.causes[b.cause].label) for b in behind),
        remarks=tuple(remarks),
    )


def check_options(
    tallies: Tallies, words: Vocabulary, family: str | None, first: tuple[str, ...] = ()
) -> tuple[CheckOption, ...]:
    """The checks that can be made on a unit of this family, with the minutes they take here.

    A check that was only ever made on other kinds of unit is left out: nobody cleans the tape
    heads of a bass head.
    """
    usual = _checks_of_kind(tallies, words, family)
    options: list[CheckOption] = []
    for term in words.checks.values():
        if usual is not None and term.key not in usual and term.key not in first:
            continue
        noted = tallies.minutes.get(term.key, {})
        enough = sum(noted.values()) >= FEW_MINUTES or (noted and term.minutes is None)
        minutes = quantile(noted, 0.5) if enough else None
        access = words.access_needed(term.key, family)
        options.append(
            CheckOption(
                check=term.key,
                label=term.label,
                access=access,
                minutes=minutes or term.minutes or USUAL_MINUTES,
                wait=term.wait or 0.0,
                outcomes=term.outcomes,
                clears=term.clears,
                hazards=term.hazards,
                how=term.how or "",
                owner_ok=term.owner_ok and access == ACCESS[0],
                disturbs=term.disturbs,
                needs=term.needs,
            )
        )
    return tuple(options)


def _checks_of_kind(tallies: Tallies, words: Vocabulary, family: str | None) -> set[str] | None:
    """The checks that were ever made on this kind of unit; None if that says nothing yet."""
    kind = words.kind_of(family) if family else None
    if family is None:
        return None
    found = {
        check
        for other, checks in tallies.made.items()
        if other == family or (kind and words.kind_of(other) == kind)
        for check in checks
    }
    return found or None


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


def _first_checks(symptoms: tuple[str, ...], words: Vocabulary) -> tuple[str, ...]:
    """What the symptoms, or what they are kinds of, say must come before anything else."""
    found = (
        check
        for symptom in symptoms
        for key in words.symptom_ancestors(symptom)
        for check in words.symptoms[key].first
    )
    return tuple(dict.fromkeys(found))


def _is_intermittent(tallies: Tallies, question: Question, symptoms: tuple[str, ...]) -> bool:
    """Whether the fault comes and goes: a check found it not showing, or past ones mostly did."""
    if any(outcome == NOT_SHOWING for _, outcome in question.checks):
        return True
    rows = [tallies.coming.get(symptom, {}) for symptom in symptoms]
    some = sum(row.get("some", 0.0) for row in rows)
    told = some + sum(row.get("none", 0.0) for row in rows)
    return told >= FEW_FAULTS and some / told >= MOSTLY


def _hazards_inside(words: Vocabulary, family: str | None) -> tuple[str, ...]:
    """The hazards of a family; where none was noted, or no family is known, the worst."""
    return (words.hazards_of(family) if family else ()) or cautions.WORST


def _with_cautions(check: NextCheck, words: Vocabulary, family: str | None) -> NextCheck:
    hazards = check.hazards
    if check.access != ACCESS[0]:
        hazards = tuple(dict.fromkeys((*hazards, *_hazards_inside(words, family))))
    texts = (*check.cautions, *cautions.for_step(check.access, hazards))
    return replace(check, hazards=hazards, cautions=texts)


def _danger(words: Vocabulary, symptoms: tuple[str, ...]) -> tuple[str, ...]:
    """A sentence for each symptom that demands checks before anything else."""
    return tuple(
        f"{words.symptoms[s].label}: leave it off and unplugged until everything marked FIRST is "
        "done and has cleared it."
        for s in symptoms
        if _first_checks((s,), words)
    )


def _cautions(
    checks: tuple[NextCheck, ...], words: Vocabulary, family: str | None, danger: tuple[str, ...]
) -> tuple[str, ...]:
    """What to read before anything is tried: danger first, then the texts of the steps, once."""
    most = max((c.access for c in checks), key=ACCESS.index, default=ACCESS[0])
    closed = (cautions.KEEP_CLOSED,) if most == ACCESS[0] else ()
    steps = dict.fromkeys(
        text
        for check in checks
        for text in cautions.for_step(check.access, check.hazards)
        if text != cautions.LOCAL_CODES
    )
    items = words.items_of(family) if family else frozenset()
    topics = cautions.topics_for(most, items, _hazards_inside(words, family))
    start = danger or (cautions.ASK_DANGER,)
    return (*start, *closed, *steps, *topics, cautions.LOCAL_CODES)
