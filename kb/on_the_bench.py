"""The unit on the bench: which checks can be made on it, what they take here, what comes first."""

from __future__ import annotations

from kb.faults.bench import Bench
from kb.faults.proportions import quantile
from kb.faults.trying import Durations, Trying, proving_run, trying_minutes
from kb.notes.vocabulary import ACCESS, NOT_SHOWING, Vocabulary
from kb.values import CheckOption, Tallies, UsualOrder

FEW_MINUTES = 3
"""With fewer noted times than this a check takes what the vocabulary says."""
USUAL_MINUTES = 10.0
"""A check of which nobody ever noted a time."""
FEW_FAULTS = 2
"""With fewer past faults than this nothing is said about whether such a fault comes and goes."""
MOSTLY = 0.5


def bench_for(
    tallies: Tallies,
    words: Vocabulary,
    family: str | None,
    symptoms: tuple[str, ...],
    made: tuple[tuple[str, str], ...],
    allowed: str,
    usual: UsualOrder | None = None,
) -> Bench:
    """The bench with a unit that shows these symptoms; `made` are the (check, outcome) so far."""
    first = first_checks(symptoms, words)
    return Bench(
        options=check_options(tallies, words, family, first),
        made=made,
        first=first,
        allowed=allowed,
        intermittent=_is_intermittent(tallies, made, symptoms),
        trying=_trying(tallies, words, family),
        usual=usual,
        prove=proving_run(None, None),
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


def _trying(tallies: Tallies, words: Vocabulary, family: str | None) -> Trying:
    """What putting each cause right takes here."""
    whole: dict[float, float] = {}
    for row in tallies.durations.values():
        for minutes, faults in row.items():
            whole[minutes] = whole.get(minutes, 0.0) + faults
    behind = frozenset(c for c in words.causes if words.cover_of(c, family))
    return trying_minutes(Durations(left=tallies.left, whole=whole), behind)


def first_checks(symptoms: tuple[str, ...], words: Vocabulary) -> tuple[str, ...]:
    """What the symptoms, or what they are kinds of, say must come before anything else."""
    found = (
        check
        for symptom in symptoms
        for key in words.symptom_ancestors(symptom)
        for check in words.symptoms[key].first
    )
    return tuple(dict.fromkeys(found))


def _is_intermittent(
    tallies: Tallies, made: tuple[tuple[str, str], ...], symptoms: tuple[str, ...]
) -> bool:
    """Whether the fault comes and goes: a check found it not showing, or past ones mostly did."""
    if any(outcome == NOT_SHOWING for _, outcome in made):
        return True
    rows = [tallies.coming.get(symptom, {}) for symptom in symptoms]
    some = sum(row.get("some", 0.0) for row in rows)
    told = some + sum(row.get("none", 0.0) for row in rows)
    return told >= FEW_FAULTS and some / told >= MOSTLY
