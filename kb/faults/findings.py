"""From what is known of a unit to the pieces of evidence that count, in one fixed order."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from math import log, sqrt

from msgspec import Struct

from kb.faults.experience import Experience
from kb.faults.likelihood import Rates
from kb.notes.vocabulary import NOT_SHOWING
from kb.values import Evidence


class Finding(Struct, frozen=True):
    """One piece of evidence; only `text` has several rates, one for each word.

    The words of one complaint go together: n of them count like the square root of n words that
    do not.
    """

    key: str
    rates: tuple[Rates, ...]

    @property
    def share(self) -> float:
        """How much each of the rates counts."""
        return 1.0 / sqrt(len(self.rates))

    def log_likelihoods(self, causes: Collection[str], power: float) -> list[float]:
        """log P(evidence | cause) for each cause, and for the unseen at the end.

        `power` is the common weight, see `Rates.of_unseen`.
        """
        each = [
            [log(mean) for mean in (*rates.means(causes), rates.of_unseen(power))]
            for rates in self.rates
        ]
        return [self.share * sum(column) for column in zip(*each, strict=True)]


class Findings(Struct, frozen=True):
    """The pieces of evidence that count, and sentences about those that don't."""

    pieces: tuple[Finding, ...]
    notes: tuple[str, ...] = ()


def read_evidence(experience: Experience, evidence: Evidence) -> Findings:
    """Symptoms, absences, checks and text as findings, whatever order they were given in.

    Of a symptom and its ancestor only the more specific counts (of absences the more general,
    which implies the other). A check made again counts once; if its outcomes differ, the last.
    What nobody has seen before is no evidence, and is said.
    """
    notes: list[str] = []
    pieces = [
        *_symptoms(experience, evidence, notes),
        *_absences(experience, evidence, notes),
        *_checks(experience, evidence, notes),
        *_text(experience, evidence),
    ]
    return Findings(pieces=tuple(pieces), notes=tuple(notes))


def check_finding(experience: Experience, check: str, outcome: str) -> Finding | None:
    """The finding of one check; None if it is no evidence."""
    rates = experience.check_rates(check).get(outcome)
    return Finding(f"check:{check}={outcome}", (rates,)) if rates else None


def counted_symptoms(
    symptoms: Iterable[str], known: Callable[[str], bool], above: Callable[[str], Sequence[str]]
) -> tuple[str, ...]:
    """The symptoms that count: nearest that somebody noted, without what those are kinds of.

    `above` gives what a symptom is a kind of, nearest first, `known` whether anybody noted it.
    """
    lines = ((symptom, *above(symptom)) for symptom in symptoms)
    present = {found for line in lines if (found := next(filter(known, line), None)) is not None}
    implied = {a for symptom in present for a in above(symptom)}
    return tuple(sorted(present - implied))


def counted_absences(
    absent: Collection[str], known: Callable[[str], bool], above: Callable[[str], Sequence[str]]
) -> tuple[str, ...]:
    """The absences that count: those somebody noted, without what another of them implies."""
    telling = {symptom for symptom in absent if known(symptom)}
    return tuple(sorted(s for s in telling if telling.isdisjoint(above(s))))


def _symptoms(experience: Experience, evidence: Evidence, notes: list[str]) -> list[Finding]:
    for symptom in sorted(set(evidence.symptoms)):
        line = (symptom, *experience.ancestors(symptom))
        known = next((s for s in line if experience.knows_symptom(s)), None)
        if known is None:
            notes.append(f"No past fault was noted with “{symptom}”: it was not counted.")
        elif known != symptom:
            notes.append(f"No past fault was noted with “{symptom}”: counted as “{known}”.")
    counted = counted_symptoms(evidence.symptoms, experience.knows_symptom, experience.ancestors)
    return [Finding(f"symptom:{s}", (experience.symptom_rates(s),)) for s in counted]


def _absences(experience: Experience, evidence: Evidence, notes: list[str]) -> list[Finding]:
    there = {a for s in evidence.symptoms for a in (s, *experience.ancestors(s))}
    absent: set[str] = set()
    for symptom in sorted(set(evidence.absent)):
        if symptom in there:
            notes.append(
                f"“{symptom}” is there and can't be absent too: its absence was not counted."
            )
        elif experience.knows_symptom(symptom):
            absent.add(symptom)
        else:
            notes.append(f"No past fault was noted with “{symptom}”: its absence was not counted.")
    counted = counted_absences(absent, experience.knows_symptom, experience.ancestors)
    return [Finding(f"absent:{s}", (experience.symptom_rates(s).turned(),)) for s in counted]


def _checks(experience: Experience, evidence: Evidence, notes: list[str]) -> list[Finding]:
    last: dict[str, str] = {}
    for check, outcome in evidence.checks:
        if outcome == NOT_SHOWING:
            continue
        if last.get(check, outcome) != outcome:
            notes.append(f"“{check}” was made again: its later outcome “{outcome}” counts.")
        last[check] = outcome
    findings: list[Finding] = []
    for check, outcome in sorted(last.items()):
        finding = check_finding(experience, check, outcome)
        if finding:
            findings.append(finding)
        else:
            notes.append(
                f"In no past fault did “{check}” come out as “{outcome}”: it was not counted."
            )
    return findings


def _text(experience: Experience, evidence: Evidence) -> list[Finding]:
    rates = [experience.word_rates(word) for word in sorted(set(evidence.words))]
    known = tuple(r for r in rates if r)
    return [Finding("text", known)] if known else []
